"""Stations: written forms, and equations with their gaps and overlaps."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.geometry.station import (
    ParsedStation,
    StationEquation,
    Stationing,
    format_station,
    format_stations,
    parse_station,
)

#: A gap of 384.50 at 47,000 and an overlap of 60.75 at 95,000.
TWO_EQUATIONS = Stationing.from_pairs(0.0, [(47_000.0, 47_384.5), (95_384.5, 95_323.75)])


@pytest.mark.parametrize(
    ("text", "value", "side", "region"),
    [
        ("12+34.56", 1234.56, None, None),
        ("1+234.560", 1234.56, None, None),
        ("118 + 40", 11840.0, None, None),
        ("118+40.00 BK", 11840.0, "back", None),
        ("470+00 Back", 47000.0, "back", None),
        ("473+84.50 AH", 47384.5, "ahead", None),
        ("473+84.50 ahead (R2)", 47384.5, "ahead", 2),
        ("STA 953+52.50 (R2)", 95352.5, None, 2),
        ("953+52.50 R3", 95352.5, None, 3),
        ("Sta. 953+52.50 ( region 3 )", 95352.5, None, 3),
        ("11840", 11840.0, None, None),
        ("11,840.00", 11840.0, None, None),
        ("-0+12.30", -12.3, None, None),
        ("−0+12.30", -12.3, None, None),
        ("0+00", 0.0, None, None),
        ("-12.3", -12.3, None, None),
    ],
)
def test_written_forms(text: str, value: float, side: str | None, region: int | None) -> None:
    parsed = parse_station(text)
    assert (parsed.value, parsed.side, parsed.region) == (value, side, region)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "not a station"),
        ("12+3", "1 digits after the plus"),
        ("12+3456", "4 digits after the plus"),
        ("12+34+56", "not a station"),
        ("1,18.40", "not a station"),
        ("118+40,00", "not a station"),
        ("118+40 R0", "regions count from 1"),
        ("PI-3", "not a station"),
        ("nan", "not a station"),
    ],
)
def test_refused_stations(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        parse_station(text)


def test_a_stated_full_station_must_fit_the_digits() -> None:
    assert parse_station("1+234.5", per_plus=1000).value == 1234.5
    with pytest.raises(ValueError, match="3 digits after the plus where 2"):
        parse_station("1+234.5", per_plus=100)
    with pytest.raises(ValueError, match="power of ten"):
        parse_station("1+23", per_plus=150)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (199.996, "2+00.00"),
        (99.995, "1+00.00"),
        (0.0, "0+00.00"),
        (-0.001, "0+00.00"),
        (-12.3, "-0+12.30"),
        (-199.996, "-2+00.00"),
        (12345.678, "123+45.68"),
        (11840.0, "118+40.00"),
        (math.nan, ""),
        (math.inf, ""),
    ],
)
def test_writing(value: float, text: str) -> None:
    assert format_station(value) == text


def test_writing_in_other_steps() -> None:
    assert format_station(1234.56, per_plus=1000, decimals=3) == "1+234.560"
    assert format_station(999.9996, per_plus=1000, decimals=3) == "1+000.000"
    assert format_station(11840.4, decimals=0) == "118+40"
    with pytest.raises(ValueError, match="power of ten"):
        format_station(1.0, per_plus=10_5)


def test_many_at_once_are_written_as_one_by_one() -> None:
    values = np.concatenate([np.linspace(-500.0, 500.0, 401), [np.nan, 199.996, 1e7]])
    assert format_stations(values) == [format_station(value) for value in values.tolist()]
    assert format_stations([]) == []


def test_two_hundred_thousand_are_written() -> None:
    values = np.arange(200_000) * 3.7 - 1000.0
    texts = format_stations(values)
    assert texts[-1] == "7389+96.30"


@given(st.floats(-99_999.0, 9_999_999.0), st.sampled_from([100, 1000]), st.integers(0, 3))
def test_text_round_trip(value: float, per_plus: int, decimals: int) -> None:
    text = format_station(value, per_plus=per_plus, decimals=decimals)
    back = parse_station(text, per_plus=per_plus).value
    assert abs(back - value) <= 0.5 / 10**decimals + 1e-9 * abs(value) + 1e-9
    assert format_station(back, per_plus=per_plus, decimals=decimals) == text
    assert parse_station(text) == ParsedStation(value=back)


def test_stations_of_the_two_equations() -> None:
    station, region = TWO_EQUATIONS.post(
        [46_999.99, 47_000.0, 47_321.5, 94_968.0, 94_999.99, 95_000.0, 95_028.75]
    )
    assert format_stations(station) == [
        "469+99.99", "473+84.50", "477+06.00", "953+52.50", "953+84.49", "953+23.75", "953+52.50",
    ]  # fmt: skip
    assert region.tolist() == [1, 2, 2, 2, 2, 3, 3]


def test_an_overlap_gives_one_station_twice_and_the_region_decides() -> None:
    assert TWO_EQUATIONS.true_distances(95_352.5) == ((2, 94_968.0), (3, 95_028.75))
    assert TWO_EQUATIONS.true_distances(95_352.5, region=2) == ((2, 94_968.0),)
    assert TWO_EQUATIONS.true_distances(95_352.5, region=3) == ((3, 95_028.75),)
    assert TWO_EQUATIONS.true_distances(95_352.5, region=1) == ()


def test_a_gap_has_no_point() -> None:
    assert TWO_EQUATIONS.true_distances(47_200.0) == ()
    assert TWO_EQUATIONS.true_distances(47_000.0) == ((1, 47_000.0),)  # the back station of the equation
    assert TWO_EQUATIONS.true_distances(47_384.5) == ((2, 47_000.0),)  # its ahead station


def test_both_stations_of_an_overlap_are_found_at_its_ends() -> None:
    assert TWO_EQUATIONS.true_distances(95_384.5) == ((2, 95_000.0), (3, 95_060.75))
    assert TWO_EQUATIONS.true_distances(95_323.75) == ((2, 94_939.25), (3, 95_000.0))


def test_beyond_the_ends() -> None:
    assert TWO_EQUATIONS.post([-12.3])[0].tolist() == [-12.3]
    assert TWO_EQUATIONS.true_distances(-12.3) == ((1, -12.3),)
    assert TWO_EQUATIONS.true_distances(118_060.25, length=117_736.5) == ((3, 117_736.5),)
    assert TWO_EQUATIONS.true_distances(118_061.0, length=117_736.5) == ()


def test_posting_unknown_distances() -> None:
    station, region = TWO_EQUATIONS.post([np.nan, 0.0])
    assert np.isnan(station[0])
    assert region.tolist() == [0, 1]


def test_a_distance_a_rounding_short_of_the_equation_is_at_it() -> None:
    station, region = TWO_EQUATIONS.post(47_000.0 - 5e-8)
    assert region == 2
    assert format_station(float(station)) == "473+84.50"


def test_an_equation_without_a_jump_is_one_point() -> None:
    line = Stationing.from_pairs(100.0, [(600.0, 600.0)])
    assert line.true_distances(600.0) == ((2, 500.0),)
    assert line.true_distances(599.0) == ((1, 499.0),)


def test_pairs_give_true_distances() -> None:
    line = Stationing.from_pairs(1000.0, [(1941.33, 1958.67), (2458.67, 2400.0)])
    assert [equation.true_distance for equation in line.equations] == pytest.approx([941.33, 1441.33])


@pytest.mark.parametrize(
    ("pairs", "message"),
    [
        (
            [(470.0, 500.0), (490.0, 600.0)],
            r"equation 2 \(4\+90\.00 back = 6\+00\.00 ahead\) does not follow",
        ),
        ([(470.0, 500.0), (500.0, 600.0)], "equation 2"),
        ([(-5.0, 0.0)], "equation 1"),
        ([(470.0, math.nan)], "not a number"),
    ],
)
def test_pairs_that_do_not_follow(pairs: list[tuple[float, float]], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Stationing.from_pairs(0.0, pairs)


@pytest.mark.parametrize(
    ("equations", "message"),
    [
        ([(100.0, 110.0, 200.0)], r"the back station is 1\+00\.00"),
        ([(-1.0, -1.0, 5.0)], "does not stand ahead"),
        ([(100.0, 100.0, 200.0), (100.0, 200.0, 300.0)], "does not stand ahead"),
        ([(math.inf, 1.0, 2.0)], "not a number"),
    ],
)
def test_equations_that_cannot_be(equations: list[tuple[float, float, float]], message: str) -> None:
    rows = tuple(
        StationEquation(true_distance=true, back=back, ahead=ahead) for true, back, ahead in equations
    )
    with pytest.raises(ValueError, match=message):
        Stationing(equations=rows)


def test_equations_are_kept_in_order() -> None:
    late = StationEquation(true_distance=200.0, back=250.0, ahead=100.0)
    early = StationEquation(true_distance=100.0, back=100.004, ahead=150.0)  # printed to 0.01
    assert Stationing(equations=(late, early)).equations == (early, late)


jumps = st.lists(st.tuples(st.floats(1.0, 5000.0), st.floats(-400.0, 400.0)), max_size=6)


def _line(start: float, pieces: list[tuple[float, float]]) -> Stationing:
    pairs, station = [], start
    for length, jump in pieces:
        pairs.append((station + length, station + length + jump))
        station += length + jump
    return Stationing.from_pairs(start, pairs)


@given(st.floats(-500.0, 10_000.0), jumps, st.floats(0.0, 1.0))
def test_station_and_region_give_the_point_back(
    start: float, pieces: list[tuple[float, float]], part: float
) -> None:
    line = _line(start, pieces)
    true = part * (sum(length for length, _ in pieces) + 1000.0)
    station, region = line.post(true)
    found = line.true_distances(float(station), region=int(region))
    assert len(found) == 1
    assert found[0][1] == pytest.approx(true, abs=1e-6)
    assert any(abs(other - true) < 1e-6 for _, other in line.true_distances(float(station)))


@given(st.floats(-500.0, 10_000.0), jumps)
def test_the_middle_of_a_gap_is_nowhere_near_its_equation(
    start: float, pieces: list[tuple[float, float]]
) -> None:
    line = _line(start, pieces)
    for equation in line.equations:
        if equation.ahead - equation.back > 1.0:
            middle = (equation.back + equation.ahead) / 2.0
            found = line.true_distances(middle)
            assert all(abs(true - equation.true_distance) > 1e-6 for _, true in found)


@given(st.floats(-500.0, 10_000.0), jumps, st.lists(st.floats(-100.0, 30_000.0), min_size=2, max_size=8))
def test_without_equations_between_stations_differ_as_distances(
    start: float, pieces: list[tuple[float, float]], true: list[float]
) -> None:
    station, region = _line(start, pieces).post(true)
    same = region[1:] == region[:-1]
    np.testing.assert_allclose(np.diff(station)[same], np.diff(true)[same], atol=1e-8)
