"""Framing marks of one structure of a job, as a page, a sheet or a command shows them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from linemap.answers import marks as answer
from linemap.domain.crew.material import bundle, bundle_sentences
from linemap.domain.design.lengths import wood_text
from linemap.domain.design.structure import Pole
from linemap.domain.finding.phrase import Called, listed_poles, pole_names
from linemap.domain.framing.dig import Frame, FramePole
from linemap.domain.framing.mark_words import brand_checks, mark_sentences
from linemap.domain.framing.marks import Mark, PoleMarks, mark_structure
from linemap.errors import InputRefused, Problem
from linemap.kinds.registry import RECEIPTS
from linemap.service.view.lists import finder_of
from linemap.service.view.view import JobView
from linemap.units import LengthUnit

#: Printed wherever a mark or a depth is shown.
MARKS_CAUTION = (
    "Marks and depths are computed from the framing table, the pole schedule and the ground levels loaded "
    "into this job. The owner's stamped drawing and specification govern: check drawing number, revision and "
    "pole brand before digging, marking or drilling. A depth shown here is no permission to dig."
)

_TURNED = (
    "the survey found {pair} the other way round: read the brands before marking, "
    "the marks below go by the {names} of the schedule"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AsFound:
    """What somebody measured at the structure, in the line's ground unit; it goes before every list.

    Poles are written as people write them, by their letters or in the owner's words.
    """

    #: Pole -> measured length.
    lengths: Mapping[str, float] = field(default_factory=dict)
    #: Pole -> depth as dug.
    depths: Mapping[str, float] = field(default_factory=dict)
    #: Pole -> height of the brand above the ground as seen, negative below it.
    brands: Mapping[str, float] = field(default_factory=dict)
    #: Distance between the pole axes at the ground line; None = not measured.
    spacing: float | None = None
    #: Design elevation of the arm bolts; None = by the type's drop.
    arm_elevation: float | None = None


def marks_of(
    view: JobView, line_name: str, number: str, *, found: AsFound | None = None
) -> answer.PanelMarks:
    """Return the marks of one structure, for a page, a sheet or a command.

    Raises
    ------
    NotFound
        If the job has no such structure; the line may be "" when it has one line.
    InputRefused
        If something is measured on a pole the structure does not have, or is no positive length.
    """
    row = view.row(line_name, number)
    line = view.figures.line_of(row)
    found = _by_letter(view, row, found or AsFound())
    code = str(view.figures.structures.type_code[row])
    framing = view.framing.get(code)
    frame = _frame(view, row, found, unit=line.unit)
    marks = mark_structure(frame, framing)
    rule = framing.embedment if framing else None
    scheduled = view.poles_by_structure.get(view.key(row), [])
    receipts = finder_of(view, RECEIPTS)(line.name, frame.number)
    pieces = framing.pieces if framing else {}
    return answer.PanelMarks(
        line=line.name,
        number=frame.number,
        type=code,
        unit=line.unit.symbol,
        spacing_text=_spacing_text(frame),
        poles=[_pole(pole, line.unit) for pole in marks.poles],
        sentences=[
            *([_turned_words(view, row)] if bool(view.checks.reversed[row]) else []),
            *mark_sentences(frame, marks, rule=rule),
            *brand_checks(frame, marks, found.brands),
        ],
        unavailable=list(marks.unavailable),
        drawings=list(framing.drawings) if framing else [],
        bundle=[f"{count} × {item}" for item, count in bundle(scheduled, pieces).items()],
        material=list(bundle_sentences(receipts, scheduled, pieces)),
        caution=MARKS_CAUTION,
    )


def arm_elevation(view: JobView, row: int) -> float:
    """Return the elevation of the arm bolts by type, schedule and ground; nan where it is not known."""
    line = view.figures.line_of(row)
    framing = view.framing.get(str(view.figures.structures.type_code[row]))
    arm = mark_structure(_frame(view, row, AsFound(), unit=line.unit), framing).arm
    return float("nan") if arm is None else arm.elevation


def _by_letter(view: JobView, row: int, found: AsFound) -> AsFound:
    """Return what was measured by the letters of the poles; what is no pole stays as written."""

    def lettered(measured: Mapping[str, float]) -> dict[str, float]:
        line, number = view.key(row)
        return {view.naming.letters(pole, number, line) or pole: value for pole, value in measured.items()}

    return replace(
        found,
        lengths=lettered(found.lengths),
        depths=lettered(found.depths),
        brands=lettered(found.brands),
    )


def _turned_words(view: JobView, row: int) -> str:
    names = "letters" if view.naming.poles.is_plain else "pole names"
    return _TURNED.format(pair=view.figures.outer_poles(row), names=names)


def _frame(view: JobView, row: int, found: AsFound, *, unit: LengthUnit) -> Frame:
    structures = view.figures.structures
    letters = view.figures.letters_of(row)
    _check(found, letters, structures.number[row], view.figures.called(row))
    scheduled = {pole.letter: pole for pole in view.poles_by_structure.get(view.key(row), [])}
    spacing, source = _spacing(view, row, found)
    return Frame(
        number=structures.number[row],
        type_code=str(structures.type_code[row]),
        called=view.figures.called(row),
        poles=tuple(_frame_pole(letter, scheduled.get(letter), found) for letter in letters),
        spacing=spacing,
        spacing_source=source,
        spacing_tolerance=view.tolerances.spacing.value,
        arm_elevation=found.arm_elevation,
        unit=unit,
    )


def _frame_pole(letter: str, scheduled: Pole | None, found: AsFound) -> FramePole:
    known = FramePole(letter=letter, measured=found.lengths.get(letter), depth=found.depths.get(letter))
    if scheduled is None:
        return known
    return replace(known, nominal_ft=scheduled.length_ft, ground=scheduled.ground_elevation)


def _spacing(view: JobView, row: int, found: AsFound) -> tuple[float | None, str]:
    """Return the spacing that is there: measured, else surveyed, else by design; and which it is."""
    surveyed = float(view.checks.measured_spacing[row])
    design = float(view.figures.structures.spacing[row])
    if found.spacing is not None:
        return found.spacing, "measured"
    if not np.isnan(surveyed):
        return surveyed, "surveyed"
    return (None if np.isnan(design) else design), "design"


def _check(found: AsFound, letters: str, number: str, called: Called) -> None:
    measured = {"length": found.lengths, "depth": found.depths, "brand": found.brands}
    problems = [
        Problem(
            file="",
            column=what,
            value=f"{called.get(letter, letter)}={value:g}",
            reason=fault,
            remedy=f"write it like {called['A']}=75.4, in the job's unit",
        )
        for what, values in measured.items()
        for letter, value in values.items()
        if (fault := _fault(letter, value, letters, number, what, called))
    ]
    if found.spacing is not None and not 0.0 < found.spacing < np.inf:
        given = f"{found.spacing:g}"
        problems.append(
            Problem(file="", column="spacing", value=given, reason="is no distance between poles")
        )
    if found.arm_elevation is not None and not np.isfinite(found.arm_elevation):
        given = f"{found.arm_elevation:g}"
        problems.append(Problem(file="", column="arm elevation", value=given, reason="is no elevation"))
    if problems:
        raise InputRefused(problems)


def _fault(letter: str, value: float, letters: str, number: str, what: str, called: Called) -> str:
    if letter not in [*letters]:
        return f"{number} has no {pole_names(letter, called)}, only {listed_poles(letters, called)}"
    if not np.isfinite(value) or (what != "brand" and value <= 0.0):
        return f"is no {what} of a pole"
    return ""


def _spacing_text(frame: Frame) -> str:
    if frame.spacing is None:
        return "not available: the structure list gives no spacing"
    return f"{_decimal(frame.spacing, frame.unit)} {frame.spacing_source}"


def _decimal(length: float, unit: LengthUnit) -> str:
    return f"{length:.{3 if unit is LengthUnit.METRE else 2}f} {unit.symbol}"


def _pole(pole: PoleMarks, unit: LengthUnit) -> answer.PanelMarkedPole:
    return answer.PanelMarkedPole(
        letter=pole.letter,
        length_text=_decimal(pole.length, unit) + (" measured" if pole.measured else ""),
        depth=round(pole.depth, 4),
        depth_text=_decimal(pole.depth, unit) + (" as dug" if pole.dug else ""),
        depth_wood=wood_text(pole.depth, unit),
        least_depth_text="" if pole.least_depth is None else _decimal(pole.least_depth, unit),
        brand=None if pole.brand is None else round(pole.brand, 4),
        brand_text="" if pole.brand is None else _decimal(pole.brand, unit),
        marks=[_mark(mark, unit) for mark in pole.marks],
    )


def _mark(mark: Mark, unit: LengthUnit) -> answer.PanelMark:
    return answer.PanelMark(
        name=mark.name,
        drop=round(mark.drop, 4),
        drop_wood=wood_text(mark.drop, unit),
        drop_text=_decimal(mark.drop, unit),
        from_butt=round(mark.from_butt, 4),
        butt_wood=wood_text(mark.from_butt, unit),
        butt_text=_decimal(mark.from_butt, unit),
        above_text=_decimal(mark.above_ground, unit),
        drawing=mark.drawing,
    )
