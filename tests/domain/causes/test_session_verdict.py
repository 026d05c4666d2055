"""Verdicts by what a session shares: what a check-in proves, what none can, and what was decided before."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from linemap.domain.causes.cause import Cause, Decision, corrected_shots
from linemap.domain.causes.causes import find_causes
from linemap.domain.causes.session_verdict import Solution
from linemap.domain.causes.session_words import odd_check_in
from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Block
from linemap.domain.sessions.adjustment import adjusted
from linemap.domain.survey.orientation import check
from linemap.domain.survey.session import NO_CHECK_INS, CheckIns, Session
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import match_shots
from linemap.domain.survey.verdict import Checks, Held
from linemap.units import LengthUnit

FEET = Tolerances.default(LengthUnit.FOOT)
SHIFT = complex(0.50, -0.30)
#: Frames as set: four inside their tolerances, one truly 1.25 ft ahead.
AS_SET = ((0.2, 0.05), (-0.3, 0.02), (1.25, -0.04), (0.1, -0.08), (-0.15, 0.06))
BAD = 2


@pytest.fixture
def straight(build: Callable[..., Figures]) -> Figures:
    return build(azimuth_deg=69.4)


@pytest.fixture
def session(straight: Figures, shoot: Callable[..., list[Shot]]) -> Callable[..., list[Shot]]:
    """Shoot the frames of one file, all moved alike."""

    def shoot_all(move: complex = SHIFT, as_set: Sequence[tuple[float, float]] = AS_SET) -> list[Shot]:
        shots = [
            replace(shot, easting=shot.easting + move.real, northing=shot.northing + move.imag)
            for row, (along, across) in enumerate(as_set)
            for shot in shoot(straight, row, along=along, across=across)
        ]
        return [
            replace(shot, file="may.csv", observed_on="2026-05-04", row=i + 1) for i, shot in enumerate(shots)
        ]

    return shoot_all


def check_in(*off: complex) -> CheckIns:
    """Shots on control points along the line, off by so much."""
    at = [(2_250_000.0 + 1_500.0 * i, 900_400.0 + 600.0 * i) for i in range(len(off))]
    return CheckIns(
        session=(Session("may.csv", "2026-05-04"),) * len(off),
        at=np.array(at).reshape(-1, 2),
        off=np.array([(each.real, each.imag) for each in off]).reshape(-1, 2),
        sigma=np.full(len(off), 0.036),
    )


def plain(figures: Figures, shots: Sequence[Shot]) -> Checks:
    return check(figures, cluster_poles(shots, figures, default_sigma=FEET.shot_sigma), FEET)


def judge(
    figures: Figures,
    shots: Sequence[Shot],
    check_ins: CheckIns = NO_CHECK_INS,
    correction: dict[str, Any] | None = None,
) -> Checks:
    """Judge a session as it is, or with a correction accepted."""
    corrections = [correction] if correction else []
    corrected = list(corrected_shots(shots, [accepted(each) for each in corrections])[0])
    solution = Solution.of(
        shots,
        figures,
        FEET,
        observed=plain(figures, shots),
        check_ins=check_ins,
        corrections=corrections,
    )
    poles = cluster_poles(corrected, figures, default_sigma=FEET.shot_sigma)
    return solution.judge(solution.check(poles))


def accepted(correction: dict[str, Any]) -> Decision:
    return Decision(
        id="d1",
        cause="base or datum shifted",
        subject="file may.csv",
        line="North",
        answer="accepted",
        who="R. Calder",
        at=dt.datetime(2026, 5, 5, 12, tzinfo=dt.UTC),
        correction=correction,
    )


def find(figures: Figures, shots: Sequence[Shot], check_ins: CheckIns = NO_CHECK_INS) -> tuple[Cause, ...]:
    poles = cluster_poles(shots, figures, default_sigma=FEET.shot_sigma)
    checks = check(figures, poles, FEET)
    return find_causes(figures, poles, checks, shots, events=(), tolerances=FEET, check_ins=check_ins)


def doubts(checks: Checks) -> list[str]:
    """What is said of verdicts in doubt, in words."""
    return [
        block.at(i, "North", "").words
        for block in checks.findings
        if isinstance(block, Block) and block.code == "session in doubt"
        for i in range(len(block.rows))
    ]


def moved_back(shots: Sequence[Shot], figures: Figures, check_ins: CheckIns) -> dict[str, Any]:
    cause = next(each for each in find(figures, shots, check_ins) if each.code == "base or datum shifted")
    assert cause.correction is not None
    return dict(cause.correction)


def test_with_one_check_in_five_pass_but_for_the_bad_one(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    shots, control = session(), check_in(complex(0.49, -0.33))
    correction = moved_back(shots, straight, control)
    assert (correction["east"], correction["north"]) == pytest.approx((-0.49, 0.32), abs=0.05)
    after = judge(straight, shots, control, correction)
    assert after.verdict.tolist() == ["pass", "pass", "fail", "pass", "pass"]
    assert after.held.tolist() == [Held.CONTROL, Held.CONTROL, "", Held.CONTROL, Held.CONTROL]


def test_the_sigma_of_a_correction_is_part_of_the_centres_and_not_of_the_spacings(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    shots, control = session(), check_in(complex(0.49, -0.33))
    before = judge(straight, shots, control)
    after = judge(straight, shots, control, moved_back(shots, straight, control))
    assert np.all(after.along_sigma > before.along_sigma + 0.005)
    assert np.all(after.across_sigma > before.across_sigma + 0.005)
    assert after.spacing_sigma.tolist() == pytest.approx(before.spacing_sigma.tolist())
    turned = {
        "kind": "similarity", "file": "may.csv", "east": 0.0, "north": 0.0, "factor": 1.0, "turn_deg": 0.0,
        "about": [2_251_000.0, 900_500.0], "covariance": np.diag([4e-4, 4e-4, 1e-9, 1e-9]).tolist(),
    }  # fmt: skip
    spun = judge(straight, shots, control, turned)
    wider = np.hypot(before.rotation_sigma_deg, np.degrees(1e-9**0.5))
    assert spun.rotation_sigma_deg.tolist() == pytest.approx(wider.tolist())
    # 1,000 ft from the point the scale and the turn are worth 0.032 ft each
    assert spun.along_sigma[0] > spun.along_sigma[2] > before.along_sigma[2]


def test_without_a_check_in_accepting_makes_no_pass_and_says_why(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    shots = session()
    correction = moved_back(shots, straight, NO_CHECK_INS)
    after = judge(straight, shots, correction=correction)
    assert set(after.verdict) == {"cannot tell"}
    assert all("the correction accepted proves nothing" in words for words in doubts(after))
    assert all("no check-in: a shot on a known point decides" in words for words in doubts(after))
    assert len(doubts(after)) == len(AS_SET)


def test_before_a_decision_a_fail_stays_a_fail(straight: Figures, session: Callable[..., list[Shot]]) -> None:
    for control in (NO_CHECK_INS, check_in(complex(0.49, -0.33))):
        shots = session()
        alone, judged = plain(straight, shots), judge(straight, shots, control)
        assert {str(v) for v in judged.verdict[alone.verdict == "fail"]} == {"fail"}


def test_a_pass_that_a_standing_explanation_takes_away_cannot_be_told(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    # the survey is 0.45 ahead: what was set 1.25 back looks as if it were inside its tolerance
    as_set = ((0.0, 0.0), (0.05, 0.02), (-1.25, -0.02), (0.1, 0.03), (0.0, 0.01))
    away = 0.45 * np.exp(1j * np.radians(90.0 - 69.4)) + 0.4 * np.exp(-1j * np.radians(69.4))
    shots = session(complex(away), as_set)
    alone, judged = plain(straight, shots), judge(straight, shots)
    lost = (alone.verdict == "pass") & (judged.verdict == "cannot tell")
    assert "pass" not in judged.verdict[lost].tolist()
    assert len(doubts(judged)) == int(lost.sum())
    assert all("passes only as observed" in words for words in doubts(judged))


def test_a_clean_session_passes_against_its_own_base(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    as_set = ((0.02, 0.01), (-0.1, 0.02), (0.05, -0.04), (0.1, -0.03), (-0.15, 0.02))
    judged = judge(straight, session(0j, as_set))
    assert set(judged.verdict) == {"pass"}
    assert set(judged.held) == {Held.OWN_BASE}
    assert doubts(judged) == []
    controlled = judge(straight, session(0j, as_set), check_in(complex(0.01, 0.02), complex(-0.02, 0.0)))
    assert set(controlled.held) == {Held.CONTROL}


def test_one_odd_check_in_asks_for_another(straight: Figures, session: Callable[..., list[Shot]]) -> None:
    shots, control = session(), check_in(complex(3.1, 0.2))
    correction = moved_back(shots, straight, check_in(complex(0.49, -0.33)))
    after = judge(straight, shots, control, correction)
    assert set(after.verdict) == {"cannot tell"}
    assert any("one check-in is odd: shoot another" in words for words in doubts(after))


def test_a_bad_mark_among_good_ones_is_odd_and_moves_nothing(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    as_set = ((0.02, 0.01), (-0.1, 0.02), (0.05, -0.04), (0.1, -0.03), (-0.15, 0.02))
    control = check_in(complex(0.01, 0.02), complex(-0.02, 0.0), complex(2.4, 1.1))
    shots = session(0j, as_set)
    matched, _ = match_shots(shots, straight)
    found = adjusted(matched, straight, FEET, control)
    assert odd_check_in(found, 0)
    assert not odd_check_in(adjusted(matched, straight, FEET, check_in(0.01 + 0.02j)), 0)
    assert set(judge(straight, shots, control).verdict) == {"pass"}
    assert find(straight, shots, control) == ()


def test_check_ins_that_agree_say_that_the_line_is_staked_off(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    shots, control = session(), check_in(complex(0.01, 0.02), complex(-0.02, 0.0))
    (cause,) = [each for each in find(straight, shots, control) if each.subject == "file may.csv"]
    assert cause.code == "line staked off"
    assert cause.correction is None
    assert set(judge(straight, shots, control).verdict) == {"fail"}


def test_stakes_and_shots_from_one_moved_base_do_not_pass(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    # the frames look right, and two check-ins are off alike
    as_set = ((0.02, 0.01), (-0.1, 0.02), (0.05, -0.04), (0.1, -0.03), (-0.15, 0.02))
    shots, control = session(0j, as_set), check_in(complex(1.5, 0.8), complex(1.52, 0.78))
    judged = judge(straight, shots, control)
    assert set(judged.verdict) == {"cannot tell"}
    cause, staked = find(straight, shots, control)
    assert (cause.code, staked.code) == ("base or datum shifted", "line staked off")
    assert staked.correction is None
    assert "stakes set from the same moved base" in cause.words
    assert cause.correction is not None
    assert set(judge(straight, shots, control, dict(cause.correction)).verdict) == {"fail"}


def test_a_decision_without_sigma_still_moves_the_shots_and_is_judged_by_the_same_rules(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    shots = session()
    mean = {"kind": "translate", "file": "may.csv", "east": -0.71, "north": 0.22}
    assert set(judge(straight, shots, correction=mean).verdict) == {"cannot tell"}
    after = judge(straight, shots, check_in(complex(0.49, -0.33)), mean)
    assert after.verdict[BAD] == "fail"
    assert plain(straight, corrected_shots(shots, [accepted(mean)])[0]).along[BAD] == pytest.approx(
        1.0, abs=0.1
    )


def test_the_cause_says_what_stands_what_would_decide_and_who_stands_out(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    cause = next(each for each in find(straight, session()) if each.subject == "file may.csv")
    assert "stands: survey moved (one constant shift) " in cause.words
    assert "line staked off (one constant shift) " in cause.words
    assert "no check-in: a shot on a known point decides" in cause.evidence
    assert cause.asks_for.startswith("a shot on a known point")
    controlled = next(
        each
        for each in find(straight, session(), check_in(complex(0.49, -0.33)))
        if "may.csv" in each.subject
    )
    assert "stand out and are not used: 1/3" in controlled.evidence
    assert any(words.startswith("correction at the middle dN +0.3") for words in controlled.evidence)


def test_a_correction_of_one_day_leaves_the_other(
    straight: Figures, session: Callable[..., list[Shot]]
) -> None:
    later = [replace(shot, observed_on="2026-05-05") for shot in session(0j)]
    correction = {"kind": "translate", "file": "may.csv", "day": "2026-05-04", "east": -0.5, "north": 0.3}
    corrected, (note,) = corrected_shots([*session(), *later], [accepted(correction)])
    assert [shot.easting for shot in corrected[10:]] == [shot.easting for shot in later]
    assert "10 shots of may.csv" in note.words
