"""Which recorded steps lack the evidence their rule asks for: claimed, and not verified."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from linemap.domain.record.event import Event
from linemap.domain.record.status import Key
from linemap.domain.schedule.progress import StepCount
from linemap.domain.survey.proof import proof_of
from linemap.service.progress.progress import Progress
from linemap.service.view.view import JobView

__all__ = ["claimed_only"]


def claimed_only(view: JobView, progress: Progress) -> dict[str, tuple[Key, ...]]:
    """Return, of each step with a rule, the structures whose record is not verified; in line order.

    Only what the report takes counts, so the report of an earlier day says what was verified then.
    """
    letters = view.figures.letters_by_key()
    events: dict[Key, list[Event]] = {}
    for event in progress.events:
        events.setdefault(event.key, []).append(event)
    return {
        count.step: tuple(_claimed(view, count, events, letters))
        for count in progress.counts
        if (rule := view.evidence_rules.get(count.step)) is not None and rule.needs
    }


def _claimed(
    view: JobView, count: StepCount, events: Mapping[Key, list[Event]], letters: Mapping[Key, str]
) -> Iterable[Key]:
    rules = {count.step: view.evidence_rules[count.step].needs}
    for key in count.done:
        proof = proof_of(
            events.get(key, ()), view.workflow, step=count.step, letters=letters.get(key, "AB"), rules=rules
        )
        if proof.verdict != "verified":
            yield key
