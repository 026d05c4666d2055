"""The steps of one structure: done or begun, of which guys or span, and how well each is proved."""

from __future__ import annotations

from linemap.answers.structure import StructureStep
from linemap.domain.record.declared_work import span_name
from linemap.domain.record.status import NOTHING_RECORDED
from linemap.domain.record.workflow import Step
from linemap.service.view.crew_checks import proving_words
from linemap.service.view.proved import Prover
from linemap.service.view.recorded import shown_events
from linemap.service.view.structure import neighbour_of
from linemap.service.view.view import JobView


def parts_at(view: JobView, row: int, step: Step) -> list[str]:
    """Return what a step is recorded for at a structure: its guys, or the span ahead; [] = neither."""
    if step.per == "guy":
        return list(view.guy_names.get(view.key(row), ()))
    if step.per == "span" and (name := span_name(view.key(row)[1], neighbour_of(view, row, 1))):
        return [name]
    return []


def step_at(view: JobView, row: int, step: Step) -> tuple[StructureStep, str]:
    """Return a step as done or begun, and how well it is proved against which rule, "" = there is none."""
    key = view.key(row)
    status = view.statuses.get(key, NOTHING_RECORDED)
    done, state = step.code in status.done, status.done.get(step.code) or status.begun.get(step.code)
    rule = view.evidence_rules.get(step.code)
    note, missing, parts = "", list[str](), parts_at(view, row, step)
    if done and rule is not None and rule.needs:
        shown = shown_events(view.events_by_structure.get(key, ()), view.as_of)
        proof = Prover.of(view).proof(key, step.code, shown, corrected=view.corrected)
        note, missing = f"{proof.words}; asked for: {rule.words} ({rule.source})", list(proof.missing)
        if "frame check" in rule.needs and "frame check" not in missing:
            note += f"; {proving_words(view, key)}"
    found = StructureStep(
        code=step.code,
        words=step.words,
        per=step.per,
        done=done,
        poles_done="" if state is None else state.poles,
        parts=parts,
        parts_done=parts if done else [] if state is None else list(state.guys),
        when="" if state is None else state.at.date().isoformat(),
        crew="" if state is None else state.crew,
        missing=missing,
    )
    return found, note
