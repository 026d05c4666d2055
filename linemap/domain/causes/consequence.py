"""What follows from each cause: how verdicts would change, and which cheap moment is still open."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import fields

from linemap.domain.causes.cause import Cause, Explanation, Suspicion, counted
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.causes.correction import apply_corrections
from linemap.domain.causes.signature_side import Records
from linemap.domain.record.status import NOTHING_RECORDED, StructureStatus
from linemap.domain.survey.shot import Shot

#: Moments in the order they pass. Common practice, no source.
_MOMENTS = (
    "before the arms are drilled",
    "before the pick",
    "before backfill is tamped",
    "before wire",
)
_ON_PAPER = "before the as-set table is given out"
#: Steps recorded once the setting crew has left.
_AFTER_TAMPING = ("guyed", "grounded", "inspected")


def consequences(
    survey: CheckedSurvey, shots: Sequence[Shot], suspicions: list[Suspicion], records: Records
) -> tuple[Cause, ...]:
    """Turn suspicions into causes, in the order of the lines.

    All corrections are tried at once: they concern different structures.

    Parameters
    ----------
    survey : CheckedSurvey
        The survey as it stands, before any of the corrections.
    shots : sequence of Shot
        Its shots.
    suspicions : list of Suspicion
        What was found; those of files first.
    records : Records
        For the moment the structures are in.
    """
    after = _after(survey, shots, suspicions)
    return tuple(
        Cause(
            line=survey.line_name(each.rows),
            structures=survey.numbers(each.rows),
            would_change=_change(survey, after, each),
            moment=_ON_PAPER if each.on_paper else _moment(survey, each, records),
            **{name.name: getattr(each, name.name) for name in fields(Explanation)},
        )
        for each in sorted(suspicions, key=lambda each: (each.rows, each.code))
    )


def _after(survey: CheckedSurvey, shots: Sequence[Shot], suspicions: list[Suspicion]) -> CheckedSurvey:
    """Check the structures with a correction as if all were accepted; the others are not looked at."""
    concerned = [each for each in suspicions if each.correction is not None]
    if not concerned:
        return survey
    corrected, _ = apply_corrections(shots, survey.orders(concerned))
    numbers = {number for each in concerned for number in survey.numbers(each.rows)}
    return survey.with_shots([shot for shot in corrected if shot.structure in numbers])


def _change(survey: CheckedSurvey, after: CheckedSurvey, each: Suspicion) -> str:
    if each.correction is None:
        return "nothing: no correction of the shots settles it"
    steps = Counter(
        (str(survey.checks.verdict[row]), str(after.checks.verdict[row]))
        for row in each.rows
        if survey.checks.verdict[row] != after.checks.verdict[row]
    )
    if not steps:
        return "no verdict"
    steps_words = ", ".join(
        f"{counted(count, 'structure')} {old} -> {new}" for (old, new), count in steps.items()
    )
    return f"{steps_words}, if it is the labels" if each.correction["kind"] == "swap_labels" else steps_words


def _moment(survey: CheckedSurvey, each: Suspicion, records: Records) -> str:
    """Return the cheapest moment open at all its structures."""
    keys = [(survey.line(row).name, survey.number(row)) for row in each.rows]
    return _MOMENTS[max(_passed(records.statuses.get(key, NOTHING_RECORDED)) for key in keys)]


def _passed(status: StructureStatus) -> int:
    if any(step in status.done for step in _AFTER_TAMPING):
        return 3
    if "set" in status.done or "set" in status.begun:
        return 2
    return 1 if "framed" in status.done else 0
