"""One frame as known before marking: how deep each hole goes for a level arm, and the brand that shows it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from linemap.domain.finding.phrase import BY_LETTER, Called, length_text
from linemap.domain.survey.arm import PoleTop
from linemap.units import LengthUnit, convert_length

#: The bottom of the brand stands 10 ft ± 2 in from the butt up to 50 ft, 14 ft ± 2 in from 55 ft (wood pole
#: branding as published by pole makers after ANSI O5.1).
_BRANDS_FT: Final = ((50.0, 10.0), (55.0, 14.0))
#: A brand this far off is worth a question: 2 in of its own and an inch of reading.
BRAND_DOUBT_FT: Final = 0.25
#: Lengths the published table sets deeper than 10 % + 2 ft, with its depths in soil (see `EmbedRule.note`).
_PUBLISHED_FT: Final[Mapping[float, float]] = MappingProxyType({25.0: 5.0, 30.0: 5.5, 35.0: 6.0})


@dataclass(frozen=True, slots=True, kw_only=True)
class FramePole:
    """One pole as it is known before marking. Lengths in the line's ground unit."""

    letter: str
    #: Length by the schedule, in feet; None = not given.
    nominal_ft: float | None = None
    #: Length as measured on this pole; None = not measured.
    measured: float | None = None
    #: Ground elevation at the pole; None = not given.
    ground: float | None = None
    #: Depth as dug or set, along the pole; None = not dug yet.
    depth: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One structure to be marked."""

    number: str
    type_code: str
    #: What the owner calls its poles.
    called: Called = field(default_factory=lambda: BY_LETTER, compare=False)
    #: Its poles, A first.
    poles: tuple[FramePole, ...]
    #: Distance between the pole axes at the ground line; None = not given.
    spacing: float | None = None
    #: Where the spacing is from: "design", "surveyed", "measured".
    spacing_source: str = "design"
    #: The job's tolerance of the spacing.
    spacing_tolerance: float
    #: Design elevation of the arm bolts; None = at the type's drop below the planned tops.
    arm_elevation: float | None = None
    #: Unit of all lengths but the nominal ones.
    unit: LengthUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class EmbedRule:
    """How deep a pole must stand at least, by its drawing. Lengths in the unit of the poles."""

    #: Depth that holds for every length; None = by the rule below.
    depth: float | None = None
    #: Share of the length in percent, and what is added to it.
    percent: float = 0.0
    add: float = 0.0
    #: Least depth of the rule.
    least: float = 0.0

    def __post_init__(self) -> None:
        numbers = (self.percent, self.add, self.least, 0.0 if self.depth is None else self.depth)
        if not all(math.isfinite(number) and number >= 0.0 for number in numbers):
            raise ValueError(f"an embedment of {self.words} is none; give depths of 0 or more")

    def minimum(self, length: float) -> float:
        """Return the least depth of a pole of this length.

        >>> EmbedRule(percent=10.0, add=2.0).minimum(75.0), EmbedRule(depth=11.0).minimum(75.0)
        (9.5, 11.0)
        """
        return (
            self.depth
            if self.depth is not None
            else max(self.least, self.percent / 100.0 * length + self.add)
        )

    @property
    def words(self) -> str:
        """The rule in short.

        >>> EmbedRule(percent=10.0, add=2.0, least=5.0).words
        '10 % of the length + 2, at least 5'
        """
        if self.depth is not None:
            return f"{self.depth:g}"
        floor = f", at least {self.least:g}" if self.least else ""
        return f"{self.percent:g} % of the length + {self.add:g}{floor}"

    def note(self, length_ft: float, *, unit: LengthUnit) -> str:
        """Say where the rule gives less than the published table for soil; "" elsewhere.

        The table (Lineman's and Cableman's Handbook) equals 10 % + 2 ft only from 40 ft up; it sets poles of
        25, 30 and 35 ft 0.5 ft deeper.

        The length is the nominal one; `unit` is that of the rule.

        >>> EmbedRule(percent=10.0, add=2.0).note(35.0, unit=LengthUnit.FOOT)[:73]
        'a published table sets a 35 ft pole 6.0 ft deep in soil, the rule 5.5 ft;'
        >>> EmbedRule(percent=10.0, add=2.0).note(40.0, unit=LengthUnit.FOOT)
        ''
        """
        printed = _PUBLISHED_FT.get(length_ft)
        if printed is None or self.depth is not None:
            return ""
        length = convert_length(length_ft, source=LengthUnit.FOOT, target=unit)
        least = convert_length(self.minimum(length), source=unit, target=LengthUnit.FOOT)
        if least >= printed - 0.05:
            return ""
        return (
            f"a published table sets a {length_ft:g} ft pole {printed:.1f} ft deep in soil, "
            f"the rule {least:.1f} ft; ask the engineer which holds"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class DigPlan:
    """Depths that bring the tops of a structure to one level."""

    #: Pole letter -> depth along the pole.
    depths: Mapping[str, float]
    #: Elevation of the tops.
    top: float
    #: Letter of the pole that stands at its least depth and limits the others.
    limited_by: str


def plan_dig(poles: Sequence[PoleTop]) -> DigPlan:
    """Plan the depth of each hole so that all tops come to one level.

    T = min(G + (L - d)·cos ρ) over the poles, then the depth of each is L - (T - G) / cos ρ. The limiting
    pole stands at its least depth d, every other one at its own or deeper. The poles, at least one, are given
    at their least depths by the drawing; the ground may fall either way.

    Raises
    ------
    ValueError
        If no pole is given, a length or level is no number, or a pole would stand deeper than it is long.

    >>> poles = [
    ...     PoleTop(letter="A", ground=3975.573, length=75.0, depth=9.5),
    ...     PoleTop(letter="B", ground=3979.803, length=70.0, depth=9.0),
    ... ]
    >>> {letter: round(depth, 2) for letter, depth in plan_dig(poles).depths.items()}
    {'A': 9.77, 'B': 9.0}
    """
    if not poles:
        raise ValueError("a dig depth needs at least one pole; give the poles")
    for pole in poles:
        if not all(map(math.isfinite, (pole.ground, pole.length, pole.depth))):
            raise ValueError(f"{pole.words} has a level, length or depth that is no number; correct it")
        if pole.depth < 0.0:
            raise ValueError(f"{pole.words} cannot stand {pole.depth:g} deep; check the embedment rule")
    limit = min(poles, key=lambda pole: pole.elevation)
    depths = {p.letter: p.length - (limit.elevation - p.ground) / p.cosine for p in poles}
    for pole in poles:
        if depths[pole.letter] >= pole.length:
            raise ValueError(
                f"{pole.words} of {pole.length:g} would stand {depths[pole.letter]:.2f} deep for a "
                "level arm, deeper than it is long; check the ground levels and the lengths"
            )
    return DigPlan(depths=depths, top=limit.elevation, limited_by=limit.letter)


def brand_from_butt(length_ft: float) -> float | None:
    """Return how far from the butt the brand stands, in feet: 10 up to 50 ft, 14 from 55 ft; else None.

    The length is the nominal one of the pole's class. Between 50 and 55 ft nothing is published.

    >>> brand_from_butt(50.0), brand_from_butt(75.0), brand_from_butt(52.0)
    (10.0, 14.0, None)
    """
    (short, low), (tall, high) = _BRANDS_FT
    return low if length_ft <= short else high if length_ft >= tall else None


def brand_words(pole: str, *, expected: float, seen: float, nominal_ft: float, unit: LengthUnit) -> str:
    """Say what a brand seen above the ground means for the depth of its pole.

    `expected` and `seen` are its heights above the ground as planned and as found, in `unit`; the nominal
    length, by the schedule, names the pole, which is called `pole`.

    >>> brand_words("A", expected=4.23, seen=9.0, nominal_ft=75.0, unit=LengthUnit.FOOT)
    'brand at 9.00 ft, expected 4.23 ft: A is shallow by 4.77 ft, or not the 75'
    """
    off = seen - expected
    place = f"at {length_text(seen, unit.symbol)}"
    if seen < 0.0:
        place = f"{length_text(seen, unit.symbol)} below the ground"
    pair = f"brand {place}, expected {length_text(expected, unit.symbol)}"
    if abs(convert_length(off, source=unit, target=LengthUnit.FOOT)) <= BRAND_DOUBT_FT:
        return f"{pair}: agrees with the planned depth of {pole}"
    way = "shallow" if off > 0.0 else "deep"
    return f"{pair}: {pole} is {way} by {length_text(off, unit.symbol)}, or not the {nominal_ft:g}"
