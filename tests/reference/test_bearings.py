"""Angles, station equations and ruling spans against published and hand-worked figures.

`bearings.csv` holds one row a figure: how it is computed (`quantity`), from what (`inputs`, parted by "|"),
the figure, its tolerance (seconds of arc for angles, feet for lengths), where it is from and how sure that
is. Rows of kind "misprint" are printed wrong in their source: they must not come out.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from linemap.geometry.bearing import (
    bisector_azimuth_deg,
    deflection_deg,
    format_bearing,
    parse_azimuth,
    parse_deflection,
    wrap180,
    wrap360,
)
from linemap.geometry.span import ruling_spans
from linemap.geometry.station import Stationing, parse_station

ROWS = list(csv.DictReader(Path(__file__).with_name("bearings.csv").read_text(encoding="utf-8").splitlines()))


def deflection(back: str, ahead: str) -> float:
    return deflection_deg(parse_azimuth(back), parse_azimuth(ahead))


def angle_right(towards: str, away: str) -> float:
    """Clockwise angle at a point, from the line that arrives there (looked back along) to the one leaving."""
    return wrap360(parse_azimuth(away) - parse_azimuth(towards) - 180.0)


def interior_right(back: str, interior: str) -> float:
    """Azimuth leaving a point where the angle on the right hand is `interior`."""
    return wrap360(parse_azimuth(back) + 180.0 - parse_azimuth(interior))


def turned(back: str, turn: str) -> float:
    return wrap360(parse_azimuth(back) + parse_deflection(turn))


def rewritten_bearing(overrun: str) -> float:
    """Azimuth of a bearing beyond 90°, which must be refused as written."""
    with pytest.raises(ValueError, match="beyond 90°"):
        parse_azimuth(overrun)
    return parse_azimuth(format_bearing(parse_azimuth(overrun.strip("NE"))))


def equation(back: str, ahead: str) -> float:
    """Jump of a station equation, through posting the point itself."""
    pair = (parse_station(back).value, parse_station(ahead).value)
    line = Stationing.from_pairs(0.0, [pair])
    station, region = line.post([pair[0] - 1.0, pair[0]])
    assert region.tolist() == [1, 2]
    assert line.true_distances(sum(pair) / 2.0) == ()
    return float(station[1] - station[0]) - 1.0


def ruling_span(*span: str) -> float:
    ahead = [*(float(length) for length in span), np.nan]
    ends = [True] + [False] * (len(span) - 1) + [True]
    return float(ruling_spans(ahead, ends, [0] * len(ahead))[0])


ANGLES: dict[str, Callable[..., float]] = {
    "deflection": deflection,
    "angle_right": angle_right,
    "interior_right": interior_right,
    "turned": turned,
    "rewritten_bearing": rewritten_bearing,
    "azimuth": parse_azimuth,
}
LENGTHS: dict[str, Callable[..., float]] = {"equation": equation, "ruling_span": ruling_span}


def error(row: dict[str, str]) -> float:
    """Computed less expected: seconds of arc or feet."""
    inputs = row["inputs"].split("|")
    if row["quantity"] in LENGTHS:
        return LENGTHS[row["quantity"]](*inputs) - float(row["expected"])
    expected = (parse_deflection if row["quantity"] == "deflection" else parse_azimuth)(row["expected"])
    return wrap180(ANGLES[row["quantity"]](*inputs) - expected) * 3600.0


@pytest.mark.parametrize("row", [r for r in ROWS if r["kind"] == "check"], ids=lambda row: row["case"])
def test_figure_comes_out(row: dict[str, str]) -> None:
    assert abs(error(row)) <= float(row["tolerance"]), row["source"]


@pytest.mark.parametrize("row", [r for r in ROWS if r["kind"] == "misprint"], ids=lambda row: row["case"])
def test_misprint_does_not_come_out(row: dict[str, str]) -> None:
    assert abs(error(row)) > 10.0, row["source"]


def test_every_row_is_used_and_sourced() -> None:
    assert {row["kind"] for row in ROWS} == {"check", "misprint"}
    assert {row["quantity"] for row in ROWS} == set(ANGLES) | set(LENGTHS)
    assert sum(row["kind"] == "misprint" for row in ROWS) == 2
    assert all(row["source"] and row["how_sure"] for row in ROWS)
    assert len({row["case"] for row in ROWS}) == len(ROWS)


def test_deflections_of_a_closed_traverse_sum_to_one_turn() -> None:
    """J. Mahun, Open Access Surveying Library, part VI: ±360° for a loop that does not cross itself."""
    sides = ["N36°55'E", "S80°24'E", "S11°54'W", "N81°44'W"]
    turns = [deflection(side, sides[(number + 1) % 4]) for number, side in enumerate(sides)]
    assert sum(turns) == pytest.approx(360.0, abs=1e-9)


def test_hand_worked_bisector_of_a_30_degree_turn() -> None:
    """Tangents north and 30° right: the arm of the right-hand pole lies at 105°."""
    assert bisector_azimuth_deg(0.0, 30.0) + 90.0 == pytest.approx(105.0, abs=1e-12)
