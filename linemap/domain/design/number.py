"""Structure numbers: mile/number and plain sequence, in the order they stand along a line; letters of poles.

A letter written straight after the number names an inserted structure (12/3A); a letter after a space or
a dash names a pole of the structure (12/3 A). The numbering by line mile is the one used in United States
federal notices ("16/3 = third structure in line mile 16").
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_NUMBER = re.compile(
    r"""^\s*(?:STR(?:UCTURE)?\.?\s*|S(?=\d))?
        (?:(?P<mile>\d{1,5})\s*[/\-]\s*)?
        (?P<sequence>\d{1,6})(?:\.0{1,2}|\.(?P<decimal>\d{1,2})|(?P<letter>[A-Za-z]{1,2}))?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureNumber:
    """A structure number taken apart: line mile (or None), sequence, inserted letter or decimal."""

    #: Line mile (or kilometre) in front of the slash; None for plain sequences.
    mile: int | None
    #: Number within the mile, or along the whole line.
    sequence: int
    #: What marks an inserted structure: "A" in 12/3A, "5" in 12/3.5, "" otherwise.
    inserted: str = ""

    @classmethod
    def parse(cls, text: str) -> StructureNumber:
        """Read a structure number as people write it.

        For example "9/6", "10-1", "STR 12/3A", "12/3.5", "47". The ".0" that a spreadsheet adds to a whole
        number is no insertion.

        Raises
        ------
        ValueError
            If the text is no structure number.

        >>> StructureNumber.parse("12/3A")
        StructureNumber(mile=12, sequence=3, inserted='A')
        >>> str(StructureNumber.parse("str 9-06"))
        '9/6'
        """
        match = _NUMBER.match(text)
        if match is None:
            raise ValueError(f"{text!r} is no structure number; write it like 9/6, 12/3A or 47")
        mile = match["mile"]
        return cls(
            mile=None if mile is None else int(mile),
            sequence=int(match["sequence"]),
            inserted=(match["decimal"] or match["letter"] or "").upper(),
        )

    @property
    def key(self) -> tuple[int, int, str]:
        """Natural order: 9/6 before 10/1, 12/3 before 12/3A before 12/4.

        >>> StructureNumber.parse("9/6").key < StructureNumber.parse("10/1").key
        True
        """
        return (-1 if self.mile is None else self.mile, self.sequence, self.inserted)

    @property
    def slug(self) -> str:
        """A form fit for file names: 12/3A becomes "12-3A".

        >>> StructureNumber.parse("12/3A").slug
        '12-3A'
        """
        return str(self).replace("/", "-")

    def __str__(self) -> str:
        """Print the number in one spelling: mile/sequence and what was inserted."""
        inserted = f".{self.inserted}" if self.inserted.isdigit() else self.inserted
        tail = f"{self.sequence}{inserted}"
        return tail if self.mile is None else f"{self.mile}/{tail}"


def number_key(text: str) -> tuple[int, int, int, str]:
    """Return a sort key for any text: numbers in natural order first, other texts after them.

    >>> sorted(["10/1", "9/6", "12/3A", "12/3", "bay"], key=number_key)
    ['9/6', '10/1', '12/3', '12/3A', 'bay']
    """
    try:
        return (0, *StructureNumber.parse(text).key)
    except ValueError:
        return (1, 0, 0, text.casefold())


def same_number(text: str) -> str:
    """Return the one spelling of a structure number; other texts only lose their outer blanks.

    >>> same_number(" 09-6 "), same_number("Bay  2")
    ('9/6', 'Bay 2')
    """
    try:
        return str(StructureNumber.parse(text))
    except ValueError:
        return " ".join(text.split())


_POSITIONS = {"1": "A", "2": "B", "3": "C", "L": "A"}
_WHOLE = {"BOTH": "AB", "A/B": "AB", "ALL": "ABC"}


def parse_letters(text: str) -> str:
    """Read which poles a text is about; "" when it names none.

    Left and first pole are A; the right one is the last, which only the structure tells, so "R" is
    not read.

    >>> [parse_letters(text) for text in ("pole b", "A,B", "both", "2", "R", "A/B same")]
    ['B', 'AB', 'AB', 'B', '', 'AB']
    """
    word = re.sub(r"\bPOLES?\b|\bSAME\b|\(SAME\)", "", text.upper()).strip()
    if word in _WHOLE:
        return _WHOLE[word]
    letters = re.sub(r"[\s,;&+/]+|\bAND\b", "", word)
    if letters in _POSITIONS:
        return _POSITIONS[letters]
    return letters if letters in {"A", "B", "C", "AB", "AC", "BC", "ABC"} else ""


def single_pole(text: str) -> str:
    """Read one pole, "A", "B" or "C"; `ValueError` for anything else."""
    letters = parse_letters(text)
    if len(letters) != 1:
        raise ValueError("no single pole A, B or C")
    return letters
