"""Structure numbers: as owners write them, how others may write them, and their natural order.

The structure list has a number as its owner writes it (0045, 12-3, T-45A, END), and so it is shown and kept.
Whatever else names a structure is held against the list tolerantly (`linemap.domain.design.naming`):
separators, leading zeros, case and the word for a structure say nothing, unless two listed numbers differ in
nothing else.

A letter written straight after the number names an inserted structure (12/3A); a letter after a space or
a dash names a pole of the structure (12/3 A). The numbering by line mile is the one used in United States
federal notices ("16/3 = third structure in line mile 16").
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

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

    def __str__(self) -> str:
        """Print the number in one spelling: mile/sequence and what was inserted."""
        inserted = f".{self.inserted}" if self.inserted.isdigit() else self.inserted
        tail = f"{self.sequence}{inserted}"
        return tail if self.mile is None else f"{self.mile}/{tail}"


def slug_of(number: str) -> str:
    """Return a form of a number that is fit for file names: 12/3A becomes "12-3A".

    >>> slug_of("12/3A"), slug_of("0045"), slug_of("Bay 2")
    ('12-3A', '0045', 'Bay-2')
    """
    return re.sub(r"[^\w.]+", "-", number)


def number_key(text: str) -> tuple[int, int, int, str]:
    """Return a sort key for any text: numbers in natural order first, other texts after them.

    >>> sorted(["10/1", "T-10", "9/6", "12/3A", "T-9", "12/3", "bay"], key=number_key)
    ['9/6', '10/1', '12/3', '12/3A', 'bay', 'T-9', 'T-10']
    """
    try:
        return (0, *StructureNumber.parse(text).key)
    except ValueError:
        return (1, 0, 0, _DIGITS.sub(lambda digits: digits[0].zfill(_LONGEST), text.casefold()))


def same_number(text: str) -> str:
    """Return the one spelling of a structure number; other texts only lose their outer blanks.

    >>> same_number(" 09-6 "), same_number("Bay  2")
    ('9/6', 'Bay 2')
    """
    if in_one_spelling(text):
        return text
    try:
        return str(StructureNumber.parse(text))
    except ValueError:
        return " ".join(text.split())


_DIGITS = re.compile(r"\d+")
#: No run of digits in a number is longer.
_LONGEST = 12
#: Words for a structure in front of its number.
_WORDS = re.compile(r"^(?:STR(?:UCTURE|UCT)?|TOWER|TWR|NO)(?![A-Z])[\s.:#\-]*|^\#\s*", re.IGNORECASE)
_ONE_SPELLING = re.compile(
    r"(?:(?:0|[1-9]\d{0,4})/)?(?:0|[1-9]\d{0,5})(?:[A-Z]{1,2}|\.(?!0{1,2}$)\d{1,2})?", re.ASCII
)
_SERIES = re.compile(r"^S[\s\-]*(?=\d)")
_DASHES = re.compile(r"\s*[\\/_\u2010-\u2015\-]\s*")


def spelled(text: str) -> str:
    """Return a number as it is written, without the word for a structure and what a spreadsheet adds.

    >>> spelled(" STR  12-03 "), spelled("No. T-45A"), spelled("45.0")
    ('12-03', 'T-45A', '45')
    """
    bare = " ".join(text.split())
    while (left := _WORDS.sub("", bare)) and left != bare:
        bare = left
    whole, dot, zeros = bare.partition(".")
    return whole if dot and whole.isdigit() and zeros in {"0", "00"} else bare


def in_one_spelling(number: str) -> bool:
    """Say whether a number is written as `same_number` writes it; texts that are no number are not.

    >>> [in_one_spelling(text) for text in ("12/3", "12/3A", "45", "12-3", "045", "END", "3.0")]
    [True, True, True, False, False, False, False]
    """
    return _ONE_SPELLING.fullmatch(number) is not None


def number_form(text: str) -> str:
    """Return what two ways of writing one number have in common.

    >>> [number_form(text) for text in ("str 12-03", "0045", "t 45a", "T-045A", "DE1", "T-45 A", "end")]
    ['12/3', '45', 'T45A', 'T45A', 'DE1', 'T45 A', 'END']
    """
    if in_one_spelling(text):
        return text
    bare = _SERIES.sub("", _DASHES.sub("-", spelled(text)).upper())
    try:
        return str(StructureNumber.parse(bare))
    except ValueError:
        plain = re.sub(r"(?<=\d)-(?=\d)", "/", bare)
        plain = re.sub(r"(?<=[A-Z])[\s.#\-]+(?=\d)", "", plain)
        return _DIGITS.sub(lambda digits: digits[0].lstrip("0") or "0", plain.replace("-", " "))


class Run(NamedTuple):
    """Letters or digits of a text that stand together, and what stands between them and the run before."""

    text: str
    gap: str

    @property
    def bare(self) -> str:
        """The run without leading zeros."""
        return self.text.lstrip("0") or "0" if self.text.isdigit() else self.text


_RUNS = re.compile(r"[A-Z]+|[0-9]+|(?<=[0-9])['\"]|#")


def runs_of(text: str) -> list[Run]:
    """Take an upper-case text apart into its letters, its digits, and the signs of feet, inches and numbers.

    Of two letters against digits the second may name a pole: then they are two runs.

    >>> [tuple(run) for run in runs_of("T-45A, 2'")]
    [('T', ''), ('45', '-'), ('A', ''), ('2', ', '), ("'", '')]
    >>> [run.text for run in runs_of("12/3AB")]
    ['12', '3', 'A', 'B']
    """
    found: list[Run] = []
    end = 0
    for match in _RUNS.finditer(text):
        start, last = match.span()
        word = text[start:last]
        if last - start == 2 and start == end and word[1] in "ABC" and found and found[-1].text.isdigit():
            found += (Run(word[0], ""), Run(word[1], ""))
        else:
            found.append(Run(word, text[end:start]))
        end = last
    return found
