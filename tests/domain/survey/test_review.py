"""Findings on computed lines: each kind made once, and the silence of a good line."""

from __future__ import annotations

import numpy as np

from linemap.domain.design.compute_figures import figures
from linemap.domain.design.line import Centreline, Line
from linemap.domain.design.structure import FloatArray, Structures
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.review import review
from linemap.geometry.projection import Projection
from linemap.geometry.station import Stationing
from linemap.units import LengthUnit

PROJECTION = Projection.from_text("EPSG:6515")
CORNERS = np.array([[0.0, 0.0], [0.0, 1000.0], [1000.0, 1000.0]])


def found(
    points: FloatArray,
    *,
    spacing: float = 12.5,
    stations: list[str] | None = None,
    declared: bool = True,
    corners: FloatArray = CORNERS,
) -> list[Finding]:
    line = Line(
        name="L",
        crs="EPSG:6515",
        unit=LengthUnit.FOOT,
        centreline=Centreline.from_points(corners, names=("POB", "PI-1", "POE")),
        combined_factor_declared=declared,
        stationing=Stationing(),
    )
    structures = Structures.from_columns(
        line="L",
        number=[f"1/{row + 1}" for row in range(len(points))],
        easting=points[:, 0],
        northing=points[:, 1],
        spacing=np.full(len(points), spacing),
        given_station=stations,
    )
    return list(review(figures([line], structures, projection=PROJECTION)))


GOOD = np.array([[0.0, 0.0], [0.0, 500.0], [0.0, 1000.0], [500.0, 1000.0], [1000.0, 1000.0]])


def test_a_good_line_has_no_findings() -> None:
    assert found(GOOD, stations=["0+00", "5+00", "10+00.00", "15+00", "20+00"]) == []


def test_a_pi_without_a_structure_is_named_with_its_turn() -> None:
    words = [finding for finding in found(GOOD[[0, 1, 3, 4]]) if finding.code == "no structure at PI"]
    assert [finding.words for finding in words] == [
        "no structure stands at PI-1, station 10+00.00, deflection 90°00'00\" R"
    ]


def test_a_centre_off_line_says_how_far_and_which_side() -> None:
    points = GOOD.copy()
    points[1, 0] = 3.1
    (off,) = (finding for finding in found(points) if finding.code == "off line")
    assert (off.structure, off.words) == ("1/2", "centre 3.10 ft right of the line")


def test_a_centre_ahead_of_its_pi_is_told() -> None:
    points = GOOD.copy()
    points[2] += np.array([1.0, 1.0]) / np.sqrt(2.0)
    codes = {finding.code: finding.words for finding in found(points)}
    assert codes["off PI"] == "centre 1.00 ft ahead of its PI"


def test_a_centre_beyond_the_end_is_told() -> None:
    points = GOOD.copy()
    points[4, 0] = 1010.0
    codes = {finding.code: finding.words for finding in found(points)}
    assert codes == {"beyond end": "centre 10.00 ft past the end of the centreline"}


def test_another_leg_about_as_near_is_told_with_both_stations() -> None:
    hairpin = np.array([[0.0, 0.0], [0.0, 1000.0], [12.0, 1000.0], [12.0, 0.0]])
    words = {finding.code: finding.words for finding in found(np.array([[5.0, 400.0]]), corners=hairpin)}
    assert "16+12.00" in words["competing station"]
    assert "4+00.00" in words["competing station"]


def test_a_span_turn_that_the_centreline_does_not_make_is_told() -> None:
    words = [finding.words for finding in found(GOOD[[0, 1, 3, 4]]) if finding.code == "span deflection"]
    assert len(words) == 2
    assert words[0].endswith("the centreline does not")


def test_a_station_in_the_list_that_differs_is_told_with_the_difference() -> None:
    (differs,) = found(GOOD, stations=["0+00", "5+01.50", "", "15+00", "20+00"])
    assert differs.structure == "1/2"
    assert differs.words.endswith("(+1.50 ft)")


def test_what_is_not_declared_is_said() -> None:
    codes = {finding.code for finding in found(GOOD, spacing=float("nan"), declared=False)}
    assert codes == {"factor not declared", "no spacing"}


def test_many_findings_of_one_kind_are_told_as_one_with_their_count() -> None:
    points = np.column_stack([np.full(80, 2.0), np.linspace(0.0, 900.0, 80)])
    off = [finding for finding in found(points) if "off line" in (finding.code, finding.part)]
    assert len(off) == 51
    assert off[-1].words == '30 more of the kind "off line" (80 in all)'
