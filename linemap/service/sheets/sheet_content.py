"""What the sheets say: structure cards, exceptions by crew, the strip of progress."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from linemap.answers.structure import StructureDesign, StructurePole
from linemap.domain.crew.ticket import Ticket
from linemap.domain.design.revision import Revised
from linemap.domain.finding.phrase import listed_poles
from linemap.domain.record.punch import PunchItem, punch_items
from linemap.domain.record.reading import words_of
from linemap.domain.record.replay import parts_of, standing_events, without_corrected
from linemap.domain.record.signing import of_right_role
from linemap.domain.record.status import NOTHING_RECORDED
from linemap.domain.survey.orientation import residual_words
from linemap.kinds.registry import TICKETS
from linemap.report.sheets.card import Card
from linemap.report.sheets.progress import Wall
from linemap.report.sheets.tables import CrewExceptions, ExceptionRow
from linemap.service.crew.tape_plan import tape_words
from linemap.service.progress.progress import progress_of
from linemap.service.progress.progress_charts import strip_cells
from linemap.service.view.cases import open_cases, open_cases_at
from linemap.service.view.columns import station_texts
from linemap.service.view.lists import finder_of, words_of_lists
from linemap.service.view.marks import marks_of
from linemap.service.view.punch import open_punch, punch_entries
from linemap.service.view.structure import (
    crossings_at,
    design_at,
    frame_at,
    holds_to_come,
    landmark_at,
    record_at,
    wrong_at,
)
from linemap.service.view.surveyed import guys_in_short, is_exception, verdict_words
from linemap.service.view.view import JobView


def card_of(view: JobView, row: int) -> Card:
    """Return the card of one structure of a view as its reader may see it."""
    line, design = view.figures.line_of(row), design_at(view, row, "paper")
    called = view.figures.called(row)
    frame = frame_at(view, row)
    return Card(
        number=design.number,
        code=view.named(view.key(row)),
        facts=_facts(view, row, design),
        back=design.back or line.back_end,
        ahead=design.ahead or line.ahead_end,
        frame=replace(frame, poles=[(called[letter], right, ahead) for letter, right, ahead in frame.poles]),
        poles={called[pole.letter]: _pole_words(pole) for pole in design.poles},
        notes=_notes(view, row, design),
    )


def _facts(view: JobView, row: int, design: StructureDesign) -> tuple[str, ...]:
    figures, region = view.figures, design.region
    kind = ", ".join(part for part in (design.type, design.type_words) if part) if design.type else ""
    ways = (("back", design.back_span_text), ("ahead", design.ahead_span_text))
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
    wrong, held = wrong_at(view, row), (*(hold.sentence for hold in record.holds), *holds_to_come(view, row))
    judged = f"{view.figures.outer_poles(row)} reversed, " * design.reversed + design.verdict
    return (
        ("WRONG", tuple(wrong)),
        ("STOP", tuple(found.in_the_way for found in record.look_first if found.stops)),
        ("TICKETS", _ticket_faults(view, key)),
        ("HOLDS", held or (f"none entered as of {view.as_of}",)),
        (f"Which pole is {view.figures.called(row)['A']}", (landmark_at(view, row),)),
        ("Crossings in the spans", _crossings(view, row)),
        ("Steps", ("not recorded: " + ", ".join(view.workflow.words(step) for step in open_steps),)
         if open_steps else ()),
        ("Lists", words_of_lists(design.lists)),
        ("Punch list", tuple(item.sentence(view.figures.called(row)) for item in open_punch(view, key))),
        ("Revisions", _revisions(view.changes_by_structure.get(key, ()))),
        ("Guys", guys_in_short(view, row)),
        ("Depths and marks", _marks(view, row)),
        (f"Survey: {judged}", residual_words(view.figures, view.checks, row)),
        ("Readings", _readings(view, row)),
        ("Check by tape, before tamping", tape_words(view, row)),
        ("Findings", tuple(words for words in record.findings if words not in wrong)),
    )  # fmt: skip


def _ticket_faults(view: JobView, key: tuple[str, str]) -> tuple[str, ...]:
    """Say how the tickets of a structure stand where none is one to go by; () = one is, or it has none."""
    tickets: Sequence[Ticket] = finder_of(view, TICKETS)(*key)
    if any(ticket.valid(view.as_of) and not ticket.waits_for_answers for ticket in tickets):
        return ()
    return tuple(f"{ticket.number} {ticket.sentence(view.as_of)}" for ticket in tickets)


def _readings(view: JobView, row: int) -> tuple[str, ...]:
    """Say in one sentence what was measured or seen with the records that count, by step and pole."""
    events = view.events_by_structure.get(view.key(row), [])
    events = [event for event in events if event.moment.date() <= view.as_of]
    counted = of_right_role(without_corrected(events, view.corrected), view.workflow.roles)
    said, called = [], view.figures.called(row)
    for step in view.workflow.steps:
        parts = parts_of(
            [event for event in counted if event.step == step.code],
            step.per,
            letters=view.figures.letters_of(row),
            guys=view.guy_names.get(view.key(row), ()),
        )
        for event in standing_events(parts):
            words = words_of(event.all_readings, called)
            pole = listed_poles(event.pole, called)
            said += [" ".join(filter(None, (step.words, pole, event.part))) + f": {words}"] if words else []
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
    found, called = marks_of(view, line, number), view.figures.called(row)
    return (
        *(
            f"{called[pole.letter]}: dig {pole.depth_wood}; from the top "
            + ", ".join(f"{mark.name} {mark.drop_wood}" for mark in pole.marks)
            for pole in found.poles
        ),
        *found.sentences,
        *(f"not available: {why}" for why in found.unavailable),
        *((f"drawings {', '.join(found.drawings)}",) if found.drawings else ()),
    )


#: Stands for the crew where no record names one.
NO_CREW = "crew not recorded"
#: The crew of the last of these that is done answers for where the poles stand.
_PLACING = ("set", "framed", "dug", "spotted", "staked")


def exceptions_by_crew(view: JobView, rows: Sequence[int], *, crew: str = "") -> tuple[CrewExceptions, ...]:
    """Return what the survey and the inspector found, by crew in alphabetical order, without a crew last.

    A structure goes to the crew that set it, else framed, dug, spotted or staked it; a punch item to whom
    it names, else to the crew of its structure; what concerns files, lines and structures in no list to no
    crew, where the rows are all there are. `rows` are in line order; `crew` "" = all.
    """
    stations = station_texts(view.figures)
    found: dict[str, list[ExceptionRow]] = {}
    listed = {*view.ledger.rows_on("exceptions").tolist()}
    listed |= {view.row_of[each.line, each.number] for each in open_cases(view) if not each.unlisted}
    for row in rows:
        if row in listed or is_exception(view, row):
            found.setdefault(_crew_of(view, row), []).append(_row(view, row, str(stations[row])))
    beside = _beside(view) if len(rows) == len(view.figures) else []
    if beside:
        found.setdefault(NO_CREW, []).extend(beside)
    punch: dict[str, list[str]] = {}
    chosen = set(rows)
    for item in punch_items(punch_entries(view), closers=view.punch_roles):
        at = _row_of(view, item)
        if item.open and (at is None or at in chosen):
            owner = item.owner or (NO_CREW if at is None else _crew_of(view, at))
            punch.setdefault(owner, []).append(item.sentence(view.naming.called((item.line, item.structure))))
    names = sorted({*found, *punch}, key=lambda name: (name == NO_CREW, name))
    return tuple(
        CrewExceptions(crew=name, rows=tuple(found.get(name, ())), punch=tuple(punch.get(name, ())))
        for name in names
        if crew in ("", name)
    )


def _beside(view: JobView) -> list[ExceptionRow]:
    sentences: dict[str, list[str]] = {}
    for finding in view.ledger.beside("exceptions"):
        sentences.setdefault(finding.structure or finding.line or "files", []).append(finding.words)
    for case in open_cases(view):
        if case.unlisted and case.words not in sentences.get(case.number, ()):
            sentences.setdefault(case.number, []).append(case.words)
    return [
        ExceptionRow(number=name, station="", verdict="", sentences=tuple(words))
        for name, words in sentences.items()
    ]


def _crew_of(view: JobView, row: int) -> str:
    status = view.statuses.get(view.key(row))
    done = {} if status is None else status.done
    return next((done[step].crew for step in _PLACING if step in done and done[step].crew), NO_CREW)


def _row(view: JobView, row: int, station: str) -> ExceptionRow:
    residuals = residual_words(view.figures, view.checks, row)
    findings = (finding.words for finding in view.ledger.on("exceptions", row))
    cases = (each.words for each in open_cases_at(view, view.key(row)))
    causes = (f"likely cause, proposed: {cause.words}" for cause in view.causes_at(row))
    return ExceptionRow(
        number=str(view.figures.structures.number[row]),
        station=station,
        verdict=verdict_words(view, row),
        sentences=(*dict.fromkeys((*residuals, *findings, *cases)), *causes),
    )


def _row_of(view: JobView, item: PunchItem) -> int | None:
    return view.row_of.get((item.line or view.figures.only_line, item.structure))


def wall_of(
    view: JobView,
    rows: Sequence[int],
    *,
    line: str = "",
) -> Wall:
    """Return the miles in which chosen structures stand, each mile whole."""
    progress = progress_of(view, line=line)
    chosen = {view.key(row) for row in rows}
    return Wall(
        mile_word=progress.mile_word,
        rows=tuple(
            row for row in progress.miles if any((row.line, number) in chosen for number in row.structures)
        ),
        cells=strip_cells(view, progress),
        counts="; ".join(f"{count.words} {len(count.done)} of {count.of}" for count in progress.counts),
    )
