"""Cases: what was recorded against a hold, a ticket, a limit, the order of the work or the list in force.

Work that happened is never refused; what it went against stays open until who answers it closes it and says
by what evidence. A case is made of the record alone: the lists say what was in force, the records of the
steps what was done, and records of the kind "case" what was answered. Who answers a case is common practice
where the lists do not name anybody, no source.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from linemap.domain.finding.finding import Finding
from linemap.domain.finding.phrase import Called, date_words
from linemap.domain.record.event import Event
from linemap.domain.record.person import Person, Role
from linemap.domain.record.replay import corrected_ids

Act = Literal["answer", "close", "reopen"]
State = Literal["open", "answered", "closed"]
_ACTS = frozenset(get_args(Act))
_DONE: Mapping[str, str] = {"answer": "answered", "close": "closed", "reopen": "open again"}


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseAct:
    """What a person does about a case: content of an event of the kind "case", whose note says it in words.

    Raises
    ------
    ValueError
        If it is none of the acts, or names no case or no record.
    """

    act: Act
    #: Code and part of the finding the case is.
    code: str
    part: str = ""
    #: Identifiers of the records it is about: what is recorded later is not answered by it.
    records: tuple[str, ...]

    def __post_init__(self) -> None:
        if self.act not in _ACTS:
            raise ValueError(f"a case is not {self.act!r}; use one of {', '.join(get_args(Act))}")
        if not self.code.strip() or not self.records:
            raise ValueError("which case it is about is not said; give its code, part and records")


def read_act(event: Event) -> CaseAct:
    """Read what an event does about which case.

    Raises
    ------
    ValueError
        If its content says something else, or neither the note nor a photo says what was answered.
    """
    said = json.loads(event.content or "{}")
    records = said.get("records") or ()
    texts = [said.get(name, "") for name in ("act", "code", "part")]
    listed = isinstance(records, list | tuple)
    if (
        not listed
        or said.keys() - {"act", "code", "part", "records"}
        or not all(isinstance(text, str) for text in (*texts, *records))
    ):
        raise ValueError("what is done about a case says act, code, part and records, and nothing else")
    act, code, part = texts
    found = CaseAct(act=act, code=code, part=part, records=tuple(map(str.lower, records)))
    if event.result == "done" and not (event.note.strip() or event.photos):
        asked = "the evidence that closes it" if act == "close" else "what is answered"
        raise ValueError(f"nothing says {asked}; write it as the note, or add a photo")
    return found


def act_words(event: Event, _called: Called) -> str:
    """Say it in a history: 'case closed: recorded under hold, dug, HN-1'."""
    if not event.content:  # taken out for who may not read it
        return "case answered"
    act = read_act(event)
    about = ", ".join(filter(None, (act.code, act.part)))
    return f"case {_DONE[act.act]}: {about}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One case of one structure."""

    #: Against what it was recorded; its code, place and part name the case for good.
    finding: Finding
    #: Identifiers of the records it is about, as they were first sent; those of records taken back too.
    records: tuple[str, ...]
    #: Who answers it, by name, role or office: "environmental lead", "manager".
    asked: str
    #: What was done about it, oldest first.
    acts: Sequence[Event] = ()
    state: State = "open"
    #: True when its records were all taken back or moved elsewhere. Who took one back did not answer it: only
    #: a record that belongs elsewhere asks for no answer here.
    taken_back: bool = False

    @property
    def is_open(self) -> bool:
        """True until it is closed."""
        return self.state != "closed"

    def reworded(self, change: Callable[[str], str]) -> Case:
        """Return the case with its texts changed, as for readers who may not see some words."""
        acts = tuple(replace(each, note=change(each.note)) for each in self.acts)
        return replace(self, finding=self.finding.reworded(change), asked=change(self.asked), acts=acts)


def acts_at(events: Iterable[Event]) -> list[tuple[Event, CaseAct]]:
    """Return what was done about the cases of one structure and still stands, in the order it happened."""
    acts = [event for event in events if event.what == "case"]
    taken_back = corrected_ids(acts)
    standing = (each for each in acts if each.result == "done" and each.id not in taken_back)
    return [(each, read_act(each)) for each in sorted(standing, key=lambda event: event.order_key)]


def answered(case: Case, acts: Iterable[tuple[Event, CaseAct]], owed: Collection[str]) -> Case:
    """Return a case after what was done about it.

    It is closed when each of its records that ask for an answer was answered for by the last closing or
    reopening that names it: what is recorded against the same thing later opens it again.
    """
    mine = [
        (event, act)
        for event, act in acts
        if (act.code, act.part) == (case.finding.code, case.finding.part)
        and not {*act.records}.isdisjoint(case.records)
    ]
    closed = {record: act.act == "close" for _, act in mine for record in act.records if act.act != "answer"}
    done = all(closed.get(record, False) for record in owed)
    state: State = "closed" if done else "answered" if mine else "open"
    said: dict[str, object] = {"taken_back": True} if case.taken_back else {}
    if mine and not done:
        said["answered"] = _said(mine[-1][0])
    finding = replace(case.finding, values={**case.finding.values, **said}) if said else case.finding
    return replace(case, finding=finding, acts=tuple(event for event, _ in mine), state=state)


def _said(event: Event) -> str:
    """Say what was done last: 'answered 12 May 2026 by Ada: mats in place'."""
    act = read_act(event)
    photo = "a photo" if event.photos else ""
    said = event.note.strip() or photo
    return f"{_DONE[act.act]} {date_words(event.moment.date())} by {event.actor or event.who}: {said}"


def may_close(case: Case, person: Person) -> bool:
    """Say whether a person answers and closes a case: who is asked, or the manager; crews and viewers never.

    >>> from linemap.domain.finding.finding import Finding
    >>> finding = Finding(line="N", structure="9/2", code="recorded under hold")
    >>> case = Case(finding=finding, records=("1",), asked="environmental lead")
    >>> may_close(case, Person(name="Ada", role=Role.INSPECTOR, releases=("Environmental lead",)))
    True
    >>> may_close(case, Person(name="Bo", role=Role.INSPECTOR))
    False
    """
    if person.role in {Role.CREW, Role.VIEWER}:
        return False
    return person.role is Role.MANAGER or person.holds_office(case.asked)


def is_asked(case: Case, person: Person) -> bool:
    """Say whether an open case waits for a person: who is asked, not only who may."""
    return case.is_open and may_close(case, person) and person.holds_office(case.asked)
