"""What is marked on each pole of one structure: drops from the top, heights from the butt, depth, brand.

Every figure follows from the framing table, the pole lengths and the ground levels. What cannot be worked
out is named with the dimension or level that is missing; nothing is taken for granted in its place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from linemap.domain.finding.phrase import pole_names
from linemap.domain.framing.brace import BraceMarks, brace_marks
from linemap.domain.framing.dig import DigPlan, Frame, FramePole, brand_from_butt, plan_dig
from linemap.domain.framing.framing_type import FramingType
from linemap.domain.survey.arm import ArmLevel, PoleTop, level_arm
from linemap.units import LengthUnit, convert_length

_HUNG = {"shield wire": "shield wire drop", "arm": "arm drop", "upper brace bolt": "upper brace drop"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One mark on one pole."""

    name: str
    #: Distance from the top, along the pole.
    drop: float
    #: Distance from the butt, along the pole.
    from_butt: float
    #: Height above the ground line, along the pole.
    above_ground: float
    #: Drawing the drop stands on, "" = computed.
    drawing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PoleMarks:
    """One pole with its marks, from the top down."""

    letter: str
    length: float
    #: True when the length was measured on this pole.
    measured: bool
    #: Depth in the ground, and the least the drawing asks for (None = not given).
    depth: float
    least_depth: float | None
    #: True when the depth is as dug, not as planned.
    dug: bool
    #: Height of the brand above the ground at that depth; None = nothing published for the length.
    brand: float | None
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureMarks:
    """The marks of one structure."""

    poles: tuple[PoleMarks, ...] = ()
    #: The planned depths; None where all are as dug, or none can be planned.
    plan: DigPlan | None = None
    arm: ArmLevel | None = None
    brace: BraceMarks | None = None
    #: What could not be worked out, each with its reason.
    unavailable: tuple[str, ...] = ()


def mark_structure(frame: Frame, framing: FramingType | None) -> StructureMarks:
    """Work out the marks of one structure, or say why not; None = the table does not have the type."""
    if framing is None:
        known = f"framing type {frame.type_code} is not in the framing table"
        reason = known if frame.type_code else f"the structure list gives no type for {frame.number}"
        return StructureMarks(unavailable=(f"marks: {reason}; load the framing table with it",))
    gaps = _gaps(frame, framing)
    if gaps:
        return StructureMarks(unavailable=gaps)
    try:
        return _marked(frame, framing)
    except ValueError as error:
        return StructureMarks(unavailable=(f"marks: {error}",))


def _gaps(frame: Frame, framing: FramingType) -> tuple[str, ...]:
    """Name what depth and tops cannot be worked out without."""
    gaps = []
    for pole in frame.poles:
        named = pole_names(pole.letter, frame.called)
        if pole.measured is None and pole.nominal_ft is None:
            gaps.append(f"marks: the length of {named} is not given; see the pole schedule")
        if pole.ground is None:
            gaps.append(f"marks: the ground at {named} is not given; level it")
        if framing.rake_deg(pole.letter, pole_count=len(frame.poles)) is None:
            gaps.append(f"marks: type {framing.code} gives no rake for {named}; 0 where it is plumb")
    if framing.embedment is None and any(pole.depth is None for pole in frame.poles):
        names = "embedment, or embedment percent and embedment add"
        gaps.append(f"dig depth: type {framing.code} gives no {names}")
    return tuple(gaps)


def _length(pole: FramePole, unit: LengthUnit) -> float:
    if pole.measured is not None:
        return pole.measured
    return convert_length(pole.nominal_ft or 0.0, source=LengthUnit.FOOT, target=unit)


def _marked(frame: Frame, framing: FramingType) -> StructureMarks:
    lengths = {pole.letter: _length(pole, frame.unit) for pole in frame.poles}
    rule = framing.embedment
    least = {letter: rule.minimum(length) for letter, length in lengths.items()} if rule else {}
    rakes = {p.letter: framing.rake_deg(p.letter, pole_count=len(frame.poles)) or 0.0 for p in frame.poles}
    tops = [
        PoleTop(
            letter=pole.letter,
            called=frame.called[pole.letter],
            ground=pole.ground or 0.0,
            length=lengths[pole.letter],
            depth=least.get(pole.letter, pole.depth or 0.0),
            rake_deg=rakes[pole.letter],
        )
        for pole in frame.poles
    ]
    plan = plan_dig(tops) if rule else None
    dug = {pole.letter: pole.depth for pole in frame.poles if pole.depth is not None}
    depths = {**(plan.depths if plan else {}), **dug}
    tops = [replace(top, depth=depths[top.letter]) for top in tops]
    unavailable: list[str] = []
    arm = _arm(frame, framing, tops, plan, unavailable)
    drops = _drops(framing, tops, arm, unavailable)
    uppers = {letter: found.get("upper brace bolt") for letter, found in drops.items()}
    brace = brace_marks(frame, framing, tops, uppers, unavailable)
    for letter, drop in (brace.lower_drops if brace else {}).items():
        drops[letter]["lower brace bolt"] = drop
    poles = tuple(
        _pole_marks(pole, top, drops[pole.letter], framing, least.get(pole.letter), frame.unit, unavailable)
        for pole, top in zip(frame.poles, tops, strict=True)
    )
    return StructureMarks(
        poles=poles,
        plan=plan,
        arm=arm,
        brace=brace,
        unavailable=tuple(unavailable),
    )


def _arm(
    frame: Frame,
    framing: FramingType,
    tops: Sequence[PoleTop],
    plan: DigPlan | None,
    unavailable: list[str],
) -> ArmLevel | None:
    missing = framing.missing("arm drop", "minimum drop")
    if missing:
        unavailable.append(f"arm: type {framing.code} gives no {' and no '.join(missing)}")
        return None
    lowest = min(tops, key=lambda top: top.elevation)
    design = frame.arm_elevation
    if design is None:
        reach = plan.top if plan else lowest.elevation
        design = reach - (framing.number("arm drop") or 0.0) * lowest.cosine
    least = framing.number("minimum drop") or 0.0
    return level_arm(tuple(tops), design_elevation=design, minimum_drop=least)


def _drops(
    framing: FramingType, tops: Sequence[PoleTop], arm: ArmLevel | None, unavailable: list[str]
) -> dict[str, dict[str, float]]:
    """Return the drops of shield wire, arm and upper brace bolt by pole; the last is level like the arm."""
    drops: dict[str, dict[str, float]] = {top.letter: {} for top in tops}
    shield, upper = framing.number("shield wire drop"), framing.number("upper brace drop")
    if shield is None:
        unavailable.append(f"shield wire: type {framing.code} gives no shield wire drop")
    if upper is None and framing.bolting != "none":
        unavailable.append(f"braces: type {framing.code} gives no upper brace drop")
    bolts = _upper_bolts(framing, tops, arm)
    for top in tops:
        if shield is not None:
            drops[top.letter]["shield wire"] = shield
        if arm is not None:
            drops[top.letter]["arm"] = arm.drops[top.letter]
        if bolts is not None and framing.bolting != "none":
            drops[top.letter]["upper brace bolt"] = (top.elevation - bolts) / top.cosine
    return drops


def _upper_bolts(framing: FramingType, tops: Sequence[PoleTop], arm: ArmLevel | None) -> float | None:
    """Return the elevation of the upper brace bolts, as far below the arm as drawn."""
    upper = framing.number("upper brace drop")
    if upper is None:
        return None
    lowest = min(tops, key=lambda top: top.elevation)
    if arm is None:
        return lowest.elevation - upper * lowest.cosine
    return arm.elevation - (upper - (framing.number("arm drop") or 0.0)) * lowest.cosine


def _pole_marks(
    pole: FramePole,
    top: PoleTop,
    drops: Mapping[str, float],
    framing: FramingType,
    least: float | None,
    unit: LengthUnit,
    unavailable: list[str],
) -> PoleMarks:
    standing = top.length - top.depth
    marks = [Mark(name="ground line", drop=standing, from_butt=top.depth, above_ground=0.0)]
    for name, drop in drops.items():
        if not 0.0 <= drop < standing:
            where = "above the top" if drop < 0.0 else "at or below the ground line"
            unavailable.append(
                f"{name} of {top.words}: {drop:.2f} from the top is {where}; look at the framing type"
            )
            continue
        given = framing.dimensions.get(_HUNG.get(name, ""))
        marks.append(
            Mark(
                name=name,
                drop=drop,
                from_butt=top.length - drop,
                above_ground=standing - drop,
                drawing=given.drawing if given else "",
            )
        )
    brand_ft = None if pole.nominal_ft is None else brand_from_butt(pole.nominal_ft)
    brand = None if brand_ft is None else convert_length(brand_ft, source=LengthUnit.FOOT, target=unit)
    return PoleMarks(
        letter=top.letter,
        length=top.length,
        measured=pole.measured is not None,
        depth=top.depth,
        least_depth=least,
        dug=pole.depth is not None,
        brand=None if brand is None else brand - top.depth,
        marks=tuple(sorted(marks, key=lambda mark: mark.drop)),
    )
