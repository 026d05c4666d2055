import math

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtr, ndtri

from linemap.geometry.frame import AsSet, as_set
from linemap.geometry.uncertainty import (
    centre_sigma,
    coverage_factor,
    log_normal_below,
    normal_below,
    probability_inside,
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


def total_covariance(own_a: float, own_b: float, common: float) -> NDArray[np.float64]:
    """(4, 4): of A east, north, B east, north, with an error that both poles share."""
    return np.diag([own_a**2] * 2 + [own_b**2] * 2) + common**2 * np.tile(np.eye(2), (2, 2))


def closed_forms(own_a: float, own_b: float, common: float) -> list[float]:
    """Standard deviations of rotation, along, across and spacing of the frame described above."""
    centre = centre_sigma(own_a, own_b, common=common).item()
    rotation = rotation_sigma_deg(own_a, own_b, distance=15.62).item()
    return [rotation, centre, centre, spacing_sigma(own_a, own_b).item()]


def test_closed_forms_agree_with_simulation_within_its_standard_error() -> None:
    own, size = math.hypot(RANDOM, CENTRING), 100_000
    seen = simulated(total_covariance(own, 2.0 * own, COMMON), size)
    ratio = seen.std(axis=0) / closed_forms(own, 2.0 * own, COMMON)
    standard_error = 1.0 / math.sqrt(2.0 * size)  # of a standard deviation: 0.22 %
    assert np.abs(ratio - 1.0).max() < 4.0 * standard_error


@settings(max_examples=examples(60))
@given(a=SIGMAS, b=SIGMAS, common=SIGMAS)
def test_closed_forms_have_the_derivatives_of_the_comparison_itself(
    a: float, b: float, common: float
) -> None:
    """Each pole is moved a little along each axis, and the residuals of `as_set` watched."""
    step, poles = 1e-5, set_poles()
    moves = np.concatenate([np.eye(4), -np.eye(4)]).reshape(8, 2, 2) * step
    seen = columns(compare(poles + moves))
    jacobian = (seen[:4] - seen[4:]).T / (2.0 * step)
    expected = np.sqrt(np.diag(jacobian @ total_covariance(a, b, common) @ jacobian.T))
    assert closed_forms(a, b, common) == pytest.approx(expected, rel=1e-6)


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


def test_poles_in_one_place_have_no_rotation_sigma() -> None:
    assert np.isnan(rotation_sigma_deg(0.03, 0.03, distance=[0.0, np.nan])).all()


# Decisions


@settings(max_examples=examples(100))
@given(value=st.floats(-5.0, 5.0), sigma=st.floats(0.01, 3.0), tolerance=st.floats(0.0, 5.0))
def test_probability_is_that_of_the_normal_distribution(value: float, sigma: float, tolerance: float) -> None:
    expected = ndtr((tolerance - value) / sigma) - ndtr((-tolerance - value) / sigma)
    assert probability_inside(value, sigma, tolerance) == pytest.approx(expected, abs=1e-14)


def test_a_far_reading_keeps_a_true_small_probability() -> None:
    """Where a difference of two numbers near 1 would give 0 or less."""
    assert probability_inside(11.0, 1.0, 1.0) == pytest.approx(ndtr(-10.0) - ndtr(-12.0), rel=1e-9)
    assert probability_inside(-11.0, 1.0, 1.0) == probability_inside(11.0, 1.0, 1.0)


def test_an_exact_reading_is_inside_or_not() -> None:
    assert probability_inside([0.5, 1.0, -1.0, 1.1], 0.0, 1.0).tolist() == [1.0, 1.0, 1.0, 0.0]


def test_an_unknown_is_never_decided() -> None:
    seen = probability_inside([np.nan, 0.1, 0.1, np.nan], [0.1, np.nan, 0.1, 0.0], [1.0, 1.0, np.nan, 1.0])
    assert np.isnan(seen).all()


@settings(max_examples=examples(50))
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


@settings(max_examples=examples(50))
@given(sigma=st.floats(0.01, 3.0), tolerance=st.floats(0.01, 5.0), value=st.floats(-5.0, 5.0))
def test_no_reading_passes_where_the_survey_is_not_capable(
    sigma: float, tolerance: float, value: float
) -> None:
    if probability_inside(value, sigma, tolerance) >= 0.95:
        assert sigma <= tolerance / coverage_factor(0.95) * (1.0 + 1e-12)


@pytest.mark.parametrize("confidence", [0.5, 0.6827, 0.9, 0.95, 0.99, 0.999999])
def test_coverage_factor_is_the_quantile(confidence: float) -> None:
    assert coverage_factor(confidence) == pytest.approx(ndtri(0.5 + confidence / 2.0), rel=1e-9)


@pytest.mark.parametrize("confidence", [0.0, 1.0, -0.5, 95.0, float("nan")])
def test_a_confidence_that_is_no_probability_is_refused(confidence: float) -> None:
    with pytest.raises(ValueError, match="is not between 0 and 1"):
        coverage_factor(confidence)


def test_negative_sizes_are_refused() -> None:
    with pytest.raises(ValueError, match=r"sigma -0\.1 is negative"):
        probability_inside(0.0, [0.1, -0.1], 1.0)
    with pytest.raises(ValueError, match=r"tolerance -1\.0 is negative"):
        probability_inside(0.0, 0.1, -1.0)
