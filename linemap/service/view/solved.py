"""What the shots of a job come to: corrected as decided, checked, adjusted session by session, explained."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from linemap.domain.causes.cause import (
    Cause,
    CorrectionNote,
    DecisionKey,
    corrected_shots,
    session_corrections,
    standing,
)
from linemap.domain.causes.causes import find_causes
from linemap.domain.causes.session_verdict import Solution
from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Declaration
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Finding
from linemap.domain.guying.anchor_check import AnchorCheck, check_anchors
from linemap.domain.survey.check_in import Marks, check_ins, marks_of
from linemap.domain.survey.control_check import CheckIn, control_findings, listed_check_ins
from linemap.domain.survey.orientation import check, withhold
from linemap.domain.survey.session import CheckIns
from linemap.domain.survey.set_poles import SetPoles, cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Checks
from linemap.service.job.stored import Stored


class SolvedSurvey(NamedTuple):
    """What the shots of a job come to."""

    tolerances: Tolerances
    #: Shots after accepted corrections, and a sentence for each correction.
    shots: tuple[Shot, ...]
    correction_notes: tuple[CorrectionNote, ...]
    set_poles: SetPoles
    #: Checks of each frame by itself; and with what sessions share, withheld for what is not declared.
    judged: Checks
    checks: Checks
    solution: Solution
    on_control: CheckIns
    rejected: tuple[DecisionKey, ...]
    causes: tuple[Cause, ...]
    anchor_checks: tuple[AnchorCheck, ...]
    anchor_findings: tuple[Finding, ...]
    check_ins: tuple[CheckIn, ...]
    control_findings: tuple[Finding, ...]

    @property
    def unheld_shots(self) -> Iterator[Shot]:
        """The shots that are no check-ins."""
        held = {(each.file, each.row, each.point) for each in self.check_ins}
        return (shot for shot in self.shots if shot.key not in held)


def solve_survey(
    stored: Stored, computed: Figures, tolerances: Tolerances, declaration: Declaration
) -> SolvedSurvey:
    """Correct the shots as decided, check poles and anchors against the design, explain the exceptions."""
    unit = declaration.unit.symbol
    shots, correction_notes = corrected_shots(
        stored.observed_shots, stored.decisions, stored.naming, unit=unit
    )
    set_poles = cluster_poles(shots, computed, default_sigma=tolerances.shot_sigma)
    marks = marks_of(computed, tolerances, declaration.unit)
    held, asked = check_ins(shots, stored.control, marks)
    if session_corrections(stored.decisions):
        solution = _observed_solution(stored, computed, tolerances, marks)
    else:
        observed = check(computed, set_poles, tolerances)
        solution = Solution.of(shots, computed, tolerances, observed=observed, check_ins=held.columns)
    judged = solution.check(set_poles) if solution.corrections else solution.observed
    stands = standing(stored.decisions)
    rejected = tuple(key for key, decision in stands.items() if decision.answer == "rejected")
    causes = find_causes(
        computed,
        set_poles,
        judged,
        shots,
        events=stored.events,
        tolerances=tolerances,
        poles=stored.poles,
        workflow=stored.record.workflow,
        rejected=rejected,
        check_ins=held.columns,
        solution=solution,
    )
    anchor_checks, anchor_findings = check_anchors(computed, set_poles, stored.guys, shots, tolerances)
    return SolvedSurvey(
        tolerances=tolerances,
        shots=shots,
        correction_notes=correction_notes,
        set_poles=set_poles,
        judged=judged,
        solution=solution,
        on_control=held.columns,
        checks=withhold(solution.judge(judged), computed, missing=declaration.withholding),
        rejected=rejected,
        causes=causes,
        anchor_checks=anchor_checks,
        anchor_findings=anchor_findings,
        check_ins=listed_check_ins(held, stored.observed_shots, marks),
        control_findings=(
            *asked,
            *(control_findings(shots, held, marks, _explained(causes)) if stored.control else ()),
        ),
    )


def _explained(causes: Iterable[Cause]) -> frozenset[str]:
    """Return the files of shots that a cause would correct as a whole."""
    corrections = (cause.correction or {} for cause in causes)
    return frozenset(str(each["file"]) for each in corrections if "file" in each and "rows" not in each)


def _observed_solution(stored: Stored, computed: Figures, tolerances: Tolerances, marks: Marks) -> Solution:
    """Adjust the sessions of the shots as they are without the corrections of whole sessions that stand."""
    moved = session_corrections(stored.decisions)
    decisions = [each for each in stored.decisions if each.key not in moved]
    shots, _ = corrected_shots(stored.observed_shots, decisions, stored.naming)
    poles = cluster_poles(shots, computed, default_sigma=tolerances.shot_sigma)
    held, _ = check_ins(shots, stored.control, marks)
    return Solution.of(
        shots,
        computed,
        tolerances,
        observed=check(computed, poles, tolerances),
        check_ins=held.columns,
        corrections=moved.values(),
    )
