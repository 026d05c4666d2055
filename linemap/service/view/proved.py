"""How well steps are proved, by what a view knows of rules, poles, guys and crew checks."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from linemap.domain.crew_check.record import StandingCheck
from linemap.domain.design.figures import Figures
from linemap.domain.finding.finding import Finding
from linemap.domain.record.event import Event
from linemap.domain.record.status import Key
from linemap.domain.record.workflow import Workflow
from linemap.domain.survey.proof import Need, Proof, proof_of
from linemap.service.view.recorded import shown_events
from linemap.service.view.view import JobView


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prover:
    """What of a view tells how well its steps are proved; the view is not kept."""

    workflow: Workflow
    figures: Figures
    row_of: Mapping[Key, int]
    guy_names: Mapping[Key, tuple[str, ...]]
    crew_checks: Mapping[Key, Sequence[StandingCheck]]
    #: Step -> what must be there, of steps of which anything must.
    rules: Mapping[str, tuple[Need, ...]]

    @classmethod
    def of(cls, view: JobView) -> Prover:
        """Take from a view what it needs."""
        return cls(
            workflow=view.workflow,
            figures=view.figures,
            row_of=view.row_of,
            guy_names=view.guy_names,
            crew_checks=view.crew_checks,
            rules={code: rule.needs for code, rule in view.evidence_rules.items() if rule.needs},
        )

    def proof(self, key: Key, step: str, events: Sequence[Event], *, corrected: Collection[str]) -> Proof:
        """Judge a step of a listed structure by the events there that count, and crew checks among them.

        `corrected` names those that events of other structures correct.
        """
        row, among = self.row_of[key], {event.id for event in events}
        return proof_of(
            events,
            self.workflow,
            step=step,
            letters=self.figures.letters_of(row),
            guys=self.guy_names.get(key, ()),
            called=self.figures.called(row),
            rules=self.rules,
            corrected=corrected,
            checks=[
                check.at for check in self.crew_checks.get(key, ()) if check.proves and check.event in among
            ],
        )


def claimed_of(view: JobView) -> Callable[[Key], tuple[Finding, ...]]:
    """Return what says of a structure which steps are claimed: recorded without the evidence of their rules.

    It judges as the page of progress does, when it is asked: all of ten thousand structures take more than a
    second. The view is not kept.
    """
    statuses, events, day, corrected = view.statuses, view.events_by_structure, view.as_of, view.corrected
    prover = Prover.of(view)
    steps = [step for step in view.workflow.order() if step.code in prover.rules]

    @cache
    def claimed(key: Key) -> tuple[Finding, ...]:
        done = statuses[key].done if key in statuses and key in prover.row_of else {}
        shown = shown_events(events.get(key, ()), day) if done else ()
        lacking = {}
        for step in steps:
            if step.code in done:
                proof = prover.proof(key, step.code, shown, corrected=corrected)
                if proof.verdict != "verified":
                    lacking[step.words] = proof.missing
        values = {"steps": tuple(lacking), "missing": tuple(lacking.values())}
        return (Finding(line=key[0], structure=key[1], code="claimed", values=values),) if lacking else ()

    return claimed
