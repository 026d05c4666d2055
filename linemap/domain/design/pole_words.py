"""Letters of poles, and the words an owner has for them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from linemap.domain.finding.phrase import BY_LETTER, Called

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


#: Words for one side, the one that is printed first; opposite sides of a structure stand together.
_SIDES = (
    (("L", "LT", "LEFT"), ("R", "RT", "RIGHT")),
    (("N", "NORTH"), ("S", "SOUTH")),
    (("E", "EAST"), ("W", "WEST")),
    (("AHEAD", "AH", "AHD"), ("BACK", "BK")),
)
_MIDDLE = ("M", "MID", "MIDDLE", "C", "CTR", "CENTER", "CENTRE")
_BETWEEN_WORDS = re.compile(r"[\s,;&+/]+|\bAND\b")
_NOT_POLES = "no words for poles; write those of A and B (and of C, or of all three) like L/R, 1/2/3 or N/S"


@dataclass(frozen=True, slots=True, kw_only=True)
class PoleWords:
    """What an owner calls the poles of a structure, in the order of A, B and C."""

    two: tuple[str, ...] = ("A", "B")
    three: tuple[str, ...] = ("A", "B", "C")

    @classmethod
    def parse(cls, text: str) -> PoleWords:
        """Read two or three words in the order of A, B, C; the words of opposite sides leave a middle one.

        Raises
        ------
        ValueError
            If they are no words for poles.

        >>> PoleWords.parse("l/r").three, PoleWords.parse("L/C/R").two, PoleWords.parse("1/2").three
        (('L', 'M', 'R'), ('L', 'R'), ('1', '2', '3'))
        """
        words = tuple(word for word in _BETWEEN_WORDS.split(text.upper()) if word) or cls().two
        if len(set(words)) != len(words) or len(words) not in {2, 3}:
            raise ValueError(_NOT_POLES)
        if not all(re.fullmatch(r"[A-Z]{1,8}|\d", word) for word in words):
            raise ValueError(_NOT_POLES)
        if "A" in words[1:] or "B" in (words[0], *words[2:]):
            raise ValueError("A and B stay understood as they are; call no other pole A or B")
        if _opposite(words[0], words[-1]):
            return cls(two=(words[0], words[-1]), three=words if words[2:] else (words[0], "M", words[1]))
        third = chr(ord(max(words)[0]) + 1) if all(len(word) == 1 for word in words) else "C"
        return cls(two=words[:2], three=words if words[2:] else (*words, third))

    @property
    def is_plain(self) -> bool:
        """True when they are A, B and C."""
        return self.three == PoleWords().three

    def called(self, count: int = 2) -> Called:
        """Return what the poles of a structure of so many are called, by their letters.

        A third one at a structure of two keeps its letter where its word is that of another.

        >>> words = PoleWords.parse("L/R")
        >>> [[*words.called(count).values()] for count in (2, 3)]
        [['', 'L', 'R', 'C'], ['', 'L', 'M', 'R']]
        """
        words = self.three
        if count < 3:
            words = (*self.two, "C" if self.three[2] in self.two else self.three[2])
        return dict(zip(BY_LETTER, ("", *words), strict=True))

    def choice(self, count: int = 2) -> str:
        """Return the words a cell may name a pole of a structure of so many by.

        >>> PoleWords().choice(), PoleWords.parse("L/R").choice()
        ('A, B or C', 'L or R')
        """
        words = self.three if count > 2 or self.is_plain else self.two
        return f"{', '.join(words[:-1])} or {words[-1]}"

    def letters(self, text: str, count: int = 2) -> str:
        """Read which poles of a structure of so many a text names; A, B and C are always understood.

        >>> words = PoleWords.parse("L/R")
        >>> [words.letters(text, 3) for text in ("Rt.", "pole L", "L & R", "M", "A,B", "both", "x")]
        ['C', 'A', 'AC', 'B', 'AB', 'AB', '']
        """
        if not self.is_plain:
            bare = re.sub(r"\b(?:POLES?|LEGS?)\b|\.", "", text.upper())
            known = self.known(count)
            found = [known.get(word, "") for word in _BETWEEN_WORDS.split(bare) if word]
            if found and all(found):
                return "".join(sorted(set(found)))
        return parse_letters(text)

    def known(self, count: int) -> dict[str, str]:
        """Return every word by which a pole of a structure of so many is known -> its letter."""
        own = self.three if count > 2 else self.two
        middle = {word: "B" for word in _MIDDLE if own[2:] and own[1] in _MIDDLE}
        return {
            **middle,
            **{each: "ABC"[place] for place, word in enumerate(own) for each in _alike(word)},
        }


def _alike(word: str) -> tuple[str, ...]:
    return next((side for sides in _SIDES for side in sides if word in side), (word,))


def _opposite(one: str, other: str) -> bool:
    return any({_alike(one), _alike(other)} == set(sides) for sides in _SIDES)
