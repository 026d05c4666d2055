"""Sessions: which frames one file of one day shows whole, how far off, and which it does not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.session import (
    CheckIns,
    Session,
    Sessions,
    centre_limits,
    own_axes,
    sessions_of,
)
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import match_shots
from linemap.units import LengthUnit

FEET = Tolerances.default(LengthUnit.FOOT)


@pytest.fixture
def bent(build: Callable[..., Figures]) -> Figures:
    return build(azimuth_deg=40.0, turn_deg=30.0, factor=0.9992)


def gather(figures: Figures, shots: list[Shot], *check_ins: CheckIns) -> Sessions:
    return sessions_of(match_shots(shots, figures)[0], figures, FEET, *check_ins)


def filed(shots: list[Shot], file: str, day: str = "") -> list[Shot]:
    return [replace(shot, file=file, observed_on=day) for shot in shots]


def test_two_days_of_a_file_are_two_sessions(bent: Figures, shoot: Callable[..., list[Shot]]) -> None:
    shots = [
        *filed(shoot(bent, 0, along=0.3), "may.csv", "2026-05-04"),
        *filed(shoot(bent, 1), "may.csv", "2026-05-04"),
        *filed(shoot(bent, 2, across=-0.2), "may.csv", "2026-05-05"),
    ]
    found = gather(bent, shots)
    assert [each.words for each in found.keys] == ["file may.csv, 2026-05-04", "file may.csv, 2026-05-05"]
    assert (found.session.tolist(), found.row.tolist()) == ([0, 0, 1], [0, 1, 2])
    own = np.einsum("mij,mj->mi", own_axes(bent, found.row), found.off)
    assert own == pytest.approx(np.array([[0.3, 0.0], [0.0, 0.0], [0.0, -0.2]]), abs=1e-6)
    assert found.sigma == pytest.approx(FEET.shot_sigma / 2**0.5)
    assert found.named("may.csv").tolist() == [0, 1]
    assert found.named("may.csv", "2026-05-05").tolist() == [1]
    assert found.days_of("may.csv") == ("2026-05-04", "2026-05-05")


def test_what_is_no_frame_of_the_session_is_only_shown(
    bent: Figures, shoot: Callable[..., list[Shot]]
) -> None:
    a, b = shoot(bent, 3)
    twice = [*shoot(bent, 2), replace(shoot(bent, 2)[0], easting=shoot(bent, 2)[0].easting + 3.0)]
    shots = [
        *filed(shoot(bent, 0, spacing_error=6.0), "f"),
        *filed(shoot(bent, 1, across=600.0), "f"),
        *filed(twice, "f"),
        *filed([a], "f"),
        *filed([b], "g"),
        *filed(shoot(bent, 4), "g"),
    ]
    found = gather(bent, shots)
    assert [(each.file, found.row[found.session == i].tolist()) for i, each in enumerate(found.keys)] == [
        ("f", []),
        ("g", [4]),
    ]
    assert found.shown.tolist() == [[0, 0], [0, 1], [0, 2], [0, 3], [1, 3], [1, 4]]


def test_check_ins_belong_to_their_session_even_without_frames(
    bent: Figures, shoot: Callable[..., list[Shot]]
) -> None:
    check_ins = CheckIns(
        session=(Session("control.csv", "2026-05-04"),),
        at=np.array([[2_250_100.0, 900_050.0]]),
        off=np.array([[0.5, -0.3]]),
        sigma=np.array([0.036]),
    )
    found = gather(bent, filed(shoot(bent, 0), "may.csv"), check_ins)
    assert [each.words for each in found.keys] == ["file control.csv, 2026-05-04", "file may.csv"]
    assert (found.check_session.tolist(), found.session.tolist()) == ([0], [1])


def test_no_shots_are_no_sessions(bent: Figures) -> None:
    found = gather(bent, [])
    assert (found.keys, found.row.tolist(), found.shown.tolist()) == ((), [], [])


def test_the_tolerance_along_is_tight_at_the_angle(bent: Figures) -> None:
    assert centre_limits(bent, np.array([1, 2]), FEET).tolist() == [[1.0, 0.25], [0.25, 0.25]]
