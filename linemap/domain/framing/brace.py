"""X-braces of an H-frame: where their lower bolts go on each pole, from the spacing that is there.

The bolts lie in the plane of the frame, on the pole axes. A brace goes from the upper bolt of one pole to
the lower bolt of the other, so its run is the spacing at the upper bolts, widened by the rake of the pole
with the lower bolt: (S + τ·v)² + v² = b². The formulas follow from that triangle alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linemap.domain.design.lengths import format_inches, unbroken
from linemap.domain.finding.phrase import length_text
from linemap.domain.framing.dig import Frame
from linemap.domain.framing.framing_type import FramingType
from linemap.domain.survey.arm import PoleTop
from linemap.units import LengthUnit, convert_length


class BraceMisfit(ValueError):  # noqa: N818 - what happens at the pole, named as the trade would
    """A brace that reaches from no upper bolt to any lower one."""


def brace_spread(brace: float, spacing: float, *, rake_deg: float = 0.0) -> float:
    """Return how far the lower bolt lies below the upper one, measured vertically.

    `brace` is from bolt to bolt, `spacing` between the pole axes at the upper bolts in the same unit (the run
    between the faces where the bolts stand on the inside faces), and `rake_deg` the lean of the pole with the
    lower bolt, from the vertical in the plane of the frame, positive where the top leans in. Along the pole
    the spread is this divided by the cosine of the rake.

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


def set_words(
    brace: float,
    frame: Frame,
    *,
    made_for: float,
    taken_off: float = 0.0,
    rake_deg: float = 0.0,
) -> str:
    """Say what a brace set made for another spacing than its poles have asks for before anything is lifted.

    `made_for` is the spacing of its drawing, `taken_off` what lean and pole faces take off both spacings up
    at the upper bolts, `rake_deg` the lean of the pole with the lower bolt; the frame has a spacing. "" = the
    set is for these poles, within the job's tolerance of the spacing.

    Raises
    ------
    BraceMisfit
        If the brace fits neither.
    """
    spacing, unit = frame.spacing or 0.0, frame.unit
    fits = brace_spread(brace, spacing - taken_off, rake_deg=rake_deg)
    drawn = brace_spread(brace, made_for - taken_off, rake_deg=rake_deg)
    if abs(spacing - made_for) <= frame.spacing_tolerance:
        return ""
    gap = brace_misfit(brace, spacing - taken_off, spread=drawn, rake_deg=rake_deg)
    return (
        f"brace set for {length_text(made_for, unit.symbol)}, poles {length_text(spacing, unit.symbol)} "
        f"apart: settle before the pick; with the drawing's marks kept the brace is {_size(gap, unit)} "
        f"{'short' if gap > 0 else 'long'}, or its lower bolt goes {_size(drawn - fits, unit)} "
        f"{'up' if drawn > fits else 'down'}; the drawing or the engineer says which"
    )


def _size(value: float, unit: LengthUnit) -> str:
    if unit is LengthUnit.METRE:
        return f"{abs(value) * 1000.0:.0f} mm"
    inches = 12.0 * convert_length(abs(value), source=unit, target=LengthUnit.FOOT)
    return unbroken(f"{format_inches(inches)} in")


@dataclass(frozen=True, slots=True, kw_only=True)
class BraceMarks:
    """Where the lower brace bolts go. Lengths in the line's ground unit."""

    #: Pole letter -> how far its lower bolt lies below the upper ones, vertically.
    spreads: Mapping[str, float]
    #: Pole letter -> distance from the top to its lower bolt, along the pole.
    lower_drops: Mapping[str, float]
    #: Growth of the first spread with each unit of spacing, negative.
    rate: float
    #: What the set asks for on poles at this spacing; "" = nothing, or the table does not say what it is for.
    set_words: str


def brace_marks(
    frame: Frame,
    framing: FramingType,
    tops: Sequence[PoleTop],
    upper_drops: Mapping[str, float | None],
    unavailable: list[str],
) -> BraceMarks | None:
    """Work out the lower brace bolts; None where the type has no brace or something is missing.

    `tops` are the poles as they will stand; `upper_drops` are from the top of each to its upper brace bolt,
    None where that is not known. What is missing is added to `unavailable`.
    """
    if framing.bolting == "none":
        return None
    reason = _gap(frame, framing, tops, upper_drops)
    if not reason:
        try:
            return _worked_out(frame, framing, tops, upper_drops)
        except BraceMisfit as misfit:
            reason = str(misfit)
    unavailable.append(f"lower brace bolts: {reason}")
    return None


def _gap(
    frame: Frame, framing: FramingType, tops: Sequence[PoleTop], upper_drops: Mapping[str, float | None]
) -> str:
    """Say what is missing first, "" when nothing is."""
    if len(tops) != 2:
        return "worked out for two poles only; take those of three poles from the stamped drawing"
    if framing.bolting is None:
        return f"type {framing.code} does not say brace bolting: centre, inside face or none"
    needed = ("brace length", "pole diameter") if framing.bolting == "inside face" else ("brace length",)
    missing = framing.missing(*needed)
    if missing:
        return f"type {framing.code} gives no {' and no '.join(missing)}"
    if any(drop is None for drop in upper_drops.values()):
        return "the upper brace bolts are not known"
    return "" if frame.spacing is not None else "the pole spacing is not given; measure it"


def _worked_out(
    frame: Frame, framing: FramingType, tops: Sequence[PoleTop], upper_drops: Mapping[str, float | None]
) -> BraceMarks:
    brace = framing.number("brace length") or 0.0
    faces = (framing.number("pole diameter") or 0.0) if framing.bolting == "inside face" else 0.0
    uppers = {top.letter: upper_drops[top.letter] or 0.0 for top in tops}
    # the poles lean towards each other, so they stand nearer at the bolts than at the ground
    leaned = sum(
        (top.length - top.depth - uppers[top.letter]) * math.sin(math.radians(top.rake_deg)) for top in tops
    )
    run, rake = (frame.spacing or 0.0) - leaned - faces, tops[0].rake_deg
    spreads = {top.letter: brace_spread(brace, run, rake_deg=top.rake_deg) for top in tops}
    made_for, off = framing.number("brace spacing"), leaned + faces
    return BraceMarks(
        spreads=spreads,
        lower_drops={top.letter: uppers[top.letter] + spreads[top.letter] / top.cosine for top in tops},
        rate=spread_rate(brace, run, rake_deg=rake),
        set_words=""
        if made_for is None
        else set_words(brace, frame, made_for=made_for, taken_off=off, rake_deg=rake),
    )
