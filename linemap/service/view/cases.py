"""Cases as answers carry them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from linemap.answers import case as answer
from linemap.domain.finding.phrase import Called
from linemap.domain.record.case import Case, read_act
from linemap.domain.record.event import Event
from linemap.domain.record.status import Key
from linemap.service.view.contents import event_line
from linemap.service.view.view import JobView


def case_entry(view: JobView, case: Case) -> answer.CaseEntry:
    """Return a case as an answer carries it."""
    finding = case.finding
    key = (finding.line, finding.structure)
    called = view.naming.called(key)
    finding = replace(finding, called=called)
    records = {event.id: event for event in view.events_by_structure.get(key, ())}
    return answer.CaseEntry(
        id=finding.id,
        line=finding.line,
        number=finding.structure,
        code=finding.code,
        part=finding.part,
        severity=finding.severity.label,
        state=case.state,
        taken_back=case.taken_back,
        since=None if finding.since is None else finding.since.isoformat(),
        words=finding.words,
        asked=case.asked,
        unlisted=key not in view.row_of,
        records=[_record(records[each], called) for each in case.records if each in records],
        acts=[_act(each, called) for each in case.acts],
    )


def _record(event: Event, called: Called) -> answer.CaseRecord:
    when = event.happened_at.isoformat(timespec="minutes")
    return answer.CaseRecord(id=event.id, when=when, words=event_line(event, called))


def _act(event: Event, called: Called) -> answer.CaseAct:
    return answer.CaseAct(
        id=event.id,
        act=read_act(event).act,
        when=event.happened_at.isoformat(timespec="minutes"),
        who=event.actor or event.who,
        text=event.note,
        photos=event.photos,
        words=event_line(event, called),
    )


def all_cases(view: JobView) -> Iterator[Case]:
    """Yield the cases, closed ones included: those of structures in no list first, then in line order."""
    for key in sorted(view.cases, key=lambda key: (view.row_of.get(key, -1), key)):
        yield from view.cases[key]


def open_cases(view: JobView, *, line: str = "") -> list[answer.CaseEntry]:
    """Return the open cases of a line, or of all of them, in that order."""
    return [
        case_entry(view, case) for case in all_cases(view) if case.is_open and line in {"", case.finding.line}
    ]


def open_cases_at(view: JobView, key: Key) -> list[answer.CaseEntry]:
    """Return the open cases of a structure, for a panel or a card."""
    return [case_entry(view, case) for case in view.cases.get(key, ()) if case.is_open]
