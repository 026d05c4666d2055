"""Azimuths, deflections and their written forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.geometry.bearing import (
    azimuth_deg,
    bisector_azimuth_deg,
    deflection_deg,
    format_bearing,
    format_deflection,
    parse_azimuth,
    parse_deflection,
    wrap180,
    wrap360,
)
from linemap.geometry.sexagesimal import AmbiguousAngle, format_dms

ONE_ANGLE = -(18 + 45 / 60 + 10 / 3600)
degrees = st.floats(-1e4, 1e4)
circle = st.floats(0.0, 360.0, exclude_max=True)


@pytest.mark.parametrize(
    "text",
    [
        "18-45-10 L",
        "18°45'10\"L",
        "18°45′10″ LT",
        "L18-45-10",
        "L 18 45 10",
        "18 45 10 LEFT",
        "18:45:10 L",
        "18d45m10s L",
        "18.752778 L",
        "18°45.1667' L",
        "-18.752778",
        "LT 18°45'10\"",
        "-18°45'10\"",
        "18º 45’ 10” lt.",
        "18 deg 45 min 10 sec left",
        "18°45'10''L",
        "−18-45-10",
        "18.752778° L",
    ],
)
def test_written_forms_of_one_deflection(text: str) -> None:
    assert parse_deflection(text) == pytest.approx(ONE_ANGLE, abs=0.1 / 3600)


@pytest.mark.parametrize("text", ["18.4510 L", "L18.4510", "18.451000 LT", "-18.4510"])
def test_packed_form(text: str) -> None:
    assert parse_deflection(text, packed=True) == pytest.approx(ONE_ANGLE, abs=1e-12)
    assert parse_deflection(text, packed=False) == -18.451


def test_packed_reading_leaves_written_out_angles_alone() -> None:
    assert parse_deflection("18-45-10 L", packed=True) == pytest.approx(ONE_ANGLE, abs=1e-12)
    assert parse_deflection("62.1 R", packed=True) == pytest.approx(62 + 10 / 60)


def test_doubt_is_raised_with_both_readings() -> None:
    with pytest.raises(AmbiguousAngle, match="say which") as caught:
        parse_deflection("18.4510 L")
    assert caught.value.packed_deg == pytest.approx(ONE_ANGLE, abs=1e-12)
    assert caught.value.decimal_deg == -18.451
    assert isinstance(caught.value, ValueError)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("18.752778 L", -18.752778),  # 75 minutes cannot be
        ("3.2175 R", 3.2175),  # 75 seconds cannot be
        ("18.451 L", -18.451),  # three decimals are no seconds
        ("18.0000 L", -18.0),  # both readings agree
        ("18.4510", 18.451),  # a plain number without a side is decimal
    ],
)
def test_no_doubt(text: str, expected: float) -> None:
    assert parse_deflection(text) == expected


@pytest.mark.parametrize("text", ["TANGENT", " tan ", "0", "0°00'00\"", "0.0000 R"])
def test_no_turn(text: str) -> None:
    assert parse_deflection(text) == 0.0


def test_blank_is_unknown_not_zero() -> None:
    assert math.isnan(parse_deflection(" "))
    assert math.isnan(parse_azimuth(""))


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("-18-45-10 L", "twice"),
        ("L 18 45 10 R", "twice"),
        ("18-75-10 L", "60 or more"),
        ("18-45-60 L", "60 or more"),
        ("181 R", "beyond 180°"),
        ("abc", "not an angle"),
        ("L", "not an angle"),
        ("18-45-10-5 L", "not an angle"),
        ("nan", "not an angle"),
    ],
)
def test_refused_deflections(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        parse_deflection(text)


def test_packed_number_that_cannot_be_packed() -> None:
    with pytest.raises(ValueError, match=r"DD\.MMSS"):
        parse_deflection("18.7527 L", packed=True)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("N62°14'20\"E", 62 + 14 / 60 + 20 / 3600),
        ("N 62-14-20 E", 62 + 14 / 60 + 20 / 3600),
        ("north 62 14 20 east", 62 + 14 / 60 + 20 / 3600),
        ("S80 24 E", 99.6),
        ("S11°54'W", 191.9),
        ("N81°44'W", 278.2666666666667),
        ("N", 0.0),
        ("Due North", 0.0),
        ("EAST", 90.0),
        ("s", 180.0),
        ("West", 270.0),
        ("N 90 E", 90.0),
        ("N90W", 270.0),
        ("S 0 W", 180.0),
        ("62.2389", 62.2389),
        ("62°14'20\"", 62 + 14 / 60 + 20 / 3600),
        ("360", 0.0),
        ("S 63.764444° E", 116.235556),
    ],
)
def test_azimuths(text: str, expected: float) -> None:
    assert parse_azimuth(text) == pytest.approx(expected, abs=1e-9)


def test_packed_bearing_is_asked_about() -> None:
    with pytest.raises(AmbiguousAngle) as caught:
        parse_azimuth("S24.5600E")
    assert caught.value.packed_deg == pytest.approx(180 - 24 - 56 / 60)
    assert caught.value.decimal_deg == pytest.approx(155.44)
    assert parse_azimuth("S24.5600E", packed=True) == pytest.approx(180 - 24 - 56 / 60)
    assert parse_azimuth("S24.5600E", packed=False) == pytest.approx(155.44)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("N91°05'45\"E", "beyond 90°"),
        ("361", "beyond 360°"),
        ("-10", "not an angle"),
        ("N62E14", "not an angle"),
        ("SE", "not an angle"),
    ],
)
def test_refused_azimuths(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        parse_azimuth(text)


def test_azimuth_of_directions() -> None:
    east, north = np.array([0.0, 1.0, 0.0, -1.0, 0.0, -1e-30]), np.array([1.0, 0.0, -1.0, 0.0, 0.0, 1.0])
    np.testing.assert_array_equal(azimuth_deg(east, north), [0.0, 90.0, 180.0, 270.0, np.nan, 0.0])
    assert math.isnan(azimuth_deg(0.0, 0.0))
    assert isinstance(azimuth_deg(3.0, 4.0), float)


def test_wrapping_at_the_seam() -> None:
    assert wrap180(180.0) == wrap180(-180.0) == wrap180(540.0) == 180.0
    assert wrap180(np.nextafter(180.0, 181.0)) in {180.0, np.nextafter(-180.0, 0.0)}
    assert wrap360(-1e-20) == wrap360(720.0) == 0.0
    np.testing.assert_array_equal(wrap180(np.array([190.0, np.nan])), [-170.0, np.nan])


@given(degrees)
def test_wrapped_ranges(angle: float) -> None:
    assert -180.0 < wrap180(angle) <= 180.0
    assert 0.0 <= wrap360(angle) < 360.0
    assert math.isclose(math.cos(math.radians(wrap180(angle))), math.cos(math.radians(angle)), abs_tol=1e-9)
    assert math.isclose(math.sin(math.radians(wrap360(angle))), math.sin(math.radians(angle)), abs_tol=1e-9)


@given(circle, circle)
def test_reversing_a_line_negates_its_deflections(back: float, ahead: float) -> None:
    turn = deflection_deg(back, ahead)
    reversed_turn = deflection_deg(wrap360(ahead + 180.0), wrap360(back + 180.0))
    assert math.isclose(turn, -reversed_turn, abs_tol=1e-9) or abs(abs(turn) - 180.0) < 1e-9


@given(circle, circle)
def test_a_mirror_negates_deflections(back: float, ahead: float) -> None:
    turn = deflection_deg(back, ahead)
    mirrored = deflection_deg(wrap360(-back), wrap360(-ahead))
    assert math.isclose(turn, -mirrored, abs_tol=1e-9) or abs(abs(turn) - 180.0) < 1e-9


@given(circle, circle)
def test_the_bisector_halves_the_turn(back: float, ahead: float) -> None:
    middle = bisector_azimuth_deg(back, ahead)
    turn = deflection_deg(back, ahead)
    assert 0.0 <= middle < 360.0
    assert deflection_deg(back, middle) == pytest.approx(turn / 2.0, abs=1e-9)
    assert deflection_deg(middle, ahead) == pytest.approx(turn / 2.0, abs=1e-9)


def test_the_bisector_is_not_the_mean_across_north() -> None:
    assert bisector_azimuth_deg(359.0, 3.0) == 1.0
    np.testing.assert_allclose(
        bisector_azimuth_deg(np.array([359.0, 90.0]), np.array([3.0, 80.0])), [1.0, 85.0]
    )
    np.testing.assert_allclose(deflection_deg(np.array([350.0]), np.array([10.0])), [20.0])


@pytest.mark.parametrize(
    ("deg", "decimals", "text"),
    [
        (59.9999999, 0, "60°00'00\""),
        (0.99999, 0, "1°00'00\""),
        (18.7527777778, 0, "18°45'10\""),
        (-0.00001, 0, "0°00'00\""),
        (-0.5, 1, "-0°30'00.0\""),
        (1.0166666, 2, "1°01'00.00\""),
        (math.nan, 0, ""),
        (math.inf, 0, ""),
    ],
)
def test_writing_degrees(deg: float, decimals: int, text: str) -> None:
    assert format_dms(deg, decimals=decimals) == text


def test_writing_deflections() -> None:
    assert format_deflection(62.175) == "62°10'30\" R"
    assert format_deflection(-62.175) == "62°10'30\" L"
    assert format_deflection(-0.00001) == "0°00'00\""
    assert format_deflection(math.nan) == ""


@pytest.mark.parametrize(
    ("azimuth", "text"),
    [
        (0.0, "N 0°00'00\" E"),
        (359.9999999, "N 0°00'00\" E"),
        (89.99999999, "N 90°00'00\" E"),
        (90.0002777778, "S 89°59'59\" E"),
        (180.0, "S 0°00'00\" E"),
        (225.0, "S 45°00'00\" W"),
        (270.0, "N 90°00'00\" W"),
        (math.nan, ""),
    ],
)
def test_writing_bearings(azimuth: float, text: str) -> None:
    assert format_bearing(azimuth) == text


@given(st.floats(-180.0, 180.0, exclude_min=True))
def test_deflection_text_round_trip(deg: float) -> None:
    text = format_deflection(deg)
    back = parse_deflection(text)
    assert abs(back - deg) <= 0.5 / 3600 + 1e-9
    assert format_deflection(back) == text


@given(circle)
def test_bearing_text_round_trip(azimuth: float) -> None:
    text = format_bearing(azimuth)
    back = parse_azimuth(text)
    assert abs(wrap180(back - azimuth)) <= 0.5 / 3600 + 1e-9
    assert format_bearing(back) == text


@given(st.text(max_size=12) | st.from_regex(r"[NSLR]?[-0-9 .°'\"]{0,12}[EWLR]?", fullmatch=True))
def test_any_text_is_read_or_refused(text: str) -> None:
    for read, low, high in ((parse_deflection, -180.0, 180.0), (parse_azimuth, 0.0, 360.0)):
        try:
            value = read(text)
        except ValueError:
            continue
        assert math.isnan(value) or low <= value <= high


@given(circle, st.floats(0.1, 1e6))
def test_azimuth_of_a_drawn_direction(azimuth: float, length: float) -> None:
    angle = math.radians(azimuth)
    found = azimuth_deg(length * math.sin(angle), length * math.cos(angle))
    assert abs(wrap180(found - azimuth)) < 1e-9
