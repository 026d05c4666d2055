"""Records held against what was in force when the work was done: holds, tickets, wind, the order, the list.

What a record went against is a case (`linemap.domain.record.case`): it stays when the hold is lifted, the
ticket renewed or the list replaced, until who answers it closes it. Nothing is said of days a list does not
speak for: one that names only what is valid now tells nothing of the weeks before it came.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.in_force import Against, HoldUntil, InForce
from linemap.domain.crew.moved_since import moved_since
from linemap.domain.crew.ticket import Ticket, needs_ticket
from linemap.domain.crew.worked import Work, by_step, last_of, wind_mph, work_at
from linemap.domain.design.revision import Revised
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.record.case import Case, acts_at, answered
from linemap.domain.record.event import Event
from linemap.domain.record.status import NOTHING_RECORDED, Key, StructureStatus
from linemap.domain.record.workflow import Workflow

#: Findings of a status that are cases, and who answers each. Common practice, no source.
OF_STATUS: Mapping[str, str] = {
    "step missing": "inspector",
    "not in list": "surveyor",
    # and the first of the roles that the step names
    "other role": "inspector",
}
#: Tickets that are named where none was valid.
_NAMED = 3


def recorded_against(
    statuses: Mapping[Key, StructureStatus],
    in_force: InForce,
    workflow: Workflow,
    *,
    events: Mapping[Key, Sequence[Event]],
    corrected: Collection[str] = frozenset(),
    only: Collection[Key] | None = None,
) -> dict[Key, Against]:
    """Return what the record of each structure went against, where it did; of those in `only` when given.

    `corrected` names the events that events of other structures correct.

    Returns
    -------
    dict
        Codes of cases: "recorded under hold" (less than wrong when the hold only set a condition; no case
        where the record names the monitor), "dug without ticket" (when one that covers the structure began
        by that day, or the list had come), "recorded in wind", "recorded by old list", "step missing", "not
        in list". Of the findings: "moved since" (a note when the place moved less than a frame may be off;
        else it stops the steps it names).
    """
    holds, tickets = in_force.holds_at, in_force.tickets_at
    found: dict[Key, Against] = {}
    for key in statuses if only is None else only:
        there = events.get(key, ())
        if not there:
            continue
        status = statuses.get(key, NOTHING_RECORDED)
        case = _Judged(key, status, there, corrected, workflow, in_force)
        judged = Against(
            findings=tuple(moved_since(key, status, there, workflow, in_force)),
            cases=case.settled(
                [
                    *case.under_holds(holds.at(*key)),
                    *(case.without_ticket(tickets.at(*key)) if in_force.tickets else ()),
                    *case.in_wind(),
                    *case.by_old_list(),
                    *case.out_of_order(),
                    *case.of_status(),
                ],
            ),
        )
        if judged.findings or judged.cases:
            found[key] = judged
    return found


#: A case before it is looked at what was done about it, with the records it is about.
_Raised = tuple[Finding, str, Sequence[Work]]


@dataclass(frozen=True)
class _Judged:
    """What is recorded at one structure."""

    key: Key
    status: StructureStatus
    events: Sequence[Event]
    corrected: Collection[str]
    workflow: Workflow
    in_force: InForce

    @cached_property
    def work(self) -> Sequence[Work]:
        """The work that was done, looked through only where something may be held against it."""
        return work_at(self.events, self.corrected)

    def settled(self, raised: Sequence[_Raised]) -> tuple[Case, ...]:
        """Return the cases after what was done about them."""
        acts = acts_at(self.events) if raised else []
        return tuple(
            answered(
                Case(
                    finding=finding,
                    records=tuple(each.first for each in about),
                    asked=asked,
                    taken_back=not any(each.stands for each in about),
                ),
                acts,
                {each.first for each in about if not each.is_elsewhere},
            )
            for finding, asked, about in raised
        )

    def under_holds(self, holds: Sequence[HoldUntil]) -> Iterator[_Raised]:
        by_id: dict[str, dict[str, Hold]] = {}
        for stood in holds:
            under = by_id.setdefault(stood.hold.id, {})
            for each in self.work:
                if self._is_under(stood, each):
                    under.setdefault(each.event.id, stood.hold)
        for name, under in by_id.items():
            for step, about in by_step(each for each in self.work if each.event.id in under):
                hold = under[last_of(about).event.id]
                finding = self._case(
                    "recorded under hold",
                    about,
                    part=f"{step}, {name}",
                    weight=Severity.UNSURE if hold.conditional else None,
                    hold=name,
                    sentence=replace(hold, reason="", set_by="", release_by="").sentence(),
                )
                yield finding, hold.release_by.strip() or "manager", about

    def _is_under(self, stood: HoldUntil, work: Work) -> bool:
        hold, until = stood
        return (
            hold.stops(work.event.step)
            and (until is None or work.at < until)
            and hold.active(self.in_force.local(work.at))
            and not (hold.conditional and work.names_monitor)
        )

    def without_ticket(self, tickets: Sequence[Ticket]) -> Iterator[_Raised]:
        without, since = [], self.in_force.tickets_since
        for each in self.work:
            step, day = each.event.step, self.in_force.local(each.at).date()
            if not needs_ticket(step):
                continue
            begun = any(ticket.valid_from is not None and ticket.valid_from <= day for ticket in tickets)
            served = any(ticket.serves(step, day) for ticket in tickets)
            if (begun or (since is not None and since <= day)) and not served:
                without.append(each)
        for step, about in by_step(without):
            day = last_of(about).at.date()
            newest = sorted(tickets, key=lambda ticket: (ticket.last_day or day, ticket.number))[-_NAMED:]
            named = tuple(f"{ticket.number} {ticket.sentence(day)}" for ticket in reversed(newest))
            yield self._case("dug without ticket", about, part=step, tickets=named), "manager", about

    def in_wind(self) -> Iterator[_Raised]:
        limit_mph = self.in_force.wind_limit_mph
        if limit_mph is None or not any(wind_mph(event) > limit_mph for event in self.events):
            return
        above = [each for each in self.work if wind_mph(each.event) > limit_mph]
        for step, about in by_step(above):
            wind = max(wind_mph(each.event) for each in about)
            finding = self._case(
                "recorded in wind", about, part=step, wind_mph=round(wind, 1), limit_mph=limit_mph
            )
            yield finding, "manager", about

    def by_old_list(self) -> Iterator[_Raised]:
        revised = self.in_force.revised.get(self.key, ())
        if not revised:
            return
        missed = [(each, self._missed(each, revised)) for each in self.work]
        for step, about in by_step(each for each, changes in missed if changes):
            changes = next(changes for each, changes in missed if each is last_of(about))
            seen = last_of(about).event.revision_seen
            finding = self._case("recorded by old list", about, part=step, seen=seen, changes=changes)
            yield finding, "surveyor", about

    def _missed(self, work: Work, revised: Sequence[tuple[datetime, Revised]]) -> tuple[str, ...]:
        """Return what had changed here when work was recorded, and its recorder's list did not say."""
        event = work.event
        if not event.revision_seen:
            return ()
        newer = self.in_force.lists.since(
            self.key[0], seen=event.revision_seen, at=work.at, received_at=event.received_at
        )
        come = {each.at for each in newer if each.at <= work.at}
        return tuple(each.words for at, each in revised if at in come)

    def out_of_order(self) -> Iterator[_Raised]:
        """Give steps whose earlier step was done on a later day; what is missing still, its status says."""
        done = self.status.done
        for code, state in done.items():
            step = self.workflow.step(code)
            late = [
                need
                for need in (() if step is None else step.requires)
                if need in done and done[need].at.date() > state.at.date()
            ]
            if not late or any(found.part == code for found in self._of_status("step missing")):
                continue
            if about := [each for each in self.work if each.event.step == code]:
                words = tuple(self.workflow.words(need) for need in late)
                days = tuple(done[need].at.date() for need in late)
                said = {"step": self.workflow.words(code), "missing": words, "later": days}
                finding = self._finding("step missing", part=code, since=state.at.date(), values=said)
                yield finding, OF_STATUS["step missing"], about

    def of_status(self) -> Iterator[_Raised]:
        for found in self.status.findings:
            if found.code in OF_STATUS:
                about = [each for each in self.work if found.part in {"", each.event.step}]
                done = dict.fromkeys(self.workflow.words(each.event.step) for each in about)
                said = {**found.values, "steps": tuple(done)} if found.code == "not in list" else found.values
                asked = next(iter(found.values.get("roles", ())), OF_STATUS[found.code])
                yield replace(found, values=said), asked, about

    def _of_status(self, code: str) -> list[Finding]:
        return [found for found in self.status.findings if found.code == code]

    def _case(
        self,
        code: str,
        about: Sequence[Work],
        *,
        part: str,
        weight: Severity | None = None,
        **values: object,
    ) -> Finding:
        event, day = last_of(about).event, last_of(about).at.date()
        said = {"step": self.workflow.words(event.step), "on": day, "who": event.crew, **values}
        return self._finding(code, part=part, since=day, values=said, weight=weight)

    def _finding(
        self,
        code: str,
        *,
        part: str,
        since: date,
        values: Mapping[str, object],
        weight: Severity | None = None,
    ) -> Finding:
        line, structure = self.key
        return Finding(
            line=line,
            structure=structure,
            code=code,
            part=part,
            values=values,
            weight=weight,
            since=since,
        )
