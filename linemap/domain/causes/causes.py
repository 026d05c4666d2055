"""Why the exceptions of a survey are what they are: as few causes as explain them, each with its evidence.

Laws of whole files are looked for first. Single structures are then looked at as if these were corrected,
so that a fault at a structure shows even in a file that is off. Nothing is applied: a named person decides.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, fields, replace
from itertools import chain

import numpy as np

from linemap.domain.causes.cause import Cause, DecisionKey, Explanation, Suspicion, counted, listed
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.causes.correction import apply_corrections
from linemap.domain.causes.signature_frame import misset_frames
from linemap.domain.causes.signature_label import doubtful_shots, poor_surveys, strange_labels
from linemap.domain.causes.signature_misread import misread_files, unknown_labels
from linemap.domain.causes.signature_side import Records, turned_frames
from linemap.domain.causes.signature_vector import shifted_files
from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import Pole
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.record.event import Event
from linemap.domain.record.status import NOTHING_RECORDED, Key, StructureStatus, fold
from linemap.domain.record.workflow import FRAMED_ON_GROUND, Workflow
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Checks

#: So many of a kind, and this share of all that could have it, make one cause.
_MANY, _SHARE = 3, 0.6
_BY_FILE = frozenset({"inner faces shot", "one side's faces shot", "poor survey"})
_BY_CREW = frozenset({"wrong brace set", "square to one tangent", "parallel to the line"})


def gather(survey: CheckedSurvey, records: Records, suspicions: list[Suspicion]) -> list[Suspicion]:
    """Put suspicions of one kind together where most of a file, or of a crew's structures, show them.

    Faults of the survey are gathered by file, faults of framing by the crew that framed.
    """
    groups: dict[tuple[str, str], list[Suspicion]] = defaultdict(list)
    for each in suspicions:
        groups[each.code, _whose(survey, records, each.code, each.rows[0])].append(each)
    gathered: list[Suspicion] = []
    for (code, subject), group in groups.items():
        if subject and len(group) >= max(_MANY, _SHARE * _able(survey, records, code, subject)):
            gathered.append(_one(survey, group, subject))
        else:
            gathered += group
    return gathered


def _whose(survey: CheckedSurvey, records: Records, code: str, row: int) -> str:
    """Return the file or the crew a suspicion at a row may be gathered by, "" when it may not."""
    files = survey.files_of.get(row, ())
    if code in _BY_FILE and len(files) == 1:
        return file_subject(files[0])
    crew = records.crew(survey.figures.key(row), "framed") if code in _BY_CREW else ""
    return f"crew {crew}" if crew else ""


def _able(survey: CheckedSurvey, records: Records, code: str, subject: str) -> int:
    """Count the structures with a verdict that belong to the same file or crew and could show the fault."""
    rows = np.flatnonzero(np.isfinite(survey.checks.along))
    if code == "square to one tangent":
        rows = rows[np.abs(survey.figures.deflection_deg[rows]) > 0.0]
    return sum(_whose(survey, records, code, row) == subject for row in rows.tolist())


def _one(survey: CheckedSurvey, group: list[Suspicion], subject: str) -> Suspicion:
    rows = tuple(sorted(row for each in group for row in each.rows))
    where = f"{counted(len(rows), 'structure')} of one {'crew' if group[0].code in _BY_CREW else 'survey'}"
    first = min(group, key=lambda each: each.rows)
    return replace(
        first,
        subject=subject,
        rows=rows,
        words=f"{first.code} at {where}: {listed(survey.numbers(rows))}",
        evidence=tuple(f"{each.subject}: {each.words}" for each in group[:5]),
    )


def find_causes(
    figures: Figures,
    set_poles: SetPoles,
    checks: Checks,
    shots: Sequence[Shot],
    *,
    events: Iterable[Event],
    tolerances: Tolerances,
    poles: Iterable[Pole] = (),
    workflow: Workflow = FRAMED_ON_GROUND,
    rejected: Collection[DecisionKey] = (),
) -> tuple[Cause, ...]:
    """Explain the exceptions of a survey.

    Parameters
    ----------
    figures, set_poles, checks
        Computed lines, and what `cluster_poles` and `check` made of the shots by `tolerances`.
    shots : sequence of Shot
        All shots, corrected by the decisions that stand (`linemap.domain.causes.cause.corrected_shots`).
    events, poles
        Records of the field, for crews, days and the moment the job is in; the pole schedule, because unequal
        legs decide which second evidence counts.
    rejected : collection of DecisionKey
        Keys of causes a person has rejected: as laws of whole files they no longer compete.

    Returns
    -------
    tuple of Cause
        In the order of the lines; a structure is explained by one cause at most. Nothing to explain gives
        none, and so do no structures, and a doubtful verdict that a better reading would settle.
    """
    if not len(figures):
        return ()
    observed = _SurveyAndShots.of(CheckedSurvey.of(figures, set_poles, checks, shots, tolerances), shots)
    if not observed.survey.exception.any():
        strangers = unknown_labels(observed.survey, observed.shots)
        records = _records(observed.survey, events, poles, workflow) if strangers else None
        return consequences(observed.survey, shots, strangers, records) if records is not None else ()
    misread = [each for each in misread_files(observed.survey) if observed.survey.key(each) not in rejected]
    read_right = observed.as_if_corrected(misread)
    known = {each.subject for each in misread}
    laws = [each for each in shifted_files(read_right.survey, rejected=rejected) if each.subject not in known]
    put_right = read_right.as_if_corrected(laws)
    records = _records(observed.survey, events, poles, workflow)
    single = _of_structures(put_right.survey, records, explained=[*misread, *laws])
    strangers = unknown_labels(put_right.survey, put_right.shots)
    found = [*misread, *laws, *gather(put_right.survey, records, single), *strangers]
    return consequences(observed.survey, shots, found, records)


@dataclass(frozen=True, slots=True, kw_only=True)
class _SurveyAndShots:
    """Shots and what the check makes of them."""

    survey: CheckedSurvey
    shots: tuple[Shot, ...]

    @classmethod
    def of(cls, survey: CheckedSurvey, shots: Sequence[Shot]) -> _SurveyAndShots:
        return cls(survey=survey, shots=tuple(shots))

    def as_if_corrected(self, suspicions: list[Suspicion]) -> _SurveyAndShots:
        """Return the survey with the corrections of suspicions applied."""
        orders = self.survey.orders(suspicions)
        if not orders:
            return self
        shots, _ = apply_corrections(self.shots, orders)
        return _SurveyAndShots(survey=self.survey.with_shots(shots), shots=shots)


def _of_structures(
    survey: CheckedSurvey, records: Records, *, explained: Iterable[Suspicion]
) -> list[Suspicion]:
    """Explain what is left by structure: labels, then doubtful shots, frames, sides, poor surveys."""
    open_rows = survey.exception.copy()
    for each in explained:
        open_rows[list(each.rows)] = False
    found: list[Suspicion] = []
    for look in (
        strange_labels,
        doubtful_shots,
        misset_frames,
        lambda survey, rows: turned_frames(survey, records, rows),
        poor_surveys,
    ):
        fresh = look(survey, np.flatnonzero(open_rows))
        for each in fresh:
            open_rows[list(each.rows)] = False
        found += fresh
    return found


def _records(
    survey: CheckedSurvey, events: Iterable[Event], poles: Iterable[Pole], workflow: Workflow
) -> Records:
    """Gather what is recorded of the structures that have shots."""
    figures, rows = survey.figures, np.unique(survey.matched.row).tolist()
    letters = {figures.key(row): figures.letters_of(row) for row in rows}
    of_structure: dict[Key, list[Event]] = defaultdict(list)
    for event in events:
        if event.key in letters:
            of_structure[event.key].append(event)
    legs: dict[Key, dict[str, Pole]] = defaultdict(dict)
    for pole in poles:
        legs[pole.line, pole.structure][pole.letter] = pole
    return Records(
        statuses=fold(chain.from_iterable(of_structure.values()), workflow, pole_letters=letters),
        events=of_structure,
        poles={key: tuple(by_letter.values()) for key, by_letter in legs.items()},
    )


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

    `survey` is as it stands, before any of the corrections.
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
    keys = [survey.figures.key(row) for row in each.rows]
    return _MOMENTS[max(_passed(records.statuses.get(key, NOTHING_RECORDED)) for key in keys)]


def _passed(status: StructureStatus) -> int:
    if any(step in status.done for step in _AFTER_TAMPING):
        return 3
    if "set" in status.done or "set" in status.begun:
        return 2
    return 1 if "framed" in status.done else 0
