"""What every surface says of a structure: panel, phone card and paper card take it from here alone."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np

from linemap.answers.structure import (
    Frame,
    History,
    SpanCrossing,
    StructureDesign,
    StructureHold,
    StructurePole,
    StructureRecord,
)
from linemap.answers.survey import FindingEntry
from linemap.domain.crew.hold import Hold
from linemap.domain.crew.refusal import stop_words, stopped_steps
from linemap.domain.design.structure import Pole
from linemap.domain.design.surroundings import Crossing
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.ledger import Surface
from linemap.domain.kind.kind import Place
from linemap.domain.record.event import Event
from linemap.domain.record.signing import who_words
from linemap.domain.record.status import Key
from linemap.domain.record.workflow import Workflow
from linemap.domain.survey.orientation import landmark_words
from linemap.geometry.bearing import format_deflection, wrap180
from linemap.kinds.registry import HOLDS
from linemap.service.view.cases import open_cases_at
from linemap.service.view.contents import event_line
from linemap.service.view.crew_checks import crew_checks_at
from linemap.service.view.lists import finder_of, lists_at
from linemap.service.view.punch import punch_at
from linemap.service.view.view import JobView


def design_at(view: JobView, row: int, place: Place) -> StructureDesign:
    """Return what lists say of the structure of a row to who reads a panel, a card or paper."""
    figures = view.figures
    decimals = 0 if place == "card" else 2
    line, code = figures.line_of(row), str(figures.structures.type_code[row])
    known = view.types.get(code)
    key = view.key(row)
    return StructureDesign(
        number=key[1],
        station_text=line.station_text(float(figures.station[row])),
        region=int(figures.station_region[row]) if line.stationing.equations else None,
        back=neighbour_of(view, row, -1),
        ahead=neighbour_of(view, row, 1),
        back_span_text=length_text(view, row, float(figures.back_span[row]), decimals=decimals),
        ahead_span_text=length_text(view, row, float(figures.ahead_span[row]), decimals=decimals),
        type=code,
        type_words=known.words if known is not None else "",
        deflection_text=format_deflection(float(figures.deflection_deg[row])) if figures.at_pi[row] else "",
        poles=[
            _pole(view, row, pole)
            for pole in sorted(view.poles_by_structure.get(key, []), key=lambda pole: pole.letter)
        ],
        pole_words=pole_words_at(view, row),
        verdict=str(view.checks.verdict[row]),
        reversed=bool(view.checks.reversed[row]),
        crossings=[_crossing(each) for each in crossings_at(view, row)],
        changes=[change.words for change in view.changes_by_structure.get(key, ())],
        lists=lists_at(view, row, place),
    )


def pole_words_at(view: JobView, row: int) -> list[str]:
    """Return what the owner calls the poles of a structure, in the order of A, B and C."""
    called = view.figures.called(row)
    return [called[letter] for letter in view.figures.letters_of(row)]


def record_at(view: JobView, row: int, surface: Surface) -> StructureRecord:
    """Return what changes at the structure of a row with every record, with the findings a surface shows."""
    return StructureRecord(
        holds=[hold_at(view, hold) for hold in view.holds_by_row.get(row, [])],
        look_first=[entry_of(finding, view.workflow) for finding in view.ledger.on("top", row)],
        findings=[finding.words for finding in view.ledger.on(surface, row)],
        cases=open_cases_at(view, view.key(row)),
        punch=punch_at(view, row),
        crew_checks=crew_checks_at(view, row),
    )


def _pole(view: JobView, row: int, pole: Pole) -> StructurePole:
    level = math.nan if pole.ground_elevation is None else pole.ground_elevation
    return StructurePole(
        letter=pole.letter,
        length_text="" if pole.length_ft is None else f"{pole.length_ft:g} ft",
        pole_class=pole.pole_class,
        ground_text=length_text(view, row, level),
        ground_wire=pole.ground_wire,
    )


def dated_holds(view: JobView, row: int, *, since: dt.date | None = None) -> list[Hold]:
    """Return the holds of a structure that are in force on the day shown, or to come, by when they begin.

    With `since` those too that were over in between, unless they were released.
    """
    day = view.as_of
    found = [
        hold
        for hold in finder_of(view, HOLDS)(*view.key(row))
        if hold.standing(day) != "over"
        or (since is not None and hold.released_on is None and hold.standing(since) != "over")
    ]
    return sorted(found, key=lambda hold: "" if hold.active(day) else hold.term.begins)


def holds_to_come(view: JobView, row: int) -> list[str]:
    """Return the holds of a structure that begin after the day shown, one sentence each."""
    later = (hold for hold in dated_holds(view, row) if hold.standing(view.as_of) == "to come")
    return [f"to come: {hold.without_reason().sentence()}" for hold in later]


def hold_at(view: JobView, hold: Hold) -> StructureHold:
    """Return a hold as panel and card show it."""
    return StructureHold(
        id=hold.id,
        sentence=hold.sentence(),
        kind="conditional" if hold.conditional else "hold",
        activities=list(hold.activities),
        stops=[step.code for step in view.workflow.order() if hold.stops(step.code)],
        until="" if hold.to_date is None else hold.to_date.isoformat(),
        begins=hold.term.begins,
        ends=hold.term.ends,
        condition=hold.condition,
    )


def _crossing(crossing: Crossing) -> SpanCrossing:
    return SpanCrossing(
        what=crossing.what,
        span=f"{crossing.back_structure} to {crossing.ahead_structure}",
        rule=crossing.rule,
        caution="treat as energized" if crossing.energized else "",
    )


def crossings_at(view: JobView, row: int) -> list[Crossing]:
    """Return what the line crosses in the spans back and ahead of a structure."""
    line, number = view.key(row)
    return [
        crossing
        for crossing in view.crossings
        if crossing.line in ("", line) and number in (crossing.back_structure, crossing.ahead_structure)
    ]


def length_text(view: JobView, row: int, length: float, *, decimals: int = 2) -> str:
    """Print a ground length in the unit of a structure's line, "" for nan."""
    symbol = view.figures.line_of(row).unit.symbol
    return "" if math.isnan(length) else f"{length:,.{decimals}f} {symbol}"


def neighbour_of(view: JobView, row: int, step: int) -> str:
    """Return the number of the structure back (-1) or ahead (1), "" beyond the ends of the line."""
    other = view.figures.neighbour(row, step)
    return "" if other is None else str(view.figures.structures.number[other])


def landmark_at(view: JobView, row: int) -> str:
    """Say which pole is the first one by what a person there sees."""
    return landmark_words(
        view.figures.line_of(row),
        back=neighbour_of(view, row, -1),
        here=view.figures.structures.number[row],
        ahead=neighbour_of(view, row, 1),
        pole_count=int(view.figures.structures.pole_count[row]),
        called=view.figures.called(row),
    )


def frame_at(view: JobView, row: int) -> Frame:
    """Return the plan of a frame; without a known spacing the poles stand at equal distances."""
    figures = view.figures
    azimuth = float(figures.structure_azimuth_deg[row])
    letters = figures.letters_of(row)
    ahead, right = figures.in_frame(row, figures.poles[row, : len(letters)])
    known = bool(np.isfinite(ahead).all())
    if not known:
        letters = figures.left_to_right(row)
        right, ahead = np.linspace(-1.0, 1.0, len(letters)), np.zeros(len(letters))
    return Frame(
        back_deg=round(wrap180(float(figures.azimuth_back_deg[row]) + 180.0 - azimuth), 1),
        ahead_deg=round(wrap180(float(figures.azimuth_ahead_deg[row]) - azimuth), 1),
        to_scale=known,
        poles=[
            (letter, round(x, 2), round(y, 2))
            for letter, x, y in zip(letters, right.tolist(), ahead.tolist(), strict=True)
        ],
    )


def history_at(view: JobView, row: int) -> list[History]:
    """Return what was recorded at a structure in the order it happened, then the releases of its holds."""
    line, number = view.key(row)
    # a reader who may not see an item sees no record of it
    seen = [e for e in view.events_by_structure.get((line, number), []) if e.what != "punch" or e.content]
    events = sorted(seen, key=lambda event: (event.happened_at, event.id))
    released = [
        History(id=release.hold.id, when=release.at.isoformat(timespec="minutes"), text=release.sentence())
        for release in view.releases
        if release.hold.reach.covers(line, number)
    ]
    called = view.figures.called(row)
    recorded = [
        History(
            id=event.id,
            when=event.happened_at.isoformat(timespec="minutes"),
            text=", ".join(filter(None, (event_line(event, called), who_words(event), _whence(view, event)))),
            movable=event.what not in {"case", "moved"}
            and event.result != "withdrawn"
            and event.id not in view.corrected,
        )
        for event in events
    ]
    return [*recorded, *released]


def _whence(view: JobView, event: Event) -> str:
    """Say where a record was recorded that was moved here; "" = here."""
    moved = view.moved.get(event.id)
    return "" if moved is None else f"recorded at {view.named(moved.source)}"


def wrong_at(view: JobView, row: int) -> list[str]:
    """Say what is wrong with what stands at a structure, by the survey and the crew's own record."""
    found = view.ledger.on("card", row)
    return [each.words for each in found if each.severity is Severity.WRONG and each.asks != "office"]


def wrong_of(view: JobView) -> dict[Key, tuple[str, ...]]:
    """Return what `wrong_at` says, by (line, number) of the structures where something is wrong."""
    rows = np.flatnonzero(view.ledger.worst("card") >= Severity.WRONG).tolist()
    found = {view.key(row): tuple(wrong_at(view, row)) for row in rows}
    return {key: words for key, words in found.items() if words}


def stops_of(view: JobView) -> dict[Key, tuple[Finding, ...]]:
    """Return the findings that stop work, by (line, number) of the structures that have any."""
    rows = np.flatnonzero(view.ledger.worst("top") >= Severity.STOPS).tolist()
    return {
        view.key(row): tuple(each for each in view.ledger.on("top", row) if each.stop is not None)
        for row in rows
    }


def entry_of(finding: Finding, workflow: Workflow) -> FindingEntry:
    """Return a finding as an answer carries it."""
    return FindingEntry(
        id=finding.id,
        code=finding.code,
        part=finding.part,
        severity=finding.severity.label,
        asks=finding.asks,
        closes=finding.closes,
        since=None if finding.since is None else finding.since.isoformat(),
        values={name: _plain(value) for name, value in finding.values.items()},
        words=finding.words,
        stops=stopped_steps(finding, workflow),
        in_the_way=stop_words(finding),
    )


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dt.date):
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else value
