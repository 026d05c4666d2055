"""The lower brace bolts of one structure, from the spacing its poles have at the upper ones."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linemap.domain.framing.brace import BraceCheck, BraceMisfit, brace_set_check, brace_spread, spread_rate
from linemap.domain.framing.framing_type import FramingType
from linemap.domain.survey.arm import PoleTop
from linemap.units import LengthUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class BraceMarks:
    """Where the lower brace bolts go. Lengths in the line's ground unit."""

    #: One brace from bolt to bolt.
    brace: float
    #: Run between the bolts at the upper ones: pole axes, or inside faces.
    run: float
    #: Pole letter -> how far its lower bolt lies below the upper ones, vertically.
    spreads: Mapping[str, float]
    #: Pole letter -> distance from the top to its lower bolt, along the pole.
    lower_drops: Mapping[str, float]
    #: Growth of the first spread with each unit of spacing, negative.
    rate: float
    #: The set against the spacing; None when the table does not say what spacing the set is for.
    check: BraceCheck | None


def brace_marks(
    framing: FramingType,
    tops: Sequence[PoleTop],
    upper_drops: Mapping[str, float | None],
    *,
    spacing: float | None,
    tolerance: float,
    unit: LengthUnit,
    unavailable: list[str],
) -> BraceMarks | None:
    """Work out the lower brace bolts; None where the type has no brace or something is missing.

    Parameters
    ----------
    framing : FramingType
    tops : sequence of PoleTop
        The poles as they will stand.
    upper_drops : mapping of str to float
        Pole letter -> distance from the top to the upper brace bolt; None = not known.
    spacing : float, optional
        Between the pole axes at the ground line.
    tolerance : float
        The job's tolerance of the spacing.
    unit : LengthUnit
        Of all lengths.
    unavailable : list of str
        What is missing is added to it.
    """
    if framing.bolting == "none":
        return None
    reason = _gap(framing, tops, upper_drops, spacing)
    if reason or spacing is None:
        unavailable.append(f"lower brace bolts: {reason}")
        return None
    try:
        return _worked_out(framing, tops, upper_drops, spacing=spacing, tolerance=tolerance, unit=unit)
    except BraceMisfit as misfit:
        unavailable.append(f"lower brace bolts: {misfit}")
        return None


def _gap(
    framing: FramingType,
    tops: Sequence[PoleTop],
    upper_drops: Mapping[str, float | None],
    spacing: float | None,
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
    return "" if spacing is not None else "the pole spacing is not given; measure it"


def _worked_out(
    framing: FramingType,
    tops: Sequence[PoleTop],
    upper_drops: Mapping[str, float | None],
    *,
    spacing: float,
    tolerance: float,
    unit: LengthUnit,
) -> BraceMarks:
    brace = framing.number("brace length") or 0.0
    faces = (framing.number("pole diameter") or 0.0) if framing.bolting == "inside face" else 0.0
    uppers = {top.letter: upper_drops[top.letter] or 0.0 for top in tops}
    # the poles lean towards each other, so they stand nearer at the bolts than at the ground
    leaned = sum(
        (top.length - top.depth - uppers[top.letter]) * math.sin(math.radians(top.rake_deg)) for top in tops
    )
    run = spacing - leaned - faces
    spreads = {top.letter: brace_spread(brace, run, rake_deg=top.rake_deg) for top in tops}
    made_for = framing.number("brace spacing")
    check = None
    if made_for is not None:
        check = brace_set_check(
            brace,
            spacing,
            made_for=made_for,
            tolerance=tolerance,
            unit=unit,
            taken_off=leaned + faces,
            rake_deg=tops[0].rake_deg,
        )
    return BraceMarks(
        brace=brace,
        run=run,
        spreads=spreads,
        lower_drops={top.letter: uppers[top.letter] + spreads[top.letter] / top.cosine for top in tops},
        rate=spread_rate(brace, run, rake_deg=tops[0].rake_deg),
        check=check,
    )
