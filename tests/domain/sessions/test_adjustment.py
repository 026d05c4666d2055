"""Robust fits and explanations: a published fit, an independent solver, solving again without a vector."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from linemap.domain.causes.session_words import standing_words
from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import FloatArray
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.sessions.adjustment import Adjustment, adjust
from linemap.domain.sessions.explanation import BAD_FRAME, EXPLANATIONS, FREE, INDEX
from linemap.domain.sessions.fits import change_of
from linemap.domain.sessions.mixture import Fits, Vectors, fit, left_out, misfit
from linemap.domain.survey.session import Session, Sessions, centre_limits, own_axes
from linemap.units import LengthUnit

FEET = Tolerances.default(LengthUnit.FOOT)
SIMILARITY = FREE[INDEX["similarity"]]


def fit_one(
    observed: FloatArray, columns: FloatArray, *, bad: float, law: str = "similarity", large: float = 500.0
) -> Fits:
    free = FREE[INDEX[law]]
    used = np.ones((1, len(observed)), dtype=np.bool_)
    return fit(
        Vectors(
            observed=observed[np.newaxis],
            columns=columns[np.newaxis] * free,
            bad=np.full(used.shape, bad),
            used=used,
            trusted=~used,
            free=free[np.newaxis],
        ),
        small=0.05,
        large=large,
    )


def test_a_published_weighted_similarity_to_every_printed_digit() -> None:
    """R. E. Deakin, Coordinate Transformations for Cadastral Surveying, RMIT University, 2007, pp. 22-29."""
    title = np.array([[5000.0, 5000.0], [4641.116, 5330.333], [5001.006, 5605.246]])
    shot = np.array([[2000.0, 2000.0], [1640.966, 2330.131], [2000.774, 2605.283]])
    weight = np.array([10.0, 5.0, 1.0])
    middle = weight @ shot / weight.sum()
    root = np.sqrt(weight)[:, np.newaxis]
    columns = root[..., np.newaxis] * change_of(shot - middle)
    # outliers as good as excluded, and nothing known of the numbers beforehand: plain weighted least squares
    found = fit_one(root * (title - shot), columns, bad=1e-9, large=1e9)
    east, north, grow, turn = found.values[0]
    a, b = 1.0 + grow, turn
    turned = np.array([a * middle[0] + b * middle[1], -b * middle[0] + a * middle[1]])
    shift = middle + np.array([east, north]) - turned
    assert (round(a, 9), round(b, 9)) == (1.000014359, 0.000485377)
    assert shift.round(3).tolist() == [2998.995, 3000.946]
    assert found.weights[0] == pytest.approx(1.0, abs=1e-6)


def test_a_published_levelling_network_to_every_printed_digit() -> None:
    """GNU Gama 1.5.09, sample of a vertical network: www.vrmapper.com/gama/1doutput.html, read in 2026.

    Four points in a ring, each leg levelled there and back, 5 mm each; point 1a is 1000 m. Heights stand in
    for the numbers of a law, each observation is a vector of one component.
    """
    legs = [("1a", "4", -1.225), ("4", "3", -0.848), ("3", "2", 1.342), ("2", "1a", 0.720),
            ("1a", "2", -0.724), ("2", "3", -1.335), ("3", "4", 0.842), ("4", "1a", 1.231)]  # fmt: skip
    free = np.array([True, True, True, False])
    place = {"4": 0, "3": 1, "2": 2}
    columns, observed = np.zeros((1, len(legs), 2, 4)), np.zeros((1, len(legs), 2))
    for i, (one, other, rise) in enumerate(legs):
        observed[0, i, 0] = rise / 0.005
        for point, sign in ((one, -1.0), (other, 1.0)):
            if point in place:
                columns[0, i, 0, place[point]] = sign / 0.005
    used = np.ones((1, len(legs)), dtype=np.bool_)
    vectors = Vectors(
        observed=observed,
        columns=columns,
        bad=np.full(used.shape, 1e-9),
        used=used,
        trusted=used,
        free=free[np.newaxis],
    )
    found = fit(vectors, small=0.05, large=1e3)
    printed = [998.77513, 997.93325, 999.27487]  # the last digit of the first and last is a half
    assert 1000.0 + found.values[0, :3] == pytest.approx(printed, rel=0.0, abs=5.1e-6)
    sigmas_mm = 1000.0 * np.sqrt(np.diag(np.linalg.inv(found.normal[0]))[:3])
    assert sigmas_mm.round(1).tolist() == [3.1, 3.5, 3.1]


def drawn(seed: int, law: str, count: int, bad: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Draw columns, truth and vectors in sigmas, some of them 5 to 100 sigmas away."""
    rng = np.random.default_rng(seed)
    columns = rng.normal(0.0, 3.0, (count, 2, 4)) * FREE[INDEX[law]]
    truth = rng.normal(0.0, 2.0, 4) * FREE[INDEX[law]]
    away = rng.normal(0.0, 1.0, (count, 2)) * 10.0 ** rng.uniform(0.7, 2.0, (count, 1))
    off = rng.normal(0.0, 1.0, (count, 2)) + np.where(rng.random((count, 1)) < bad, away, 0.0)
    return columns, truth, columns @ truth + off


@pytest.mark.parametrize("law", ["shift", "rotation", "similarity"])
@pytest.mark.parametrize("seed", range(6))
def test_scipys_own_robust_solver_finds_the_same(law: str, seed: int) -> None:
    columns, _, observed = drawn(seed, law, 12, 0.2)
    free = FREE[INDEX[law]]
    found = fit_one(observed, columns, bad=BAD_FRAME, law=law)

    def size(values: FloatArray) -> FloatArray:
        return np.sqrt(np.square(observed - columns[..., free] @ values).sum(axis=1) + 1e-12)

    def loss(square: FloatArray) -> FloatArray:
        """The same mixture as scipy asks for it: value and derivatives by the squared residual."""
        density, weight = misfit(square, np.full(square.shape, BAD_FRAME))
        step = 1e-4 * (1.0 + square)
        bent = (misfit(square + step, np.full(square.shape, BAD_FRAME))[1] - weight) / step
        base = misfit(np.zeros_like(square), np.full(square.shape, BAD_FRAME))[0]
        return np.stack([density - base, weight, bent])

    best = min(
        (
            least_squares(size, start, loss=loss, xtol=1e-12, ftol=1e-12)
            for start in (found.values[0, free], np.zeros(free.sum()), np.full(free.sum(), 1.0))
        ),
        key=lambda each: each.cost,
    )
    assert found.values[0, free] == pytest.approx(best.x, abs=2e-3)


def test_outliers_are_named_and_do_not_pull() -> None:
    columns, truth, observed = drawn(3, "shift", 12, 0.0)
    clean = fit_one(observed, columns, bad=BAD_FRAME, law="shift")
    spoiled = observed.copy()
    spoiled[[2, 7]] += (40.0, -25.0)
    found = fit_one(spoiled, columns, bad=BAD_FRAME, law="shift")
    assert np.flatnonzero(found.weights[0] < 0.5).tolist() == [2, 7]
    assert found.values == pytest.approx(clean.values, abs=0.5)
    assert found.values[0, :2] == pytest.approx(truth[:2], abs=0.5)


@settings(max_examples=examples(30))
@given(seed=st.integers(0, 10_000), count=st.integers(4, 9), law=st.sampled_from(["shift", "similarity"]))
def test_leaving_a_vector_out_is_solving_again_without_it(seed: int, count: int, law: str) -> None:
    columns, _, observed = drawn(seed, law, count, 0.2)
    found = fit_one(observed, columns, bad=BAD_FRAME, law=law)
    free = FREE[INDEX[law]]
    mask = np.outer(free, free)
    covariance = np.linalg.inv(found.normal[0]) * mask
    left = observed - columns @ found.values[0]
    values, spread = left_out(
        np.repeat(found.values, count, axis=0),
        np.repeat(covariance[np.newaxis], count, axis=0),
        found.weights[0],
        columns,
        left,
    )
    for out in range(count):
        kept = np.delete(np.arange(count), out)
        weight = found.weights[0, kept]
        normal = np.einsum("m,map,maq->pq", weight, columns[kept], columns[kept])[np.ix_(free, free)]
        normal += np.eye(int(free.sum())) / 500.0**2
        side = np.einsum("m,map,ma->p", weight, columns[kept], observed[kept])[free]
        if np.linalg.cond(normal) < 1e6:
            assert values[out, free] == pytest.approx(np.linalg.solve(normal, side), rel=1e-5, abs=1e-5)
            again = np.linalg.inv(normal)
            assert spread[out][np.ix_(free, free)] == pytest.approx(again, rel=1e-4, abs=1e-9)


def test_a_vector_far_beyond_all_widths_still_has_a_weight() -> None:
    density, weight = misfit(np.array([0.0, 1e12, 1e18]), np.full(3, BAD_FRAME))
    assert np.isfinite(density).all()
    assert weight[1:] == pytest.approx(1e-6)


# ---- sessions


def sessions_with(
    figures: Figures,
    own: FloatArray,
    *,
    move: complex = 0j,
    check_ins: tuple[complex, ...] = (),
) -> Sessions:
    """One session of the first frames, set off by `own` along and across, all shots moved alike."""
    row = np.arange(len(own))
    off = np.linalg.solve(own_axes(figures, row), own[..., np.newaxis])[..., 0] + (move.real, move.imag)
    none = np.zeros(len(check_ins), dtype=np.int64)
    at = [(2_250_000.0 + 900.0 * i, 899_000.0 - 1_100.0 * i) for i in range(len(check_ins))]
    return Sessions(
        keys=(Session("may.csv", ""),),
        session=np.zeros(len(row), dtype=np.int64),
        row=row,
        off=off,
        sigma=np.full(len(row), 0.021),
        shown=np.column_stack([np.zeros(len(row), dtype=np.int64), row]),
        check_session=none,
        check_at=np.array(at).reshape(-1, 2),
        check_off=np.array([(each.real, each.imag) for each in check_ins]).reshape(-1, 2),
        check_sigma=np.full(len(check_ins), 0.036),
    )


def share(adjustment: Adjustment, words: str) -> float:
    found = [i for i, each in enumerate(EXPLANATIONS) if each.words == words]
    return float(adjustment.share[0, found].sum())


@pytest.fixture
def bent(build: Callable[..., Figures]) -> Figures:
    return build(azimuth_deg=40.0, turn_deg=30.0, factor=0.9992)


OWN = np.array([[0.1, 0.03], [-0.2, 0.02], [0.05, -0.04], [0.15, -0.05], [-0.1, 0.01]])


def test_frames_alone_leave_survey_and_stakes_at_their_odds(bent: Figures) -> None:
    found = adjust(sessions_with(bent, OWN, move=complex(2.0, 1.0)), bent, FEET)
    moved, staked = (
        share(found, f"{who} (one constant shift)") for who in ("survey moved", "line staked off")
    )
    assert staked / moved == pytest.approx(0.6)
    assert moved + staked > 0.8
    assert found.standing[0, 0]  # as observed, the line may be what is off


def test_a_check_in_decides_between_them(bent: Figures) -> None:
    control = (complex(2.01, 0.97),)
    found = adjust(sessions_with(bent, OWN, move=complex(2.0, 1.0), check_ins=control), bent, FEET)
    assert share(found, "survey moved (one constant shift)") > 0.9
    assert not found.standing[0, 0]
    still = adjust(sessions_with(bent, OWN, move=complex(2.0, 1.0), check_ins=(0j,)), bent, FEET)
    assert standing_words(still, 0).startswith("line staked off (one constant shift)")


def test_a_foot_of_a_fixed_size_beats_any_shift_of_that_size(bent: Figures) -> None:
    middle = complex(bent.structures.easting.mean(), bent.structures.northing.mean())
    found = adjust(sessions_with(bent, OWN, move=-2e-6 * middle), bent, FEET)
    assert (
        share(found, "survey moved (the other foot)") + share(found, "line staked off (the other foot)") > 0.9
    )


def test_a_lone_frame_is_asked_nothing_it_would_answer_by_itself(bent: Figures) -> None:
    found = adjust(sessions_with(bent, OWN[:1]), bent, FEET)
    assert share(found, "nothing in common") > 0.99
    assert not np.isfinite(found.of_frames.cost[0, INDEX["shift"]])


def test_no_sessions_are_adjusted_to_nothing(bent: Figures) -> None:
    none = sessions_with(bent, OWN[:0])
    found = adjust(none, bent, FEET)
    assert found.share.shape == (1, len(EXPLANATIONS))
    assert found.frames.tolist() == [0]


def test_each_frame_is_corrected_without_what_it_says_itself(bent: Figures) -> None:
    own = OWN.copy()
    own[1, 1] = 0.9
    found = adjust(
        sessions_with(bent, own, move=complex(2.0, 1.0), check_ins=(complex(2.0, 1.0),)), bent, FEET
    )
    row = np.arange(5)
    moves = found.moves(np.zeros(5, dtype=np.int64), np.full(5, 1 + INDEX["shift"]), row)
    wanted = np.einsum("mij,j->mi", own_axes(bent, row), (2.0, 1.0))
    assert moves.centre == pytest.approx(wanted, abs=0.06)
    assert np.sqrt(moves.centre_variance).max() < 0.06
    assert moves.turn_deg.tolist() == [0.0] * 5


@settings(max_examples=examples(25))
@given(
    seed=st.integers(0, 10_000),
    east=st.floats(-20.0, 20.0),
    north=st.floats(-20.0, 20.0),
)
def test_the_same_session_gives_the_same_answer_in_any_company(
    build: Callable[..., Figures], seed: int, east: float, north: float
) -> None:
    figures = build(azimuth_deg=40.0, turn_deg=30.0, factor=0.9992)
    rng = np.random.default_rng(seed)
    own = rng.normal(0.0, centre_limits(figures, np.arange(5), FEET) / 3.0)
    alone = sessions_with(figures, own, move=complex(east, north), check_ins=(complex(east, north),))
    other = sessions_with(figures, own[:2])
    both = Sessions(
        keys=(Session("may.csv", ""), Session("other.csv", "")),
        session=np.concatenate([alone.session, other.session + 1]),
        row=np.concatenate([alone.row, other.row]),
        off=np.concatenate([alone.off, other.off]),
        sigma=np.concatenate([alone.sigma, other.sigma]),
        shown=np.concatenate([alone.shown, other.shown + np.array([1, 0])]),
        check_session=alone.check_session,
        check_at=alone.check_at,
        check_off=alone.check_off,
        check_sigma=alone.check_sigma,
    )
    one, two = adjust(alone, figures, FEET), adjust(both, figures, FEET)
    assert two.share[0] == pytest.approx(one.share[0], abs=1e-6)
    assert one.share.sum() == pytest.approx(1.0)
