"""Plumb of a pole from its offsets at two heights, and level of an arm from its end heights.

A pole may bow by its sweep (about 1 inch in 10 feet, in one plane, is what pole suppliers allow), so offsets
measured part of the way up say little about the lean. How much of a lean the bow can feign is computed and
taken off the certainty of the verdict, so a swept pole measured at half its height is not failed for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Final, cast

from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerance, Tolerances
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.phrase import lean_words, level_words, sweep_words
from linemap.domain.survey.fact import RecordedFact
from linemap.domain.survey.shot_match import finding_at
from linemap.domain.survey.verdict import Verdict, judged
from linemap.units import LengthUnit

#: 1 inch in 10 feet, as a share of the length.
_INCH_IN_10_FT: Final = 1.0 / 120.0
_INCH_M: Final = 0.0254
#: Standard uncertainty of one offset or one height of a reading, inches.
_SIGMA_IN: Final = 0.25
#: The same in words, with where it comes from.
MEASURED: Final = "each reading taken as ± 1/4 in (1 σ); common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightOffset:
    """Where the middle of a pole stands at one height, from the plumb line through any one point."""

    #: Above the ground at the pole; offsets in the same length unit.
    height: float
    #: Ahead +.
    along: float
    #: Right +.
    across: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """How a pole leans. All are shares of the height: 0.01 is 1 %."""

    #: Ahead + and right +.
    along: float
    across: float
    sigma: float
    #: Lean that the allowed sweep alone can feign between the two heights.
    sweep: float
    verdict: Verdict
    tolerance: Tolerance

    @property
    def size(self) -> float:
        """The whole lean, whatever its direction."""
        return math.hypot(self.along, self.across)

    @property
    def words(self) -> str:
        """What the crew needs to hear.

        >>> lean(HeightOffset(height=0, along=0, across=0), HeightOffset(height=60, along=0.4, across=-0.3),
        ...      pole_height=60, sigma=0.02, tolerance=Tolerances.default(LengthUnit.FOOT).plumb).words
        'leans 1.0 in per 10 ft (0.83 %): 0.8 ahead, 0.6 left; tolerance 1 in per 10 ft: cannot tell'
        """
        said = f"tolerance {self.tolerance.value:g} in per 10 ft: {self.verdict}"
        return f"{lean_words(self.along, self.across)}; {said}{sweep_words(self.sweep)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmLevel:
    """How far an arm is out of level."""

    #: Right end above left end, inches.
    inches: float
    sigma_in: float
    #: The same as a slope, degrees, right end up +.
    slope_deg: float
    verdict: Verdict
    tolerance: Tolerance

    @property
    def words(self) -> str:
        """What the crew needs to hear.

        >>> arm_level(left=54.00, right=54.25, length=25.0, sigma=0.02, unit=LengthUnit.FOOT,
        ...           tolerance=Tolerances.default(LengthUnit.FOOT).arm_level).words
        'right end 3.0 in (0.57°) higher than the left; tolerance 2 in end to end: fail'
        """
        said = level_words(self.inches, self.slope_deg)
        return f"{said}; tolerance {self.tolerance.value:g} in end to end: {self.verdict}"


def bow_share(lower: float, upper: float, *, pole_height: float) -> float:
    """Return the lean, as a share, that the allowed sweep can feign between two heights, lower first.

    The bow is taken as a parabola over the pole above ground, its depth 1 inch for each 10 ft of that: none
    at the ground and at the top, all of it in the middle.

    >>> [round(bow_share(0.0, upper, pole_height=60.0) * 120, 1) for upper in (60.0, 54.0, 30.0)]
    [0.0, 0.4, 2.0]
    """
    depth = pole_height * _INCH_IN_10_FT
    parts = [min(max(height / pole_height, 0.0), 1.0) for height in (lower, upper)]
    bows = [4.0 * depth * part * (1.0 - part) for part in parts]
    return abs(bows[1] - bows[0]) / (upper - lower)


def lean(
    lower: HeightOffset,
    upper: HeightOffset,
    *,
    pole_height: float,
    sigma: float,
    tolerance: Tolerance,
    confidence: float = 0.95,
) -> Lean:
    """Judge how plumb a pole stands from its offsets at two heights.

    The lower offset first, to the middle of the pole, in any one length unit, in which `pole_height` (of the
    top above ground) and `sigma` (of one offset per axis, 0 = exact) are too. The tolerance is in inches per
    10 ft.

    Returns
    -------
    Lean
        Pass: within the tolerance even if all the allowed sweep hides a lean. Fail: beyond it even if all
        of it feigns one. Else cannot tell.

    Raises
    ------
    ValueError
        If the upper height is not above the lower, a height is below ground or above the top, or sigma is
        negative.
    """
    rise = upper.height - lower.height
    if not (0.0 <= lower.height < upper.height <= pole_height):
        raise ValueError(
            f"heights {lower.height:g} and {upper.height:g} of a pole {pole_height:g} above ground; give the "
            "lower one first, both between ground and top"
        )
    along, across = (upper.along - lower.along) / rise, (upper.across - lower.across) / rise
    spread = math.sqrt(2.0) * sigma / rise
    sweep = bow_share(lower.height, upper.height, pole_height=pole_height)
    limit, size = tolerance.value * _INCH_IN_10_FT, math.hypot(along, across)
    verdict = judged(size, spread, limit=limit, doubt=sweep, confidence=confidence)
    return Lean(along=along, across=across, sigma=spread, sweep=sweep, verdict=verdict, tolerance=tolerance)


def arm_level(
    *,
    left: float,
    right: float,
    length: float,
    sigma: float,
    unit: LengthUnit,
    tolerance: Tolerance,
    confidence: float = 0.95,
) -> ArmLevel:
    """Judge how level an arm hangs from the heights of its ends, looking ahead.

    Heights or elevations over one datum, the length between the points measured and `sigma` of one height
    (0 = exact) are in `unit`, the tolerance in inches from end to end. That arms are level once the load line
    is off is a general rule of erection guides; the number is not in them.

    Raises
    ------
    ValueError
        If the length is not longer than the difference of the heights.
    """
    rise = right - left
    if not length > abs(rise):
        raise ValueError(f"an arm of {length:g} cannot have ends {abs(rise):g} apart in height; check both")
    inches = unit.metres / _INCH_M
    spread = math.sqrt(2.0) * sigma * inches
    return ArmLevel(
        inches=rise * inches,
        sigma_in=spread,
        slope_deg=math.degrees(math.asin(rise / length)),
        verdict=judged(abs(rise) * inches, spread, limit=tolerance.value, confidence=confidence),
        tolerance=tolerance,
    )


def judged_reading(fact: RecordedFact, unit: LengthUnit, tolerances: Tolerances) -> Lean | ArmLevel | None:
    """Judge a plumb or level reading, in the unit of its line; None for any other fact.

    Raises
    ------
    ValueError
        If the heights cannot be those of one pole, or the arm not be as long as its ends are apart in height.
    """

    def at(height: float | None, along: float | None, across: float | None) -> HeightOffset:
        return HeightOffset(height=_given(height), along=_given(along), across=_given(across))

    sigma = _SIGMA_IN * _INCH_M / unit.metres
    if fact.what == "plumb":
        return lean(
            at(fact.lower_height, fact.lower_along, fact.lower_across),
            at(fact.upper_height, fact.upper_along, fact.upper_across),
            pole_height=_given(fact.pole_height),
            sigma=sigma,
            tolerance=tolerances.plumb,
        )
    if fact.what == "arm level":
        return arm_level(
            left=_given(fact.left_height),
            right=_given(fact.right_height),
            length=_given(fact.arm_length),
            sigma=sigma,
            unit=unit,
            tolerance=tolerances.arm_level,
        )
    return None


def _given(value: float | None) -> float:
    """Return a number that a fact has made sure of."""
    return cast(float, value)


def reading_findings(
    figures: Figures, facts: Mapping[tuple[str, str], Iterable[RecordedFact]], tolerances: Tolerances
) -> Iterator[Finding]:
    """Find the poles that are not plumb and the arms that are not level by the newest reading of each.

    "out of plumb" and "arm not level"; less than wrong where the reading cannot tell. Facts stand in the
    order recorded, those of structures that are not there are passed over.
    """
    rows = figures.rows_by_key()
    for key, recorded in facts.items():
        if key in rows:
            for fact in {(fact.what, fact.pole): fact for fact in recorded}.values():
                found = judged_reading(fact, figures.line_of(rows[key]).unit, tolerances)
                if found is not None:
                    yield from judged_findings(figures, rows[key], found, pole=fact.pole)


def judged_findings(
    figures: Figures, row: int, found: Lean | ArmLevel, *, pole: str, points: str = ""
) -> Iterator[Finding]:
    """Give the finding of a pole that is not plumb, or an arm that is not level; none where it is.

    `points` names the shots it was measured by; "" = a reading of its own.
    """
    if found.verdict not in (Verdict.FAIL, Verdict.CANNOT_TELL):
        return
    outside = found.verdict is Verdict.FAIL
    about = partial(
        finding_at,
        figures,
        row,
        part=f"{pole} {points}".strip(),
        weight=None if outside else Severity.UNSURE,
        outside=outside,
        limit=found.tolerance.value,
        limit_unit=found.tolerance.unit,
        points=points,
    )
    if isinstance(found, ArmLevel):
        yield about(code="arm not level", inches=found.inches, slope_deg=found.slope_deg)
    else:
        lean_of = {name: getattr(found, name) for name in ("along", "across", "sweep")}
        yield about(code="out of plumb", pole=pole, **lean_of)
