"""The surveyor's page: exceptions under their causes, what people decided about them, and deciding."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from linemap.answers import survey as answer
from linemap.domain.causes.cause import (
    Answer,
    Cause,
    CorrectionNote,
    Decision,
    DecisionKey,
    cause_id,
    standing,
)
from linemap.errors import Conflict, InputRefused, NotFound
from linemap.service.job.declared import rule_words
from linemap.service.survey.survey import ordered_causes, rows_beside, rows_of_view
from linemap.service.view.held import check_in_answer, pair_of, shot_answer
from linemap.service.view.structure import pole_words_at
from linemap.service.view.surveyed import evidence_of_cause, verdict_counts, verdict_words
from linemap.service.view.view import CAUTION, JobView
from linemap.store.database import Database
from linemap.store.survey import add_decision, load_decisions
from linemap.store.versions import load_data_version

#: Correction that coordinates alone never prove: labels or frame, only second evidence tells.
_NEEDS_EVIDENCE = "swap_labels"


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One answer as a person gives it. The correction is not theirs to give: it is the current cause's."""

    #: UUID made where the decision is taken.
    id: str
    #: Code, subject and line of the cause.
    cause: str
    subject: str
    line: str = ""
    answer: Answer
    who: str
    note: str = ""

    @property
    def key(self) -> DecisionKey:
        """Cause, subject and line, as of `Cause` and `Decision`."""
        return (self.cause, self.subject, self.line)


def survey_answer(view: JobView) -> answer.Survey:
    """Return what the surveyor's page shows: causes that cost most first, exceptions in line order.

    Settled are the decisions that stand for causes no longer found, accepted corrections among them; the
    history holds every decision ever taken, oldest first.
    """
    causes = ordered_causes(view)
    stands = standing(view.decisions)
    main_cause = _main_causes(view, causes)
    return answer.Survey(
        name=view.name,
        data_version=view.data_version,
        as_of=view.as_of.isoformat(),
        when=view.when.words,
        caution=CAUTION,
        declared=_declared(view),
        verdicts=verdict_counts(view),
        pole_words=view.naming.poles.two,
        causes=[_cause(view, cause, stands.get(cause.key)) for cause in causes],
        exceptions=[
            _exception(view, row, main_cause)
            for row in rows_of_view(view, everything=False, surface="survey")
        ],
        beside=rows_beside(view, "survey"),
        check_ins=[check_in_answer(each, view.unit.symbol) for each in view.check_ins],
        settled=_settled(view, stands, causes),
        notes=[note.words for note in view.correction_notes],
        history=[_history(decision) for decision in sorted(view.decisions, key=lambda each: each.order_key)],
    )


def corrected_by(view: JobView, decision: Decision) -> tuple[tuple[str, str], ...]:
    """Return (line, structure number) of the structures whose shots a decision changed or dropped."""
    note = _note_of(view, decision)
    changed = note.structures if note is not None else ()
    keys = {(line or view.figures.only_line, number) for line, number in changed}
    return tuple(sorted(keys & set(view.row_of), key=lambda key: view.row_of[key]))


def _note_of(view: JobView, decision: Decision) -> CorrectionNote | None:
    return next((note for note in view.correction_notes if note.decision == decision.id), None)


def verdict_changes(before: JobView, after: JobView) -> answer.VerdictChanges:
    """Return the verdict counts before and after a decision, and each structure whose verdict changed."""
    changed = [
        answer.VerdictChange(line=line, structure=number, before=was, after=now)
        for (line, number), row in after.row_of.items()
        if (was := verdict_words(before, before.row_of[line, number])) != (now := verdict_words(after, row))
    ]
    return answer.VerdictChanges(before=verdict_counts(before), after=verdict_counts(after), changed=changed)


def decide(database: Database, view: JobView, asked: Asked, *, at: dt.datetime) -> bool:
    """Record a person's answer to a cause; False when the same answer was recorded under this id before.

    `view` is the job as the person saw it; the correction is taken from its causes.

    Raises
    ------
    NotFound
        If there is no such cause now, or nothing stands that could be withdrawn.
    Conflict
        If the id is taken by another answer, the cause is accepted already, or the job changed meanwhile.
    InputRefused
        If the name is blank, or labels are to be exchanged without saying what second evidence there is.
    """
    with database.writing() as connection:
        if _recorded(connection, asked):
            return False
        if load_data_version(connection) != view.data_version:
            raise Conflict("the job changed while you decided; look at the cause again, then decide")
        return add_decision(connection, _decision(view, asked, at=at))


def _recorded(connection: Connection, asked: Asked) -> bool:
    there = next((each for each in load_decisions(connection) if each.id == asked.id), None)
    if there is None:
        return False
    if _answer(there) != _answer(asked):
        raise Conflict(
            f'decision {asked.id} is recorded as "{there.cause} {there.answer}: {there.subject}"; '
            "give the new decision an identifier of its own"
        )
    return True


def _answer(given: Asked | Decision) -> tuple[str, ...]:
    return (*given.key, given.answer, given.who.strip(), given.note.strip())


def _decision(view: JobView, asked: Asked, *, at: dt.datetime) -> Decision:
    if not asked.who.strip():
        raise InputRefused.at("who", asked.who, "names nobody", "say who decides")
    stands = standing(view.decisions).get(asked.key)
    cause = next((cause for cause in view.causes if cause.key == asked.key), None)
    if asked.answer == "withdrawn" and stands is None:
        raise NotFound(f"nothing stands for {asked.cause}, {asked.subject}: there is no answer to withdraw")
    if cause is None and (stands is None or asked.answer == "accepted"):
        raise NotFound(f"the survey has no cause {asked.cause}, {asked.subject} now; look at the page again")
    return Decision(
        id=asked.id,
        cause=asked.cause,
        subject=asked.subject,
        line=asked.line,
        answer=asked.answer,
        who=asked.who.strip(),
        at=at,
        note=asked.note.strip(),
        correction=_correction(cause, stands, asked) if asked.answer == "accepted" else {},
    )


def _correction(cause: Cause | None, stands: Decision | None, asked: Asked) -> Mapping[str, Any]:
    """Return the current cause's correction; one that is accepted already is not laid over itself."""
    if stands is not None and stands.answer == "accepted":
        raise Conflict(
            f"{asked.cause}, {asked.subject} is accepted already, by {stands.who} on {stands.at:%Y-%m-%d}; "
            "withdraw that first"
        )
    correction = (cause.correction if cause is not None else None) or {}
    if correction.get("kind") == _NEEDS_EVIDENCE and not asked.note.strip():
        raise InputRefused.at(
            "note",
            "",
            "coordinates alone cannot tell labels from frames, and no second evidence is named",
            "say in the note what shows that the labels are exchanged, or answer that evidence is needed",
        )
    return correction


def _declared(view: JobView) -> answer.DeclaredDatum:
    declared = view.declaration
    return answer.DeclaredDatum(
        crs=declared.crs,
        unit=declared.unit.word,
        combined_factor=declared.combined_factor,
        base_point=declared.base_point,
        vertical_datum=declared.vertical_datum,
        source=declared.source,
        missing=list(declared.withholding),
        words=declared.words,
        rules=list(rule_words(view.tolerances, view.evidence_rules, view.catenary)),
    )


def _cause(view: JobView, cause: Cause, decision: Decision | None) -> answer.SurveyCause:
    return answer.SurveyCause(
        id=cause.id,
        code=cause.code,
        subject=cause.subject,
        line=cause.line,
        structures=list(cause.structures),
        words=cause.words,
        evidence=evidence_of_cause(view, cause),
        would_change=cause.would_change,
        cost_rank=cause.cost_rank,
        moment=cause.moment,
        asks_for=cause.asks_for,
        correctable=cause.correction is not None,
        needs_note=cause.correction is not None and cause.correction.get("kind") == _NEEDS_EVIDENCE,
        decision=None if decision is None else _stand(decision),
    )


def _stand(decision: Decision) -> answer.StandingDecision:
    return answer.StandingDecision(
        id=decision.id,
        answer=decision.answer,
        who=decision.who,
        at=decision.at.isoformat(timespec="seconds"),
        note=decision.note,
    )


def _main_causes(view: JobView, causes: tuple[Cause, ...]) -> dict[tuple[str, str], int]:
    """Return (line, structure number) -> index of the cause that explains it; the first one counts."""
    found: dict[tuple[str, str], int] = {}
    for index, cause in enumerate(causes):
        for key in view.keys_of(cause):
            found.setdefault(key, index)
    return found


def _exception(
    view: JobView, row: answer.SurveyedStructure, main_cause: Mapping[tuple[str, str], int]
) -> answer.SurveyException:
    key = (row.line, row.structure)
    return answer.SurveyException(
        **vars(row),
        cause=main_cause.get(key),
        pole_words=pole_words_at(view, view.row_of[key]),
        shots=[shot_answer(pair_of(view, shot)) for shot in view.shots_by_structure.get(key, ())],
    )


def _settled(
    view: JobView, stands: Mapping[DecisionKey, Decision], causes: Iterable[Cause]
) -> list[answer.SettledCause]:
    found = {cause.key for cause in causes}
    return [
        answer.SettledCause(
            id=cause_id(*key),
            cause=decision.cause,
            subject=decision.subject,
            line=decision.line,
            structures=[number for _, number in corrected_by(view, decision)],
            words="" if (note := _note_of(view, decision)) is None else note.words,
            decision=_stand(decision),
        )
        for key, decision in stands.items()
        if key not in found
    ]


def _history(decision: Decision) -> answer.DecisionRecord:
    return answer.DecisionRecord(
        **vars(_stand(decision)), cause=decision.cause, subject=decision.subject, line=decision.line
    )
