"""Where points lie: reference, distance, exchanged columns, another job, letters that may be structures."""

from __future__ import annotations

import numpy as np

from linemap.domain.design.line import Centreline, Line
from linemap.domain.design.structure import Structures
from linemap.domain.survey.description import parse_description
from linemap.domain.survey.shot import Shot
from linemap.errors import Severity
from linemap.geometry.projection import Projection
from linemap.geometry.station import Stationing
from linemap.io.cells.table import Loaded, RawTable
from linemap.service.view.coordinate_meaning import PlacedFile
from linemap.service.view.evidence import Evidence, judge_points

MONTANA = Projection.from_text("EPSG:6515")
TABLE = RawTable(file="day.txt", kinds=("shots",))
LINE = Line(
    name="N",
    crs="EPSG:6515",
    unit=MONTANA.unit,
    centreline=Centreline.from_points(np.array([[2_250_000.0, 900_000.0], [2_260_000.0, 900_000.0]])),
    stationing=Stationing(start=0.0),
)


def shot(row: int, east: float, north: float, words: str = "1/1 A") -> Shot:
    said = parse_description(words)
    return Shot(
        point=str(row),
        easting=east,
        northing=north,
        description=words,
        structure=said.structure,
        pole=said.pole,
        item=said.item,
        row=row,
    )


def judge(*shots: Shot, known: tuple[str, ...] = (), table: RawTable = TABLE) -> Evidence:
    listed = Structures.from_columns(
        line=["N"] * len(known), number=known, easting=[2_251_000.0] * len(known), northing=[9e5] * len(known)
    )
    loaded = Loaded(value=shots, problems=(), mapping={}, rows_in=len(shots), rows_used=len(shots))
    place = PlacedFile(loaded=loaded, table=table, projection=MONTANA, factor=None)
    return judge_points(place, lines=[LINE], structures=lambda: listed)


def test_reference_and_distance_are_told() -> None:
    found = judge(shot(1, 2_251_000.0, 900_006.25), shot(2, 2_251_000.0, 899_990.0))
    assert found.words == (
        "coordinates: the file declares no reference; all 2 points lie within the area of use of EPSG:6515",
        "distance to the line: 6.2 to 10.0 ft",
    )
    assert found.problems == ()


def test_points_outside_the_area_of_use_are_counted() -> None:
    found = judge(shot(1, 2_251_000.0, 900_000.0), shot(2, 9_000_000.0, 900_000.0))
    assert "1 of 2 points lie within" in found.words[0]


def test_a_reference_the_file_declares_is_told() -> None:
    found = judge(shot(1, 2_251_000.0, 900_000.0), table=RawTable(file="a.geojson", crs="EPSG:4326"))
    assert found.words[0] == "coordinates: the file declares EPSG:4326"


def test_exchanged_rows_are_told_with_both_distances_and_not_changed() -> None:
    shots = (shot(1, 2_251_000.0, 900_000.1), shot(2, 900_000.1, 2_251_000.0))
    found = judge(*shots)
    assert found.value == shots
    (told,) = found.problems
    assert told.severity is Severity.NOTED
    assert "1 of 2 shots (rows 2) lie 1,909,895 ft or more from the line as written" in told.reason
    assert "0.1 to 0.1 ft with northing and easting exchanged; nothing is changed" in told.reason
    assert "--shot-order" not in told.remedy


def test_a_whole_file_exchanged_may_be_loaded_in_the_other_order() -> None:
    (told,) = judge(shot(1, 900_000.0, 2_251_000.0)).problems
    assert "--shot-order penzd" in told.remedy


def test_shots_of_another_job_are_one_refusal() -> None:
    found = judge(*(shot(row, 1_250_000.0 + row, 500_000.0) for row in range(1, 40)))
    (told,) = found.problems
    assert told.severity is Severity.REFUSED
    assert told.reason.startswith("all 39 shots lie at least 328 km from every line")


def test_a_few_far_shots_are_noted() -> None:
    (told,) = judge(shot(1, 2_251_000.0, 900_000.0), shot(2, 2_251_000.0, 990_000.0)).problems
    assert told.severity is Severity.NOTED
    assert "1 of 2 shots (rows 2) lie at least 90,000 ft from every line" in told.reason
