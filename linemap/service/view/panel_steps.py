"""The steps of a structure as a panel shows them: recorded or not, and verified by what."""

from __future__ import annotations

from linemap.answers import structure as answer
from linemap.domain.record.status import StructureStatus
from linemap.domain.survey.proof import proof_of
from linemap.service.view.view import JobView

__all__ = ["steps_of"]


def steps_of(view: JobView, row: int) -> list[answer.PanelStep]:
    """Return every step of the workflow, whether it is recorded, and how well that is proved."""
    status: StructureStatus | None = view.statuses.get(view.key(row))
    rows = []
    for step in view.workflow.steps:
        state = status.done.get(step.code) if status is not None else None
        rows.append(
            answer.PanelStep(
                step=step.words,
                done=state is not None,
                when="" if state is None else state.at.date().isoformat(),
                crew="" if state is None else state.crew,
                note="" if state is None else _proof(view, row, step.code),
            )
        )
    return rows


def _proof(view: JobView, row: int, step: str) -> str:
    """Say whether the record is verified by the evidence its rule asks for; "" where no rule asks for any."""
    rule = view.evidence_rules.get(step)
    if rule is None or not rule.needs:
        return ""
    proof = proof_of(
        (
            event
            for event in view.events_by_structure.get(view.key(row), ())
            if event.moment.date() <= view.as_of
        ),
        view.workflow,
        step=step,
        letters=view.figures.letters_of(row),
        rules={step: rule.needs},
    )
    return f"{proof.words}; asked for: {rule.words} ({rule.source})"
