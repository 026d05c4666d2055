import json
from collections.abc import Callable
from typing import Any

import pytest

from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import RawTable
from linemap.io.design.rows import read_rows
from linemap.io.design.surroundings import read_context
from linemap.kinds.registry import CROSSINGS
from linemap.units import LengthUnit

Table = Callable[..., RawTable]


def collection(*features: tuple[dict[str, Any], dict[str, Any] | None]) -> str:
    return json.dumps(
        {
            "type": "FeatureCollection",
            "features": [{"type": "Feature", "properties": p, "geometry": g} for p, g in features],
        }
    )


ROAD = {"type": "LineString", "coordinates": [[-108.3, 46.7], [-108.2, 46.8]]}
NEST = {"type": "Polygon", "coordinates": [[[-108.3, 46.7], [-108.2, 46.7], [-108.2, 46.8], [-108.3, 46.7]]]}
BOW = {"type": "Polygon", "coordinates": [[[-108, 46], [-107, 47], [-107, 46], [-108, 47], [-108, 46]]]}


def test_features_of_any_shape(table: Table, montana: Projection) -> None:
    text = collection(
        ({"layer": "access", "name": "G-1", "class": "gravel", "restricted": False}, ROAD),
        ({"layer": "nest", "restricted": "yes"}, NEST),
        ({"layer": "nest", "restricted": "perhaps"}, NEST),
        ({"layer": "gone"}, None),
        ({"layer": "parcel"}, BOW),
    )
    loaded = read_context(table(text, name="context.geojson"), projection=montana)
    road, nest, doubtful, bow = loaded.value
    assert (road.layer, road.name, road.restricted) == ("access", "G-1", False)
    assert road.properties == {"class": "gravel"}
    assert list(road.geometry.coords) == [(-108.3, 46.7), (-108.2, 46.8)]  # type: ignore[attr-defined]
    assert (nest.restricted, doubtful.restricted, bow.restricted) == (True, True, False)
    assert loaded.rows_left_out == (4,)
    assert [p.row for p in loaded.problems if p.severity is Severity.NOTED] == [3, 5]


def test_without_a_layer_column_the_file_names_the_layer(table: Table, montana: Projection) -> None:
    raw = table(collection(({"id": "7"}, NEST)), name="wetland.geojson")
    assert raw.kinds == ("context",)
    assert read_context(raw, projection=montana).value[0].layer == "wetland"


def test_points_in_a_list(table: Table, montana: Projection) -> None:
    text = "layer,name,lon,lat,restricted\ngate,G-1,-108.37717,46.71312,\ngate,G-2,,,\ngate,G-3,nan,46,\n"
    loaded = read_context(table(text), projection=montana)
    point: Any = loaded.value[0].geometry
    assert (point.x, point.y) == pytest.approx((-108.37717, 46.71312), abs=1e-9)
    assert loaded.rows_left_out == (3, 4)


def test_shapes_off_the_globe_are_left_out(table: Table, montana: Projection) -> None:
    far = {"type": "Point", "coordinates": [2250000, 900000]}
    text = collection(({"layer": "a"}, far), ({"layer": "a"}, {"type": "Point", "coordinates": [-108, 46]}))
    loaded = read_context(table(text, name="c.geojson", kind="context"), projection=montana)
    assert loaded.rows_left_out == (1,)


def test_a_file_without_a_usable_feature_is_refused(table: Table, montana: Projection) -> None:
    raw = table(collection(({"layer": "a"}, None)), name="c.geojson", kind="context")
    with pytest.raises(InputRefused, match="no row of the file"):
        read_context(raw, projection=montana)


HEADS = "What,Owner,Station,True (ft),Span,Voltage (kV),Rule,Energized\n"


def test_a_list_becomes_crossings(table: Table) -> None:
    text = (
        HEADS + 'State Route 918,State,204+40.00,"20,440",4/5-4/6,,guard structures,no\n'
        "Hobnail-Crane 230 kV,,871+84.50 (R2),,17/2-17/3,,outage,\n"
        "12.47 kV along the road,,,20510,,12.47,,yes\n"
        "old tap,,1+00,,,69,,no\n"
    )
    loaded = read_rows(table(text), CROSSINGS, unit=LengthUnit.FOOT, line_default="N")
    road, wire, road_wire, tap = loaded.value
    assert (road.true_distance, road.back_structure, road.ahead_structure) == (20440.0, "4/5", "4/6")
    assert (road.energized, road.rule, road.row, road.line) == (False, "guard structures", 2, "N")
    assert (wire.voltage_kv, wire.energized, wire.place) == (230.0, True, "span 17/2-17/3")
    assert (road_wire.voltage_kv, road_wire.energized) == (12.47, True)
    assert (tap.energized, tap.place) == (False, "station 1+00")


def test_doubtful_words_are_taken_as_energized(table: Table) -> None:
    loaded = read_rows(
        table(HEADS + "tap,,1+00,,,,,ask\ntap 2,,2+00,,,,,live\n"), CROSSINGS, unit=LengthUnit.FOOT
    )
    assert [crossing.energized for crossing in loaded.value] == [True, True]
    assert [(p.row, p.severity) for p in loaded.problems] == [(2, Severity.NOTED)]


def test_true_distances_are_converted(table: Table) -> None:
    raw = table("what,true (m)\ngas,304.8\n")
    assert read_rows(raw, CROSSINGS, unit=LengthUnit.FOOT).value[0].true_distance == pytest.approx(1000.0)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("gas,,,,,,,", "has no place"),
        ("gas,,,far,,,,", "not a number"),
        ("gas,,,,9/2,,,", "a span lies between two structures"),
        ("wire,,1+00,,,high,,", "not a number"),
        ("wire,,1+00,,,-5,,", "no voltage"),
    ],
)
def test_a_crossing_that_cannot_be_placed_refuses_the_list(table: Table, row: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_rows(table(HEADS + row + "\n"), CROSSINGS, unit=LengthUnit.FOOT)
