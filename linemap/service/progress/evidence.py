"""Which recorded steps lack the evidence their rule asks for: claimed, and not verified."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

from linemap.domain.record.event import Event
from linemap.domain.record.replay import corrected_ids
from linemap.domain.record.status import Key
from linemap.domain.schedule.progress import StepCount
from linemap.domain.survey.proof import Proof, proof_of
from linemap.service.progress.progress import Progress, progress_of
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database


def claimed_only(view: JobView, progress: Progress) -> dict[str, dict[Key, Proof]]:
    """Return, of each step with a rule, the structures whose record is not verified and why; in line order.

    Only what the report takes counts, so the report of an earlier day says what was verified then.
    """
    letters = view.figures.letters_by_key()
    events: dict[Key, list[Event]] = {}
    for event in progress.events:
        events.setdefault(event.key, []).append(event)
    corrected = corrected_ids(progress.events)
    return {
        count.step: dict(_claimed(view, count, events, letters, corrected))
        for count in progress.counts
        if (rule := view.evidence_rules.get(count.step)) is not None and rule.needs
    }


def _claimed(
    view: JobView,
    count: StepCount,
    events: Mapping[Key, list[Event]],
    letters: Mapping[Key, str],
    corrected: frozenset[str],
) -> Iterable[tuple[Key, Proof]]:
    rules = {count.step: view.evidence_rules[count.step].needs}
    for key in count.done:
        proof = proof_of(
            events.get(key, ()),
            view.workflow,
            step=count.step,
            letters=letters.get(key, "AB"),
            rules=rules,
            corrected=corrected,
        )
        if proof.verdict != "verified":
            yield key, proof


def upgrade_words(database: Database, *, today: dt.date) -> tuple[str, ...]:
    """Say of a job just brought up to date which steps were verified by a note, and are no longer.

    Version 0.1.0 looked for depth, level and ohms in the notes; they stay as they are, and prove nothing.
    """
    view = build_view(database, today=today)
    named = {
        step: ", ".join(number for (_, number), proof in claimed.items() if proof.only_noted)
        for step, claimed in claimed_only(view, progress_of(view)).items()
    }
    lost = [
        f"{view.workflow.words(step)} is claimed, no longer verified, at {numbers}: what proved it stands "
        "in a note, and a note proves nothing; record it as a reading"
        for step, numbers in named.items()
        if numbers
    ]
    return (f"{database.place} was brought up to date from schema {database.upgraded_from}", *lost)
