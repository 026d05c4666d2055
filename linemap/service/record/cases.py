"""The cases of a job for whoever asks, and who may answer, close and move what."""

from __future__ import annotations

from linemap.answers import case as answer
from linemap.domain.record.case import is_asked, may_close, read_act
from linemap.domain.record.event import Event
from linemap.domain.record.moved import as_listed, read_moved
from linemap.domain.record.person import Person, Role
from linemap.errors import NotFound
from linemap.service.view.cases import all_cases, case_entry
from linemap.service.view.view import CAUTION, JobView

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
    """Return how many cases are open, and how many of them are a person's to answer."""
    cases = [case for found in view.cases.values() for case in found if case.is_open]
    mine = sum(is_asked(case, person) for case in cases)
    return answer.CaseCount(data_version=view.data_version, open=len(cases), yours=mine)


def why_not(view: JobView, person: Person, event: Event) -> str:
    """Say why a person may not answer the case or move the record that an event is about; "" = they may.

    The view holds everything, also what this person may not read.
    """
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
