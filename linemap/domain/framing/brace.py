"""X-braces of an H-frame: how far apart their bolts stand on a pole, from the spacing that is there.

The bolts lie in the plane of the frame, on the pole axes. A brace goes from the upper bolt of one pole to
the lower bolt of the other, so its run is the spacing at the upper bolts, widened by the rake of the pole
with the lower bolt: (S + τ·v)² + v² = b². The formulas follow from that triangle alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from linemap.domain.design.lengths import format_inches, unbroken
from linemap.domain.finding.phrase import length_text
from linemap.units import LengthUnit, convert_length


class BraceMisfit(ValueError):  # noqa: N818 - what happens at the pole, named as the trade would
    """A brace that reaches from no upper bolt to any lower one."""


def brace_spread(brace: float, spacing: float, *, rake_deg: float = 0.0) -> float:
    """Return how far the lower bolt lies below the upper one, measured vertically.

    Parameters
    ----------
    brace : float
        Length of one brace from bolt to bolt.
    spacing : float
        Distance between the pole axes at the upper bolts, in the unit of the brace; the run between the
        faces where the bolts stand on the inside faces.
    rake_deg : float
        Lean of the pole with the lower bolt, from the vertical in the plane of the frame; positive where
        the top leans in.

    Returns
    -------
    float
        In the unit of the brace. Along the pole it is this divided by the cosine of the rake.

    Raises
    ------
    BraceMisfit
        If the brace is not longer than the spacing, or a length is not a positive number.

    >>> brace_spread(5.0, 3.0), brace_spread(5.0, 4.0), round(brace_spread(20.0, 15.5), 4)
    (4.0, 3.0, 12.6392)
    """
    if not (math.isfinite(brace) and math.isfinite(spacing) and brace > 0.0 and spacing >= 0.0):
        raise BraceMisfit(
            f"a brace of {brace:g} between poles {spacing:g} apart is no brace; correct the length"
        )
    tilt = math.tan(math.radians(rake_deg))
    under_root = brace * brace * (1.0 + tilt * tilt) - spacing * spacing
    spread = (math.sqrt(under_root) - spacing * tilt) / (1.0 + tilt * tilt) if under_root > 0.0 else 0.0
    if spread <= 0.0:
        raise BraceMisfit(
            f"a brace of {brace:.2f} does not fit poles {spacing:.2f} apart: it must be longer than the "
            "spacing; check the brace set and the spacing"
        )
    return spread


def spread_rate(brace: float, spacing: float, *, rake_deg: float = 0.0) -> float:
    """Return how much the spread grows with each unit of spacing: negative, as wider poles raise the bolt.

    The derivative of `brace_spread`: -(S + τ·v) / (v + τ·(S + τ·v)); -S/v for vertical poles.

    Raises
    ------
    BraceMisfit
        If the brace does not fit.

    >>> round(spread_rate(20.0, 15.5), 3), spread_rate(5.0, 3.0)
    (-1.226, -0.75)
    """
    tilt = math.tan(math.radians(rake_deg))
    spread = brace_spread(brace, spacing, rake_deg=rake_deg)
    run = spacing + tilt * spread
    return -run / (spread + tilt * run)


def brace_misfit(brace: float, spacing: float, *, spread: float, rake_deg: float = 0.0) -> float:
    """Return how much longer than the brace the way between bolts is that stand `spread` apart.

    Positive: the brace is short. 0 exactly where `spread` is `brace_spread`.

    >>> round(12 * brace_misfit(20.0, 16.0, spread=brace_spread(20.0, 15.5)), 2)
    4.68
    """
    run = spacing + math.tan(math.radians(rake_deg)) * spread
    return math.hypot(run, spread) - brace


def rate_words(rate: float, unit: LengthUnit) -> str:
    r"""Say what an inch (10 mm on a metric job) of spacing does to the lower brace bolt.

    >>> rate_words(-1.2264, LengthUnit.FOOT)
    'each inch wider raises the lower bolt 1\xa01/4\xa0in, each inch narrower lowers it as much'
    >>> rate_words(-1.2264, LengthUnit.METRE)
    'each 10 mm wider raises the lower bolt 12 mm, each 10 mm narrower lowers it as much'
    """
    step, size = ("10 mm", f"{-10.0 * rate:.0f} mm")
    if unit is not LengthUnit.METRE:
        step, size = "inch", unbroken(f"{format_inches(-rate)} in")
    return f"each {step} wider raises the lower bolt {size}, each {step} narrower lowers it as much"


@dataclass(frozen=True, slots=True, kw_only=True)
class BraceCheck:
    """A brace set against the spacing it meets, before anything is lifted."""

    #: True when the set is made for another spacing than the poles have.
    differs: bool
    #: Spread by the drawing less the spread that fits: what the lower bolt must go up; negative: down.
    raise_by: float
    words: str


def brace_set_check(
    brace: float,
    spacing: float,
    *,
    made_for: float,
    tolerance: float,
    unit: LengthUnit,
    taken_off: float = 0.0,
    rake_deg: float = 0.0,
) -> BraceCheck:
    """Compare a brace set with the spacing between the poles.

    Parameters
    ----------
    brace : float
        From bolt to bolt.
    spacing : float
        Between the poles as they stand or will stand.
    made_for : float
        Spacing the set is made for, by its drawing.
    tolerance : float
        The job's tolerance of the spacing.
    unit : LengthUnit
        Of all of them.
    taken_off : float
        What lean and pole faces take off both spacings, up at the upper bolts.
    rake_deg : float
        Lean of the pole with the lower bolt.

    Raises
    ------
    BraceMisfit
        If the brace fits neither.

    >>> brace_set_check(17.0, 12.5, made_for=12.0, tolerance=0.2, unit=LengthUnit.FOOT).words[:68]
    'brace set for 12.00 ft, poles 12.50 ft apart: settle before the pick'
    """
    fits = brace_spread(brace, spacing - taken_off, rake_deg=rake_deg)
    drawn = brace_spread(brace, made_for - taken_off, rake_deg=rake_deg)
    pair = (
        f"brace set for {length_text(made_for, unit.symbol)}, poles {length_text(spacing, unit.symbol)} apart"
    )
    if abs(spacing - made_for) <= tolerance:
        return BraceCheck(differs=False, raise_by=drawn - fits, words=f"{pair}: within the spacing tolerance")
    gap = brace_misfit(brace, spacing - taken_off, spread=drawn, rake_deg=rake_deg)
    words = (
        f"{pair}: settle before the pick; with the drawing's marks kept the brace is {_size(gap, unit)} "
        f"{'short' if gap > 0 else 'long'}, or its lower bolt goes {_size(drawn - fits, unit)} "
        f"{'up' if drawn > fits else 'down'}; the drawing or the engineer says which"
    )
    return BraceCheck(differs=True, raise_by=drawn - fits, words=words)


def _size(value: float, unit: LengthUnit) -> str:
    if unit is LengthUnit.METRE:
        return f"{abs(value) * 1000.0:.0f} mm"
    inches = 12.0 * convert_length(abs(value), source=unit, target=LengthUnit.FOOT)
    return unbroken(f"{format_inches(inches)} in")
