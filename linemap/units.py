"""Length units of survey files, with their exact definitions.

The US survey foot and the international foot differ by 2 parts per million: 4.7 ft at an easting of
2,345,678 ft. They are never mixed here. Definitions: 85 FR 62698 (2020-10-05).
"""

from __future__ import annotations

from enum import Enum
from typing import Literal


class LengthUnit(Enum):
    """A length unit: its value is the text used in files and settings."""

    METRE = "m"
    FOOT = "ft"
    US_SURVEY_FOOT = "ftUS"

    @property
    def metres(self) -> float:
        """Metres in one unit: 1, 0.3048 (exact), 1200/3937 (exact).

        >>> LengthUnit.FOOT.metres
        0.3048
        """
        return {"m": 1.0, "ft": 0.3048, "ftUS": 1200.0 / 3937.0}[self.value]

    @property
    def word(self) -> str:
        """The unit in words, for people.

        >>> LengthUnit.US_SURVEY_FOOT.word
        'US survey foot'
        """
        return {"m": "metre", "ft": "international foot", "ftUS": "US survey foot"}[self.value]

    @property
    def symbol(self) -> Literal["ft", "m"]:
        """The short sign printed after a number: "ft" for both feet, "m" for metres."""
        return "m" if self is LengthUnit.METRE else "ft"

    @property
    def mile(self) -> float:
        """Length of the line mile in this unit: 5,280 of either foot, and the kilometre on metric lines."""
        return 1000.0 if self is LengthUnit.METRE else 5280.0

    @property
    def per_plus(self) -> int:
        """Length of a full station in this unit: 1000 m on metric lines, 100 ft otherwise."""
        return 1000 if self is LengthUnit.METRE else 100

    @classmethod
    def from_metres(cls, metres: float) -> LengthUnit:
        """Return the unit whose length is `metres`, to 1 part in 10⁹.

        Raises
        ------
        ValueError
            If no known unit has that length.

        >>> LengthUnit.from_metres(1200 / 3937)
        <LengthUnit.US_SURVEY_FOOT: 'ftUS'>
        """
        for unit in cls:
            if abs(metres / unit.metres - 1.0) < 1e-9:
                return unit
        raise ValueError(f"no length unit of {metres} m is known")

    @classmethod
    def from_text(cls, text: str) -> LengthUnit:
        """Read a unit as people write it: "m", "metres", "ft", "feet", "ift", "usft", "US survey feet".

        Raises
        ------
        ValueError
            If the text names no known unit.

        >>> LengthUnit.from_text("US Survey Feet")
        <LengthUnit.US_SURVEY_FOOT: 'ftUS'>
        """
        word = "".join(ch for ch in text.casefold() if ch.isalpha() or ch == "'")
        if word in {"m", "metre", "metres", "meter", "meters"}:
            return cls.METRE
        if word in {
            "ft", "foot", "feet", "ift", "intft", "internationalft", "internationalfoot",
            "internationalfeet", "'",
        }:  # fmt: skip
            return cls.FOOT
        if word in {
            "ftus", "footus", "feetus", "usft", "usfoot", "usfeet", "sft", "surveyft", "surveyfoot",
            "surveyfeet", "ussurveyft", "ussurveyfoot", "ussurveyfeet",
        }:  # fmt: skip
            return cls.US_SURVEY_FOOT
        raise ValueError(f"{text!r} is no length unit linemap knows; use m, ft or ftUS")


def convert_length(value: float, *, source: LengthUnit, target: LengthUnit) -> float:
    """Convert a length between units by their exact definitions.

    >>> round(convert_length(2_345_678.12, source=LengthUnit.US_SURVEY_FOOT, target=LengthUnit.FOOT), 2)
    2345682.81
    """
    return value * (source.metres / target.metres)
