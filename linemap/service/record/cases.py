"""The cases of a job for whoever asks, and who may answer, close and move what."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from linemap.answers import case as answer
from linemap.domain.record.case import is_asked, may_close, read_act
from linemap.domain.record.chain import canonical_json
from linemap.domain.record.event import Event, What
from linemap.domain.record.moved import as_listed, read_moved
from linemap.domain.record.person import Audience, Person, Role
from linemap.domain.record.status import Key
from linemap.errors import InputRefused, NotFound
from linemap.service.record.known import what_is_known
from linemap.service.record.record import record_events
from linemap.service.view.cases import all_cases, case_entry
from linemap.service.view.contents import event_line
from linemap.service.view.view import CAUTION, JobView
from linemap.store.database import Database

#: Who moves records of others too.
_MOVES = frozenset({Role.INSPECTOR, Role.SURVEYOR, Role.MANAGER})


def case_list(view: JobView, person: Person, *, state: str = "open", yours: bool = False) -> answer.CaseList:
    """Return the cases: those that are "open" (answered ones too), the "closed" ones, or "all"."""
    cases = [
        case
        for case in all_cases(view)
        if (state == "all" or case.is_open == (state == "open")) and (not yours or is_asked(case, person))
    ]
    counted = case_count(view, person)
    return answer.CaseList(
        data_version=view.data_version,
        as_of=view.as_of.isoformat(),
        when=view.when.words,
        open=counted.open,
        yours=counted.yours,
        cases=[
            answer.CaseForYou(
                **vars(case_entry(view, case)),
                yours=is_asked(case, person),
                may_close=may_close(case, person),
            )
            for case in sorted(cases, key=lambda case: not case.is_open)
        ],
        caution=CAUTION,
    )


def case_count(view: JobView, person: Person) -> answer.CaseCount:
    """Return how many cases are open, and how many of them are a person's to answer; the public sees none."""
    told = {} if person.audience is Audience.PUBLIC else view.cases
    cases = [case for found in told.values() for case in found if case.is_open]
    mine = sum(is_asked(case, person) for case in cases)
    gone = sorted({case.finding.key for case in cases}.difference(view.row_of))
    return answer.CaseCount(
        data_version=view.data_version, open=len(cases), yours=mine, unlisted=[*map(view.named, gone)]
    )


def act_on_case(
    database: Database, view: JobView, name: str, act: str, *, text: str, by: str, now: dt.datetime
) -> str:
    """Answer, close or open again a case by its name, at the machine of the job; say what was done.

    Raises
    ------
    NotFound
        If there is no such case.
    InputRefused
        If it says nothing, or nobody.
    """
    case = next((each for each in all_cases(view) if each.finding.id == name), None)
    if case is None:
        raise NotFound(f"the job has no case {name}; linemap cases JOB --all lists them")
    about = {
        "act": act,
        "code": case.finding.code,
        "part": case.finding.part,
        "records": list(case.records),
    }
    event = _event(case.finding.line, case.finding.structure, "case", about, note=text, by=by, now=now)
    _record(database, view, event)
    return event_line(event, view.naming.called(event.key)) + f" at {event.structure}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """What is asked of a record that stands at the wrong place."""

    #: Its identifier, or the beginning of it.
    record: str
    to: str = ""
    #: "" = as recorded.
    pole: str = ""
    line: str = ""
    why: str = ""
    by: str = ""
    #: True to take its last move back instead.
    back: bool = False


def records_at(view: JobView, line: str, number: str) -> list[str]:
    """Return the records of a structure, listed or not, each in a line that begins with its identifier."""
    key = _place(view, line, number)
    called = view.naming.called(key)
    return [
        f"{event.id[:8]}  {event.happened_at.isoformat(timespec='minutes')}  {event_line(event, called)}"
        for event in view.events_by_structure.get(key, ())
    ]


def move_record(
    database: Database, view: JobView, line: str, number: str, asked: Move, *, now: dt.datetime
) -> str:
    """Move a record, or take its move back, at the machine of the job; say what was done.

    Raises
    ------
    NotFound
        If there is no such record or structure.
    InputRefused
        If it says not where to, why or who.
    """
    key = _place(view, line, number)
    record = _named(view.events_by_structure.get(key, ()), asked.record, number)
    if asked.back:
        return _moved_back(database, view, record, asked, now=now)
    if not asked.to.strip() or not asked.why.strip():
        remedy = 'write: --to 2/5 --why "recorded at the wrong structure" --by NAME'
        raise InputRefused.at("--to", asked.to, "a record is moved to a structure, and for a reason", remedy)
    target = view.key(view.row(asked.line or key[0], asked.to))
    about = {"event": record.id, "line": target[0], "structure": target[1]}
    if asked.pole:
        about["pole"] = view.naming.letters(asked.pole, target[1], target[0])
    _record(database, view, _event(*key, "moved", about, note=asked.why, by=asked.by, now=now))
    return f"moved from {number} to {target[1]}: {event_line(record, view.naming.called(key))}"


def _moved_back(database: Database, view: JobView, record: Event, asked: Move, *, now: dt.datetime) -> str:
    source = view.moved[record.id].source if record.id in view.moved else record.key
    moves = [
        each
        for each in view.events_by_structure.get(source, ())
        if each.what == "moved"
        and each.result == "done"
        and each.id not in view.corrected
        and read_moved(each).event == record.id
    ]
    if not moves:
        raise NotFound(f"record {record.id[:8]} was not moved")
    last = moves[-1]
    back = _event(*source, "moved", {}, note=asked.why or "moved back", by=asked.by, now=now)
    _record(database, view, replace(back, content=last.content, result="withdrawn", supersedes=last.id))
    return f"back at {source[1]}: {event_line(record, view.naming.called(source))}"


def _place(view: JobView, line: str, number: str) -> Key:
    key = (line or view.figures.only_line, number)
    return key if key in view.events_by_structure else view.key(view.row(line, number))


def _named(events: Iterable[Event], name: str, number: str) -> Event:
    found = [each for each in events if each.id.startswith(name.lower())]
    if len(found) != 1:
        count = "several records" if found else "no record"
        raise NotFound(f"{number} has {count} {name}; linemap move JOB {number} lists them")
    return found[0]


def _event(
    line: str, structure: str, what: What, about: Mapping[str, Any], *, note: str, by: str, now: dt.datetime
) -> Event:
    if not by.strip():
        raise InputRefused.at("--by", by, "names nobody", 'name who does it: --by "P. Chief"')
    return Event(
        id=str(uuid.uuid4()),
        line=line,
        structure=structure,
        step="",
        what=what,
        happened_at=now,
        received_at=now,
        actor=by.strip(),
        note=note.strip(),
        content=canonical_json(about) if about else "",
    )


def _record(database: Database, view: JobView, event: Event) -> None:
    (outcome,) = record_events(database, what_is_known(view), [event])
    if outcome.outcome == "refused":
        raise InputRefused.at(event.what, event.structure, outcome.why)


def why_not(view: JobView, person: Person, event: Event) -> str:
    """Say why a person may not answer the case or move the record that an event is about; "" = they may.

    The view holds everything, also what this person may not read.
    """
    event = replace(event, line=event.line.strip() or view.figures.only_line)
    if event.what == "case":
        return _why_not_case(view, person, event)
    return _why_not_move(view, person, event) if event.what == "moved" else ""


def _why_not_case(view: JobView, person: Person, event: Event) -> str:
    act = read_act(event)
    key = as_listed(event, view.naming).key
    case = next(
        (
            each
            for each in view.cases.get(key, ())
            if (each.finding.code, each.finding.part) == (act.code, act.part)
            and not {*each.records}.isdisjoint(act.records)
        ),
        None,
    )
    if case is None:
        about = ", ".join(filter(None, (act.code, act.part)))
        return f"{event.structure} has no case {about} of these records; look at its cases as they are now"
    if may_close(case, person):
        return ""
    return f"this case is answered by {case.asked} or the manager, and {person.name} ({person.role}) is not"


def _why_not_move(view: JobView, person: Person, event: Event) -> str:
    moved = read_moved(event)
    if (moved.line, moved.structure) not in view.row_of:
        try:
            view.row(moved.line, moved.structure)
        except NotFound as error:
            return str(error)
    if person.local or person.role in _MOVES:
        return ""
    there = view.moved.get(moved.event)
    keys = {as_listed(event, view.naming).key, *(() if there is None else (there.key,))}
    record = next(
        (each for key in keys for each in view.events_by_structure.get(key, ()) if each.id == moved.event),
        None,
    )
    own = record is None or {record.actor, record.signed_by, record.sent_by} & {person.name}
    if own or (record is not None and person.device and record.device == person.device):
        return ""
    return "only who recorded it, an inspector, a surveyor or the manager moves a record"
