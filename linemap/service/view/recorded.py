"""What the record of a job comes to: held against lists and revisions, lacking evidence, and counted."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from linemap.domain.crew.buffer import within_radius
from linemap.domain.crew.hold import Hold
from linemap.domain.crew.in_force import Against, InForce, Move
from linemap.domain.crew.reach import is_by_place
from linemap.domain.crew.recorded_against import OF_STATUS
from linemap.domain.crew.ticket import Ticket
from linemap.domain.design.figures import Figures
from linemap.domain.design.revision import Revised
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Block, Finding
from linemap.domain.finding.phrase import date_words
from linemap.domain.finding.wording.design import loading_code
from linemap.domain.record.event import Event
from linemap.domain.record.status import NOTHING_RECORDED, Key, StepState, StructureStatus
from linemap.domain.schedule.progress import Site
from linemap.domain.survey.shot import Shot
from linemap.errors import NotFound, Problem
from linemap.service.job.stored import Stored
from linemap.service.view.view import JobView
from linemap.store.structures import RecordedChange
from linemap.units import LengthUnit


def with_places(stored: Stored, figures: Figures) -> Stored:
    """Give holds and tickets what lies between ends whose numbers do not tell it, or within their radius.

    Where an end is listed no more, a hold is on the whole line, and a ticket for the other end alone.
    """
    keys = figures.keys()

    def between(record: Hold | Ticket, *, lost: bool) -> tuple[str, ...]:
        first, last = record.from_structure, record.to_structure
        if not is_by_place(first, last):
            return ()
        mine = [number for line, number in keys if record.line in {"", line}]
        if not {first, last} - {""} <= {*mine}:
            return tuple(mine) if lost else ()
        ends = sorted((mine.index(first) if first else 0, mine.index(last) if last else len(mine) - 1))
        return tuple(mine[ends[0] : ends[1] + 1])

    def held(hold: Hold) -> Hold:
        if hold.radius is not None:
            return within_radius(figures, hold)
        found = between(hold, lost=True)
        return replace(hold, between=found) if found else hold

    def covered(ticket: Ticket) -> Ticket:
        found = between(ticket, lost=False)
        return replace(ticket, between=found) if found else ticket

    return replace(
        stored,
        holds=tuple(map(held, stored.holds)),
        holds_before=tuple((held(hold), at) for hold, at in stored.holds_before),
        tickets=tuple(map(covered, stored.tickets)),
        tickets_ever=tuple(map(covered, stored.tickets_ever)),
    )


def changes_of(stored: Stored) -> dict[Key, list[Revised]]:
    """Return what revisions changed at each structure, oldest first."""
    gathered: dict[Key, list[Revised]] = {}
    for line, recorded in stored.changed:
        called = stored.naming.called((line, recorded.change.number))
        gathered.setdefault((line, recorded.change.number), []).append(
            Revised(revision=_label(recorded), change=replace(recorded.change, called=called))
        )
    return gathered


def in_force_of(stored: Stored, tolerances: Tolerances, *, zone: str) -> InForce:
    """Return what records are held against: holds, tickets, moves of the structure list."""
    moves: dict[Key, list[Move]] = {}
    revised: dict[Key, list[tuple[dt.datetime, Revised]]] = {}
    for line, recorded in stored.changed:
        key = (line, recorded.change.number)
        told = Revised(revision=_label(recorded), change=recorded.change)
        if recorded.kind == "structures" and told.is_of_the_place:
            called = stored.naming.called(key)
            told = replace(told, change=replace(told.change, called=called))
            revised.setdefault(key, []).append((recorded.loaded_at, told))
        if recorded.change.change == "moved" and "distance" in recorded.change.values:
            move = Move(at=recorded.loaded_at, revision=_label(recorded), **recorded.change.values)
            moves.setdefault(key, []).append(move)
    limit = stored.record.settings.get("wind_limit_mph")
    return InForce(
        holds=stored.holds,
        holds_before=stored.holds_before,
        tickets=stored.tickets_ever,
        tickets_since=stored.tickets_since,
        moves=moves,
        move_limit=tolerances.across.value,
        wind_limit_mph=None if limit in (None, "") else float(limit),
        revised=revised,
        lists=stored.naming.numbers,
        zone=ZoneInfo(zone) if zone else None,
    )


def _label(recorded: RecordedChange) -> str:
    return f"Rev {recorded.label}" if recorded.label else date_words(recorded.loaded_at.date())


def loading_found(stored: Stored, figures: Figures) -> Iterator[Block]:
    """Give what loading left out or took with a question, at the listed structure that its row names."""
    row_of = {key: row for row, key in enumerate(figures.keys())}
    by_code: dict[str, list[tuple[str, Problem]]] = {}
    for kind, problem in stored.problems:
        by_code.setdefault(loading_code(kind, problem.severity, problem.column), []).append((kind, problem))

    def place(problem: Problem) -> int:
        return row_of.get((problem.line or figures.only_line, problem.structure), -1)

    def column(values: Iterable[object]) -> NDArray[np.object_]:
        return np.array([*values], dtype=np.object_)

    for code, found in by_code.items():
        problems = [problem for _, problem in found]
        yield Block(
            code=code,
            rows=np.array([place(problem) for problem in problems], dtype=np.int64),
            part=column(f"{each.file}, row {each.row or 'none'}, {each.column}" for each in problems),
            values={
                "kind": column(kind for kind, _ in found),
                "row": column(each.row for each in problems),
                **{
                    name: column(getattr(each, name) for each in problems)
                    for name in ("file", "column", "reason", "remedy")
                },
            },
        )


def shown_events(events: Iterable[Event], day: dt.date) -> list[Event]:
    """Return the events that had happened by the end of the day shown."""
    return [event for event in events if event.moment.date() <= day]


def recorded_findings(
    statuses: Mapping[Key, StructureStatus], against: Mapping[Key, Against]
) -> dict[Key, tuple[Finding, ...]]:
    """Return what the record itself gives to look at, and what of it went against lists, by structure.

    What a status finds that is a case is told as long as the case is open.
    """
    found = {key: status.findings for key, status in statuses.items() if status.findings}
    for key, judged in against.items():
        own = (each for each in found.get(key, ()) if each.code not in OF_STATUS)
        found[key] = (*own, *judged.open)
    return {key: told for key, told in found.items() if told}


_SURVEYED = "surveyed"
_NOTHING: Mapping[Key, StructureStatus] = MappingProxyType({})
#: Stands for the crew where shots are the record.
_SURVEY = "survey files"


def all_events(view: JobView) -> list[Event]:
    """Return the whole record of the job."""
    return [event for events in view.events_by_structure.values() for event in events]


def sites_of(
    view: JobView, *, line: str = "", statuses: Mapping[Key, StructureStatus] = _NOTHING
) -> tuple[Site, ...]:
    """Return what counting needs to know of every structure of a line, or of all lines, in line order."""
    if line and line not in {one.name for one in view.figures.lines}:
        raise NotFound(
            f"the job has no line {line}; it has {', '.join(one.name for one in view.figures.lines)}"
        )
    return tuple(site for site in _all_sites(view, statuses) if line in {"", site.line})


def _all_sites(view: JobView, statuses: Mapping[Key, StructureStatus]) -> tuple[Site, ...]:
    figures = view.figures
    named = {(guy.line, guy.structure) for guy in view.guys}
    guyed_known = bool(named) or any(entry.guyed is not None for entry in view.types.values())
    found = []
    for row, mile in enumerate(figures.miles().tolist()):
        line, number = view.key(row)
        entry = view.types.get(figures.structures.type_code[row])
        distance = float(figures.true_distance[row])
        span = float(figures.ahead_span[row])
        found.append(
            Site(
                line=line,
                number=number,
                distance=distance,
                mile=mile,
                weight=1.0 if entry is None else entry.weight,
                section_break=bool(figures.structures.section_break[row]),
                guyed=(line, number) in named or (entry is not None and bool(entry.guyed))
                if guyed_known
                else bool(figures.structures.section_break[row] or figures.deflection_deg[row]),
                ahead_span=None if math.isnan(span) else span,
                status=statuses.get((line, number), NOTHING_RECORDED),
            )
        )
    return tuple(found)


def in_kilometres(view: JobView) -> bool:
    """Say whether a job counts kilometres: where its ground unit is the metre."""
    return view.unit is LengthUnit.METRE


def with_survey(
    view: JobView, statuses: Mapping[Key, StructureStatus], day: dt.date
) -> dict[Key, StructureStatus]:
    """Count structures that have shots as surveyed, from the day of the first: the survey is a record too."""
    found = dict(statuses)
    if view.workflow.step(_SURVEYED) is None:
        return found
    for key, shots in view.shots_by_structure.items():
        seen = sorted(shot.observed_on for shot in shots if shot.item == "pole" and _is_day(shot))
        status = found.get(key, NOTHING_RECORDED)
        if not seen or seen[0] > day.isoformat() or _SURVEYED in status.done or key not in view.row_of:
            continue
        at = dt.datetime.fromisoformat(seen[0]).replace(tzinfo=dt.UTC)
        state = StepState(at, _SURVEY, "", "")
        found[key] = replace(status, done={**status.done, _SURVEYED: state})
    return found


def _is_day(shot: Shot) -> bool:
    try:
        dt.date.fromisoformat(shot.observed_on)
    except ValueError:
        return False
    return True
