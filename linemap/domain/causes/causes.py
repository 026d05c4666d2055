"""Why the exceptions of a survey are what they are: as few causes as explain them, each with its evidence.

Laws of whole files are looked for first. Single structures are then looked at as if these were corrected,
so that a fault at a structure shows even in a file that is off. Nothing is applied: a named person decides.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from linemap.domain.causes.cause import Cause, DecisionKey, Explanation, Suspicion, counted
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.causes.correction import Order, apply_corrections, depend_on_order, moves_sessions
from linemap.domain.causes.records import Records
from linemap.domain.causes.session_verdict import Solution
from linemap.domain.causes.signature_frame import misset_frames
from linemap.domain.causes.signature_height import strange_heights
from linemap.domain.causes.signature_label import doubtful_shots, poor_surveys
from linemap.domain.causes.signature_line import lines_of_shots
from linemap.domain.causes.signature_misread import misread_files
from linemap.domain.causes.signature_reference import files_far_off, with_point_named
from linemap.domain.causes.signature_relabel import strange_labels, unknown_labels
from linemap.domain.causes.signature_renumber import renumbered_files
from linemap.domain.causes.signature_session import moved_sessions
from linemap.domain.causes.signature_side import turned_frames
from linemap.domain.causes.signature_station import strange_stations
from linemap.domain.causes.together import gather
from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import IntArray, ObjectArray, Pole
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.record.event import Event
from linemap.domain.record.status import StructureStatus
from linemap.domain.record.workflow import FRAMED_ON_GROUND, Workflow
from linemap.domain.sessions.adjustment import adjusted
from linemap.domain.survey.session import NO_CHECK_INS, CheckIns
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Checks


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
    check_ins: CheckIns = NO_CHECK_INS,
    solution: Solution | None = None,
) -> tuple[Cause, ...]:
    """Explain the exceptions of a survey.

    Parameters
    ----------
    figures, set_poles, checks
        Computed lines, and what `cluster_poles` and `check` made of the shots by `tolerances`.
    shots : sequence of Shot
        All shots, corrected by the decisions that stand (`linemap.domain.causes.cause.corrected_shots`).
    events, poles
        Records of the field, for crews, days and the moment the job is in; the pole schedule.
    rejected : collection of DecisionKey
        Keys of causes a person has rejected: as laws of whole files they no longer compete.
    check_ins : CheckIns
        Shots on control points, corrected as `shots` are.
    solution : Solution, optional
        What the sessions share, and what was decided about it; None = to be found, and nothing was.

    Returns
    -------
    tuple of Cause
        In the order of the lines; a structure is explained by a second cause only where that shows as if the
        first were put right, which it says; what heights and stations of the list show comes beside. Nothing
        to explain gives none, and so do no structures, and a doubtful verdict that a better reading would
        settle.
    """
    if not len(figures):
        return ()

    def unrejected(now: _SurveyAndShots, laws: list[Suspicion]) -> list[Suspicion]:
        return [each for each in laws if now.survey.key(each) not in rejected]

    observed = _SurveyAndShots.of(CheckedSurvey.of(figures, set_poles, checks, shots, tolerances), shots)
    looked, records = _Looked(observed), Records(figures, events, poles, workflow)
    if solution is None:
        solution = Solution.of(shots, figures, tolerances, observed=checks, check_ins=check_ins)
    known = solution.adjustment if not solution.corrections else None

    def sessions(now: _SurveyAndShots) -> list[Suspicion]:
        if known is not None and now is observed:
            return moved_sessions(now.survey, known, rejected=rejected)
        where = now.survey.exception
        fresh = adjusted(now.survey.matched, figures, tolerances, check_ins, only=where)
        return moved_sessions(now.survey, fresh, rejected=rejected)

    looked.at(lambda now: unrejected(now, lines_of_shots(now.survey, now.shots)))
    if looked.now.survey.exception.any():
        looked.at(lambda now: unrejected(now, misread_files(now.survey)))
        looked.at(lambda now: unrejected(now, renumbered_files(now.survey, now.shots)))
        looked.at(lambda now: unrejected(now, files_far_off(now.survey)))
        looked.at(lambda now: with_point_named(now.survey, sessions(now), check_ins.at))
        looked.at(lambda now: strange_labels(now.survey, now.shots, _open(now.survey, looked.found)))
    elif len(check_ins.at):
        looked.at(sessions)
    looked.at(lambda now: unknown_labels(now.survey, now.shots))
    if looked.now.survey.exception.any():
        looked.at(lambda now: gather(now.survey, records, _of_structures(now.survey, records, looked.found)))
    beside = [*strange_heights(looked.now.survey), *strange_stations(looked.now.survey)]
    found = [*looked.found, *unrejected(looked.now, beside)]
    return consequences(observed.survey, shots, found, records, solution)


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


class _Looked:
    """What was found so far, and the survey as if all of it were put right."""

    def __init__(self, observed: _SurveyAndShots) -> None:
        self._corrected = observed
        self._fresh: list[Suspicion] = []
        self.found: list[Suspicion] = []

    @property
    def now(self) -> _SurveyAndShots:
        """The survey with every correction found so far."""
        self._corrected, self._fresh = self._corrected.as_if_corrected(self._fresh), []
        return self._corrected

    def at(self, look: Callable[[_SurveyAndShots], list[Suspicion]]) -> None:
        """Add what a look at the survey as it would be finds; files that nothing brings home say no more."""
        lost = {each.subject for each in self.found if each.correction is None}
        fresh = [each for each in look(self.now) if each.subject not in lost]
        self._fresh = fresh
        self.found += [_entangled(each, self.found) for each in fresh]


def _entangled(each: Suspicion, before: Sequence[Suspicion]) -> Suspicion:
    """Say of what shows as if another cause were put right that it does.

    Two corrections of labels, or two of coordinates, are not the same in the other order: then the later one
    is not offered before the earlier one is decided.
    """
    rows = set(each.rows)
    first = [other for other in before if other.correction is not None and rows.intersection(other.rows)]
    if not first:
        return each
    names = " and ".join(f"{other.subject} ({other.code})" for other in first)
    waits = any(depend_on_order(each.correction, other.correction) for other in first)
    order = "; the two are entangled: decide that first" if waits else ""
    return replace(
        each,
        evidence=(*each.evidence, f"seen as if {names} were put right{order}"),
        correction=None if waits else each.correction,
    )


def _of_structures(survey: CheckedSurvey, records: Records, before: Iterable[Suspicion]) -> list[Suspicion]:
    """Explain what is left by structure: doubtful shots, then frames, sides, poor surveys.

    `survey` is as if the corrections found before were accepted: what these settle is no exception there.
    """
    left = _open(survey, before)
    found: list[Suspicion] = []
    for look in (
        doubtful_shots,
        misset_frames,
        lambda survey, rows: turned_frames(survey, records, rows),
        poor_surveys,
    ):
        fresh = look(survey, left)
        left = np.setdiff1d(left, [row for each in fresh for row in each.rows])
        found += fresh
    return found


def _open(survey: CheckedSurvey, before: Iterable[Suspicion]) -> IntArray:
    """Return the rows still to explain: exceptions that no cause without a correction has."""
    explained = [row for each in before if each.correction is None for row in each.rows]
    return np.setdiff1d(np.flatnonzero(survey.exception), np.array(explained, dtype=np.int64))


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
    survey: CheckedSurvey,
    shots: Sequence[Shot],
    suspicions: list[Suspicion],
    records: Records,
    solution: Solution,
) -> tuple[Cause, ...]:
    """Turn suspicions into causes, in the order of the lines.

    All corrections are tried at once: they concern different structures.

    `survey` is as it stands, before any of the corrections.
    """
    before = solution.judge(survey.checks).verdict
    after = _after(survey, shots, suspicions, solution)
    corrections = Counter(row for each in suspicions if each.correction for row in each.rows)
    return tuple(
        Cause(
            line=survey.line_name(each.rows),
            structures=survey.numbers(each.rows),
            would_change=_change(before, after, each, corrections),
            moment=_ON_PAPER if each.on_paper else _moment(survey, each, records),
            **{name.name: getattr(each, name.name) for name in fields(Explanation)},
        )
        for each in sorted(suspicions, key=lambda each: (each.rows, each.code))
    )


def _after(
    survey: CheckedSurvey, shots: Sequence[Shot], suspicions: list[Suspicion], solution: Solution
) -> ObjectArray:
    """Judge the structures with a correction as if all were accepted; the others are not looked at."""
    concerned = [each for each in suspicions if each.correction is not None]
    if not concerned:
        return survey.checks.verdict
    places = {
        (survey.line(row).name.casefold(), survey.number(row)) for each in concerned for row in each.rows
    }
    numbers = {number for _, number in places}

    def is_concerned(shot: Shot) -> bool:
        if shot.structure not in numbers:
            return False
        return not shot.line or (shot.line.casefold(), shot.structure) in places

    def checked(before: Sequence[Shot], orders: list[Order]) -> CheckedSurvey:
        corrected, _ = apply_corrections(before, orders)
        return survey.with_shots([shot for shot in corrected if is_concerned(shot)])

    orders = survey.orders(concerned)
    moving = [each.correction for each in orders if moves_sessions(each.correction)]
    put_right = checked(shots, orders)
    if not moving and not solution.corrections:
        return solution.judge(put_right.checks, observed=put_right.checks).verdict
    observed = checked(solution.shots, [each for each in orders if not moves_sessions(each.correction)])
    shown = solution.check(put_right.set_poles, moving)
    return solution.judge(shown, moving, observed=observed.checks).verdict


def _change(before: ObjectArray, after: ObjectArray, each: Suspicion, corrections: Mapping[int, int]) -> str:
    if each.correction is None:
        return "nothing: no correction of the shots settles it"
    steps = Counter((str(before[row]), str(after[row])) for row in each.rows if before[row] != after[row])
    said = [f"{counted(count, 'structure')} {old} -> {new}" for (old, new), count in steps.items()]
    said += ["if it is the labels"] * (each.correction["kind"] == "swap_labels")
    if any(corrections[row] > 1 for row in each.rows):
        said.append("with the other corrections of these accepted too")
    return ", ".join(said) if steps else "no verdict changes"


def _moment(survey: CheckedSurvey, each: Suspicion, records: Records) -> str:
    """Return the cheapest moment open at all its structures."""
    keys = [survey.figures.key(row) for row in each.rows]
    return _MOMENTS[max(_passed(records.status(key)) for key in keys)]


def _passed(status: StructureStatus) -> int:
    if any(step in status.done for step in _AFTER_TAMPING):
        return 3
    if "set" in status.done or "set" in status.begun:
        return 2
    return 1 if "framed" in status.done else 0
