"""What has been done at each structure: a pure fold of its events, never stored as truth.

The fold does not depend on the order in which events arrive or on how often one is sent. Only the order in
which things happened counts, so a late record of an older step can neither undo nor lower what came after.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from operator import attrgetter
from types import MappingProxyType
from typing import Any, NamedTuple

from linemap.domain.finding.finding import Finding
from linemap.domain.record.event import Event
from linemap.domain.record.replay import (
    Part,
    clock_findings,
    corrected_ids,
    first_copies,
    parts_of,
    replay,
    without_corrected,
)
from linemap.domain.record.signing import author_of, lacks_role
from linemap.domain.record.workflow import Step, Workflow

#: Line name and structure number.
Key = tuple[str, str]

#: Poles taken for a structure that is in no list.
_UNLISTED_POLES = "AB"
_ORDER = attrgetter("order_key")


class StepState(NamedTuple):
    """One step of one structure, as its events leave it.

    A named tuple, because a large job has a million of them and a frozen dataclass takes four times as
    long to build.
    """

    #: When it became done: for a step per pole, when the last of `poles` did.
    at: datetime
    #: Crew of the event that made it done.
    crew: str
    #: Identifier of that event.
    event_id: str
    #: Poles it is done for, "AB"; "" for a step per structure.
    poles: str
    #: Guys it is done for, by name; () for a step of no guys.
    guys: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureStatus:
    """What the events say of one structure."""

    #: State of each step that is done, by code.
    done: Mapping[str, StepState]
    #: State of each step that is done for some of its poles or guys only, by code.
    begun: Mapping[str, StepState]
    #: Furthest step of the workflow's main chain that is done; "" = none.
    stage: str
    #: What a person should look at, in the order of the workflow.
    findings: tuple[Finding, ...]

    @property
    def shown_stage(self) -> str:
        """The stage as maps and charts have it: an inspected structure past "set", "none" without any."""
        return "inspected" if self.stage == "set" and "inspected" in self.done else self.stage or "none"


_EMPTY: Mapping[str, StepState] = MappingProxyType({})
_NO_GUYS: Mapping[Key, tuple[str, ...]] = MappingProxyType({})
#: The status of a structure without events.
NOTHING_RECORDED = StructureStatus(done=_EMPTY, begun=_EMPTY, stage="", findings=())


def fold(
    events: Iterable[Event],
    workflow: Workflow,
    *,
    pole_letters: Mapping[Key, str],
    guys: Mapping[Key, tuple[str, ...]] = _NO_GUYS,
) -> dict[Key, StructureStatus]:
    """Return the status of every structure of `pole_letters`, and of every other that has events.

    Parameters
    ----------
    events : iterable of Event
        In any order, with any repetition. One identifier received several times is the copy received
        first.
    pole_letters : mapping of (line, structure) to str
        The poles of each structure, "AB" or "ABC". An event for a structure that is not in it counts, for
        poles A and B, and is a finding.
    guys : mapping of (line, structure) to tuple of str
        The guys of the schedule by name. A step per guy of a structure of which none are known is one of the
        structure.
    """
    grouped: dict[Key, list[Event]] = {}
    corrections: list[Event] = []
    for event in events:
        grouped.setdefault((event.line, event.structure), []).append(event)
        if event.supersedes:
            corrections.append(event)
    corrected = corrected_ids(first_copies(corrections))
    folded = dict.fromkeys(pole_letters, NOTHING_RECORDED)
    for key, group in grouped.items():
        letters = pole_letters.get(key)
        folded[key] = fold_structure(
            group, workflow, key=key, letters=letters, guys=guys.get(key, ()), corrected=corrected
        )
    return folded


def fold_structure(
    events: Iterable[Event],
    workflow: Workflow,
    *,
    key: Key,
    letters: str | None,
    guys: tuple[str, ...] = (),
    corrected: Collection[str] = frozenset(),
) -> StructureStatus:
    """Return the status of one structure from its events alone.

    Parameters
    ----------
    events : iterable of Event
        All events of the structure; their own line and structure are not read.
    key : (line, structure)
        Named in the findings.
    letters : str or None
        Its poles, "AB" or "ABC"; None = the structure is in no list.
    guys : tuple of str
        Its guys by name.
    corrected : collection of str
        Identifiers of events that events of other structures correct; those of these need not be named.
    """
    known = first_copies(events)
    taken = without_corrected(known, corrected_ids(known).union(corrected))
    if not taken:
        return NOTHING_RECORDED
    fresh = _Draft(key=key, letters=_UNLISTED_POLES if letters is None else letters, guys=guys)
    kept = [event for event in taken if event.what not in {"case", "moved"}]
    if letters is None and kept:
        fresh.find("not in list", count=len(kept))
    by_step: dict[str, list[Event]] = {}
    for event in taken:
        if event.what == "step":
            by_step.setdefault(event.step, []).append(event)
    for step in workflow.order():
        if step.code in by_step:
            _fold_step(fresh, step, by_step.pop(step.code))
    _find_gaps(fresh, workflow)
    _find_unknown_steps(fresh, by_step)
    fresh.findings += clock_findings(taken, line=key[0], structure=key[1])
    return StructureStatus(
        done=fresh.done, begun=fresh.begun, stage=workflow.stage(fresh.done), findings=tuple(fresh.findings)
    )


@dataclass(slots=True)
class _Draft:
    """The status of one structure while it is being folded."""

    key: Key
    letters: str
    guys: tuple[str, ...] = ()
    done: dict[str, StepState] = field(default_factory=dict)
    begun: dict[str, StepState] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def find(self, code: str, part: str = "", *, since: date | None = None, **values: Any) -> None:
        line, structure = self.key
        self.findings.append(
            Finding(line=line, structure=structure, code=code, part=part, values=values, since=since)
        )


def _fold_step(fresh: _Draft, step: Step, events: Sequence[Event]) -> None:
    """Fold the events of one step; what somebody recorded who may not is for another one to confirm."""
    others = [event for event in events if lacks_role(event, step.roles)] if step.roles else []
    if not others:
        _fold_parts(fresh, step, events)
        return
    _fold_parts(fresh, step, [event for event in events if event not in others])
    if step.code not in fresh.done:
        last = max(others, key=_ORDER)
        who, role, on = author_of(last) or last.who, last.role, last.moment.date()
        said = {"step": step.words, "who": who, "role": role, "on": on, "roles": tuple(map(str, step.roles))}
        fresh.find("other role", step.code, since=on, **said)


def _fold_parts(fresh: _Draft, step: Step, events: Sequence[Event]) -> None:
    if step.per == "guy" and fresh.guys:
        _fold_guys(fresh, step, events)
        return
    letters = fresh.letters if step.per == "pole" else ""
    if len(events) == 1 and events[0].result == "done" and not (letters and events[0].pole):
        fresh.done[step.code] = _state(events[0], letters)
        return
    parts = replay(events, letters=letters)
    _settle(fresh, step, parts)
    _find_repeats(fresh, step, parts)
    _find_rejections(fresh, step, parts)
    if letters:
        _find_unknown_poles(fresh, step, events)


def _fold_guys(fresh: _Draft, step: Step, events: Sequence[Event]) -> None:
    parts = parts_of(events, "guy", letters="", guys=fresh.guys)
    _settle(fresh, step, parts)
    _find_repeats(fresh, step, parts)
    _find_rejections(fresh, step, parts)
    known = {"", *map(str.casefold, fresh.guys)}
    strangers = {(event.part, event.who) for event in events if event.part.casefold() not in known}
    for guy, who in sorted(strangers):
        fresh.find("unknown pole", step.code, who=who, step=step.words, pole=guy, poles=fresh.guys, of="guy")


def _settle(fresh: _Draft, step: Step, parts: Mapping[str, Part]) -> None:
    firsts = {letter: part.standing[0] for letter, part in parts.items() if part.standing}
    if not firsts:
        return
    last = max(firsts.values(), key=_ORDER)
    complete = len(firsts) == len(parts)
    of_guys = step.per == "guy" and bool(fresh.guys)
    state = StepState(last.moment, last.crew, last.id, "", tuple(firsts)) if of_guys else None
    (fresh.done if complete else fresh.begun)[step.code] = state or _state(last, "".join(firsts))
    if not complete:
        gone = tuple(letter for letter in parts if letter not in firsts)
        of = {"of": "guy"} if of_guys else {}
        since, there = last.moment.date(), tuple(firsts)
        fresh.find("pole missing", step.code, since=since, step=step.words, there=there, gone=gone, **of)


def _state(event: Event, poles: str) -> StepState:
    return StepState(event.moment, event.crew, event.id, poles)


def _find_repeats(fresh: _Draft, step: Step, parts: Mapping[str, Part]) -> None:
    repeats: list[Event] = []
    for part in parts.values():
        if len(part.standing) > 1 and len({event.who for event in part.standing}) > 1:
            repeats += part.standing
    if repeats:
        repeats.sort(key=_ORDER)
        crews = tuple(dict.fromkeys(event.who for event in repeats))
        fresh.find("recorded twice", step.code, since=repeats[-1].moment.date(), step=step.words, crews=crews)


def _find_rejections(fresh: _Draft, step: Step, parts: Mapping[str, Part]) -> None:
    open_ones = {letter: part.rejection for letter, part in parts.items() if part.rejection}
    if open_ones:
        last = max(open_ones.values(), key=_ORDER)
        fresh.find(
            "rejected",
            step.code,
            since=last.moment.date(),
            step=step.words,
            poles=() if "" in open_ones else tuple(open_ones),
            **({"of": "guy"} if step.per == "guy" else {}),
            on=last.moment.date(),
            who=last.who,
        )


def _find_unknown_poles(fresh: _Draft, step: Step, events: Sequence[Event]) -> None:
    strangers = {(event.pole, event.who) for event in events if event.pole not in {"", *fresh.letters}}
    for pole, who in sorted(strangers):
        fresh.find("unknown pole", step.code, who=who, step=step.words, pole=pole, poles=fresh.letters)


def _find_gaps(fresh: _Draft, workflow: Workflow) -> None:
    is_done = fresh.done.__contains__
    for step in workflow.order():
        if step.code in fresh.done and not all(map(is_done, step.requires)):
            missing = tuple(workflow.words(code) for code in workflow.missing(fresh.done, step.code))
            since = fresh.done[step.code].at.date()
            fresh.find("step missing", step.code, since=since, step=step.words, missing=missing)


def _find_unknown_steps(fresh: _Draft, by_step: Mapping[str, Sequence[Event]]) -> None:
    """Nothing that was recorded is passed over in silence."""
    for code, events in sorted(by_step.items()):
        crews = tuple(sorted({event.who for event in events}))
        fresh.find("unknown step", code, step=code, crews=crews)
