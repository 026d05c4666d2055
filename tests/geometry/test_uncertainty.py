import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtr
from scipy.stats import norm

from linemap.geometry.frame import AsSet, as_set
from linemap.geometry.uncertainty import (
    centre_sigma,
    coverage_factor,
    log_normal_below,
    normal_below,
    probability_inside,
    propagate,
    rotation_sigma_deg,
    spacing_sigma,
)


@pytest.mark.parametrize(
    ("sigmas", "below"),
    [  # Abramowitz & Stegun, Handbook of Mathematical Functions (1964), table 26.1
        (0.0, 0.5),
        (0.5, 0.691462461274013),
        (1.0, 0.841344746068543),
        (2.0, 0.977249868051821),
        (3.0, 0.998650101968370),
    ],
)
def test_published_values(sigmas: float, below: float) -> None:
    assert normal_below(sigmas) == pytest.approx(below, abs=5e-16)
    assert normal_below(-sigmas) == pytest.approx(1.0 - below, abs=5e-16)


def test_equals_scipy_to_the_last_digits() -> None:
    sigmas = np.concatenate(
        [np.linspace(-37.0, 10.0, 100_001), np.array([-1.0, 1.0, 4.0, -4.0]) * math.sqrt(2.0)]
    )
    ours, theirs = normal_below(sigmas), ndtr(sigmas)
    np.testing.assert_allclose(ours, theirs, rtol=1e-12, atol=0.0)
    np.testing.assert_allclose(ours, theirs, rtol=0.0, atol=2.3e-16)


def test_the_logarithm_equals_scipy_far_below_what_a_number_can_hold() -> None:
    sigmas = np.concatenate(
        [np.linspace(-400.0, 8.0, 100_001), [-1e6, -35.000001, -34.999999, -np.inf, np.nan]]
    )
    np.testing.assert_allclose(log_normal_below(sigmas), log_ndtr(sigmas), rtol=3e-15, atol=3e-16)


def test_ends_and_what_is_not_known() -> None:
    assert normal_below([-np.inf, -1e300, -50.0, 9.0, 1e300, np.inf]).tolist() == [
        0.0,
        0.0,
        0.0,
        1.0,
        1.0,
        1.0,
    ]
    assert np.isnan(normal_below([np.nan, 0.1, 1.0, 9.0])).tolist() == [True, False, False, False]
    assert normal_below([]).tolist() == []
    assert normal_below([[0.1, 1.0], [-9.0, 9.0]]).shape == (2, 2)


@given(st.floats(-8.0, 8.0))
def test_the_two_sides_make_up_the_whole(sigmas: float) -> None:
    assert normal_below(sigmas) + normal_below(-sigmas) == pytest.approx(1.0, abs=3e-16)


@given(st.lists(st.floats(-40.0, 40.0), min_size=1, max_size=20))
def test_each_number_of_many_is_as_alone(sigmas: list[float]) -> None:
    assert normal_below(sigmas).tolist() == [float(normal_below(one)) for one in sigmas]


SIGMAS = st.floats(0.001, 0.2)

#: A frame at azimuth 63.25, 15.5 ft apart by design; set 0.8 degrees counter-clockwise, 0.15 ahead, 0.10 left
#: and 0.12 ft wide.
AZIMUTH, SPACING = 63.25, 15.5


def set_poles() -> NDArray[np.float64]:
    """(2, 2): where A and B stand, east and north from the design centre."""
    ahead, arm = math.radians(AZIMUTH), math.radians(AZIMUTH - 0.8 + 90.0)
    centre = np.array(
        [
            0.15 * math.sin(ahead) - 0.10 * math.cos(ahead),
            0.15 * math.cos(ahead) + 0.10 * math.sin(ahead),
        ]
    )
    half = 15.62 / 2.0 * np.array([math.sin(arm), math.cos(arm)])
    return np.stack([centre - half, centre + half])


def compare(poles: NDArray[np.float64]) -> AsSet:
    """Residuals of many frames, poles (n, 2, 2)."""
    size = len(poles)
    return as_set(
        np.zeros(size),
        np.zeros(size),
        structure_azimuth_deg=np.full(size, AZIMUTH),
        spacing_grid=np.full(size, SPACING),
        pole_count=np.full(size, 2),
        a_left=np.full(size, True),
        set_poles=np.concatenate([poles, np.full((size, 1, 2), np.nan)], axis=1),
    )


def columns(seen: AsSet) -> NDArray[np.float64]:
    return np.stack([seen.rotation_deg, seen.along, seen.across, seen.spacing_error], axis=-1)


def simulated(covariance: NDArray[np.float64], size: int) -> NDArray[np.float64]:
    """Residuals of `size` surveys of the same frame with errors of the given 4 by 4 covariance."""
    draw = np.random.default_rng(115).standard_normal((size, 4))
    errors = draw @ np.linalg.cholesky(covariance).T
    return columns(compare(set_poles() + errors.reshape(size, 2, 2)))


def test_the_frame_of_the_simulation_is_the_one_described() -> None:
    assert columns(compare(set_poles()[np.newaxis]))[0] == pytest.approx([-0.8, 0.15, -0.10, 0.12])


RANDOM, COMMON, CENTRING = 0.03, 0.02, 0.05
ISOTROPIC = np.eye(2)
CASES = {
    "isotropic": ((RANDOM**2 + COMMON**2 + CENTRING**2) * ISOTROPIC,) * 2,
    "anisotropic": (
        np.array([[0.0060, 0.0015], [0.0015, 0.0030]]),
        np.array([[0.0030, -0.0008], [-0.0008, 0.0050]]),
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_closed_form_agrees_with_simulation_within_its_standard_error(case: str) -> None:
    first, last = CASES[case]
    between = COMMON**2 * ISOTROPIC
    a, b = set_poles()
    closed = propagate(b - a, first, last, structure_azimuth_deg=AZIMUTH, covariance_between=between)
    size = 100_000
    seen = simulated(np.block([[first, between], [between.T, last]]), size)
    ratio = seen.std(axis=0) / np.sqrt(np.diag(closed))
    standard_error = 1.0 / math.sqrt(2.0 * size)  # of a standard deviation: 0.22 %
    assert np.abs(ratio - 1.0).max() < 4.0 * standard_error
    spread = np.sqrt(np.diag(closed))
    correlation = closed / np.outer(spread, spread)
    assert np.abs(np.corrcoef(seen.T) - correlation).max() < 4.0 / math.sqrt(size)


def test_closed_form_of_the_isotropic_case() -> None:
    """0.03 random, 0.05 centring per pole, 0.02 common to both."""
    own = math.hypot(RANDOM, CENTRING)
    assert rotation_sigma_deg(own, own, distance=15.62) == pytest.approx(0.3025, abs=5e-5)
    assert centre_sigma(own, own, common=COMMON) == pytest.approx(0.0458, abs=5e-5)
    assert spacing_sigma(own, own) == pytest.approx(0.0825, abs=5e-5)


@pytest.mark.parametrize(
    ("sigma", "spacing", "expected"),
    [(0.02, 12.0, 0.135), (0.03, 15.5, 0.157), (0.05, 19.5, 0.208), (0.10, 26.0, 0.312), (0.10, 12.5, 0.648)],
)
def test_rotation_sigma_by_hand(sigma: float, spacing: float, expected: float) -> None:
    """Worked as degrees(sqrt(2) sigma / spacing)."""
    assert rotation_sigma_deg(sigma, sigma, distance=spacing) == pytest.approx(expected, abs=5e-4)


def test_an_uncertain_design_azimuth_adds_in_quadrature() -> None:
    alone = rotation_sigma_deg(0.03, 0.03, distance=12.5)
    both = rotation_sigma_deg(0.03, 0.03, distance=12.5, azimuth_sigma_deg=0.1)
    assert both**2 - alone**2 == pytest.approx(0.01)


def test_poles_in_one_place_have_no_rotation_sigma() -> None:
    assert np.isnan(rotation_sigma_deg(0.03, 0.03, distance=[0.0, np.nan])).all()
    nowhere = propagate([0.0, 0.0], np.eye(2), np.eye(2), structure_azimuth_deg=10.0)
    assert np.isnan(nowhere[0, 0])
    assert nowhere[1, 1] == pytest.approx(0.5)


@settings(max_examples=60, deadline=None)
@given(azimuth=st.floats(0.0, 360.0), a=SIGMAS, b=SIGMAS, common=SIGMAS, distance=st.floats(8.0, 40.0))
def test_propagate_holds_the_closed_forms(
    azimuth: float, a: float, b: float, common: float, distance: float
) -> None:
    """Isotropic errors with a common part: it cancels in rotation and spacing and stays in the centre."""
    turn = math.radians(azimuth + 100.0)
    vector = [distance * math.sin(turn), distance * math.cos(turn)]
    shared = common**2 * np.eye(2)
    seen = np.sqrt(
        np.diag(
            propagate(
                vector,
                a**2 * np.eye(2) + shared,
                b**2 * np.eye(2) + shared,
                structure_azimuth_deg=azimuth,
                covariance_between=shared,
            )
        )
    )
    centre = centre_sigma(a, b, common=common).item()
    expected = [
        rotation_sigma_deg(a, b, distance=distance).item(),
        centre,
        centre,
        spacing_sigma(a, b).item(),
    ]
    assert seen == pytest.approx(expected, rel=1e-6)


def test_propagate_uses_the_derivatives_of_the_comparison_itself() -> None:
    """Each pole is moved a little along each axis, and the residuals of `as_set` watched."""
    step, poles = 1e-5, set_poles()
    moves = np.concatenate([np.eye(4), -np.eye(4)]).reshape(8, 2, 2) * step
    seen = columns(compare(poles + moves))
    jacobian = (seen[:4] - seen[4:]).T / (2.0 * step)
    first, last = CASES["anisotropic"]
    between = np.array([[2e-4, 1e-4], [-1e-4, 3e-4]])
    expected = jacobian @ np.block([[first, between], [between.T, last]]) @ jacobian.T
    closed = propagate(
        poles[1] - poles[0], first, last, structure_azimuth_deg=AZIMUTH, covariance_between=between
    )
    assert closed == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_an_uncertain_design_centre_is_turned_into_the_frame() -> None:
    """East uncertain only, structure looking 30 degrees: a quarter of the variance is along."""
    design = np.array([[0.04, 0.0], [0.0, 0.0]])
    zero = np.zeros((2, 2))
    seen = propagate([0.0, -12.0], zero, zero, structure_azimuth_deg=30.0, covariance_design=design)
    assert np.diag(seen) == pytest.approx([0.0, 0.01, 0.03, 0.0], abs=1e-15)
    assert seen[1, 2] == pytest.approx(math.sqrt(0.01 * 0.03))
    seen = propagate([0.0, -12.0], zero, zero, structure_azimuth_deg=90.0, azimuth_sigma_deg=0.1)
    assert np.diag(seen) == pytest.approx([0.01, 0.0, 0.0, 0.0], abs=1e-15)


def test_many_structures_are_answered_as_one_by_one() -> None:
    draw = np.random.default_rng(3)
    vectors, azimuths = draw.normal(0.0, 10.0, (20, 2)), draw.uniform(0.0, 360.0, 20)
    roots = draw.normal(0.0, 0.05, (20, 2, 2))
    covariances = roots @ roots.swapaxes(-1, -2)
    together = propagate(vectors, covariances, 2.0 * covariances, structure_azimuth_deg=azimuths)
    for i in range(20):
        alone = propagate(vectors[i], covariances[i], 2.0 * covariances[i], structure_azimuth_deg=azimuths[i])
        assert together[i] == pytest.approx(alone, rel=1e-12, abs=1e-18)


# Decisions


@settings(max_examples=100, deadline=None)
@given(value=st.floats(-5.0, 5.0), sigma=st.floats(0.01, 3.0), tolerance=st.floats(0.0, 5.0))
def test_probability_is_that_of_the_normal_distribution(value: float, sigma: float, tolerance: float) -> None:
    expected = norm.cdf((tolerance - value) / sigma) - norm.cdf((-tolerance - value) / sigma)
    assert probability_inside(value, sigma, tolerance) == pytest.approx(expected, abs=1e-14)


def test_a_far_reading_keeps_a_true_small_probability() -> None:
    """Where a difference of two numbers near 1 would give 0 or less."""
    assert probability_inside(11.0, 1.0, 1.0) == pytest.approx(norm.sf(10.0) - norm.sf(12.0), rel=1e-9)
    assert probability_inside(-11.0, 1.0, 1.0) == probability_inside(11.0, 1.0, 1.0)


def test_an_exact_reading_is_inside_or_not() -> None:
    assert probability_inside([0.5, 1.0, -1.0, 1.1], 0.0, 1.0).tolist() == [1.0, 1.0, 1.0, 0.0]


def test_an_unknown_is_never_decided() -> None:
    seen = probability_inside([np.nan, 0.1, 0.1, np.nan], [0.1, np.nan, 0.1, 0.0], [1.0, 1.0, np.nan, 1.0])
    assert np.isnan(seen).all()


@settings(max_examples=50, deadline=None)
@given(
    sigma=st.floats(0.01, 3.0),
    tolerance=st.floats(0.01, 5.0),
    near=st.floats(0.0, 5.0),
    far=st.floats(0.0, 5.0),
)
def test_farther_out_is_never_more_probable(sigma: float, tolerance: float, near: float, far: float) -> None:
    near, far = sorted((near, far))
    first, second = probability_inside([near, far], sigma, tolerance)
    assert second <= first + 1e-15


@settings(max_examples=50, deadline=None)
@given(sigma=st.floats(0.01, 3.0), tolerance=st.floats(0.01, 5.0), value=st.floats(-5.0, 5.0))
def test_no_reading_passes_where_the_survey_is_not_capable(
    sigma: float, tolerance: float, value: float
) -> None:
    if probability_inside(value, sigma, tolerance) >= 0.95:
        assert sigma <= tolerance / coverage_factor(0.95) * (1.0 + 1e-12)


@pytest.mark.parametrize("confidence", [0.5, 0.6827, 0.9, 0.95, 0.99, 0.999999])
def test_coverage_factor_is_the_quantile(confidence: float) -> None:
    assert coverage_factor(confidence) == pytest.approx(norm.ppf(0.5 + confidence / 2.0), rel=1e-9)


@pytest.mark.parametrize("confidence", [0.0, 1.0, -0.5, 95.0, float("nan")])
def test_a_confidence_that_is_no_probability_is_refused(confidence: float) -> None:
    with pytest.raises(ValueError, match="is not between 0 and 1"):
        coverage_factor(confidence)


def test_negative_sizes_are_refused() -> None:
    with pytest.raises(ValueError, match=r"sigma -0\.1 is negative"):
        probability_inside(0.0, [0.1, -0.1], 1.0)
    with pytest.raises(ValueError, match=r"tolerance -1\.0 is negative"):
        probability_inside(0.0, 0.1, -1.0)
