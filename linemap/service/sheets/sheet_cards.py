"""What structure cards say: place, sketch, poles, marks, holds, crossings, open steps of one structure."""

from __future__ import annotations

from collections.abc import Sequence

from linemap.answers.structure import StructureDesign, StructurePole
from linemap.domain.design.revision import Revised
from linemap.domain.record.reading import words_of
from linemap.domain.record.replay import replay, standing_events, without_corrected
from linemap.domain.record.status import NOTHING_RECORDED
from linemap.domain.survey.words import residual_words
from linemap.report.sheets.card import Card
from linemap.service.view.guys import guys_in_short
from linemap.service.view.lists import lists_in_words
from linemap.service.view.marks import marks_of
from linemap.service.view.structure import (
    crossings_at,
    design_at,
    frame_at,
    landmark_at,
    neighbour_of,
    record_at,
    region_of,
    span_text,
)
from linemap.service.view.view import JobView


def plain_code(view: JobView, row: int) -> str:
    """Return the code that names a structure on paper: its number, after its line where there are several.

    Typed into the search of a page it finds the structure again.
    """
    line, number = view.key(row)
    return number if len(view.figures.lines) == 1 else f"{line} {number}"


def card_of(view: JobView, row: int) -> Card:
    """Return the card of one structure.

    Parameters
    ----------
    view : JobView
        As its reader may see it.
    row : int
    """
    line, design = view.figures.line_of(row), design_at(view, row)
    return Card(
        number=design.number,
        code=plain_code(view, row),
        facts=_facts(view, row, design),
        back=neighbour_of(view, row, -1) or line.back_end,
        ahead=neighbour_of(view, row, 1) or line.ahead_end,
        frame=frame_at(view, row),
        poles={pole.letter: _pole_words(pole) for pole in design.poles},
        notes=_notes(view, row, design),
    )


def _facts(view: JobView, row: int, design: StructureDesign) -> tuple[str, ...]:
    figures, region = view.figures, region_of(view, row)
    kind = ", ".join(part for part in (design.type, design.type_words) if part) if design.type else ""
    ways = (("back", span_text(view, row, -1)), ("ahead", span_text(view, row, 1)))
    spans = ", ".join(f"{way} {span}" for way, span in ways if span)
    facts = (
        f"station {design.station_text}" + ("" if region is None else f" (R{region})"),
        f"type {kind}" if kind else "",
        f"turn {design.deflection_text}" if design.deflection_text else "",
        f"span {spans}" if spans else "",
        f"{figures.latitude[row]:.6f}, {figures.longitude[row]:.6f} (latitude, longitude)",
    )
    return tuple(fact for fact in facts if fact)


def _pole_words(pole: StructurePole) -> str:
    parts = (
        pole.length_text,
        f"class {pole.pole_class}" if pole.pole_class else "",
        "ground wire" if pole.ground_wire else "",
    )
    return ", ".join(part for part in parts if part)


def _notes(view: JobView, row: int, design: StructureDesign) -> tuple[tuple[str, tuple[str, ...]], ...]:
    key = view.key(row)
    status = view.statuses.get(key, NOTHING_RECORDED)
    open_steps = view.workflow.open_steps(status.done)
    record = record_at(view, row, "card")
    judged = "A and B reversed, " * design.reversed + design.verdict
    return (
        ("HOLDS", tuple(hold.sentence for hold in record.holds) or (f"none entered as of {view.as_of}",)),
        ("Which pole is A", (landmark_at(view, row),)),
        ("Crossings in the spans", _crossings(view, row)),
        ("Steps", ("not recorded: " + ", ".join(view.workflow.words(step) for step in open_steps),)
         if open_steps else ()),
        ("Lists", lists_in_words(view, row, "paper")),
        ("Revisions", _revisions(view.changes_by_structure.get(key, ()))),
        ("Guys", guys_in_short(view, row)),
        ("Depths and marks", _marks(view, row)),
        (f"Survey: {judged}", residual_words(view.figures, view.checks, row)),
        ("Readings", _readings(view, row)),
        ("Findings", tuple(record.findings)),
    )  # fmt: skip


def _readings(view: JobView, row: int) -> tuple[str, ...]:
    """Say in one sentence what was measured or seen with the records that count, by step and pole."""
    events = view.events_by_structure.get(view.key(row), [])
    events = [event for event in events if event.moment.date() <= view.as_of]
    counted = without_corrected(events, view.corrected)
    said = []
    for step in view.workflow.steps:
        letters = view.figures.letters_of(row) if step.per == "pole" else ""
        parts = replay([event for event in counted if event.step == step.code], letters=letters)
        for event in standing_events(parts):
            words = words_of(event.all_readings)
            said += [" ".join(filter(None, (step.words, event.pole))) + f": {words}"] if words else []
    return ("; ".join(said),) if said else ()


def _revisions(changes: Sequence[Revised]) -> tuple[str, ...]:
    """Say in one sentence what revisions changed here; changed remarks are on the page of the structure."""
    shown = [change.words for change in changes if not change.is_remark]
    return ("; ".join(shown),) if shown else ()


def _crossings(view: JobView, row: int) -> tuple[str, ...]:
    return tuple(
        f"{crossing.place}: {crossing.what}"
        + (", treat as energized" if crossing.energized else "")
        + (f" ({crossing.rule})" if crossing.rule else "")
        for crossing in crossings_at(view, row)
    )


def _marks(view: JobView, row: int) -> tuple[str, ...]:
    """Say depth and marks of each pole in one sentence each, then what belongs to them."""
    line, number = view.key(row)
    found = marks_of(view, line, number)
    return (
        *(
            f"{pole.letter}: dig {pole.depth_wood}; from the top "
            + ", ".join(f"{mark.name} {mark.drop_wood}" for mark in pole.marks)
            for pole in found.poles
        ),
        *found.sentences,
        *(f"not available: {why}" for why in found.unavailable),
        *((f"drawings {', '.join(found.drawings)}",) if found.drawings else ()),
    )
