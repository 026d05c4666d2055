"""Crossings and context features."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
import shapely
from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.kinds.registry import CONTEXT, CROSSINGS
from linemap.store import versions
from linemap.store.database import Database
from linemap.store.lists import keep_list, load_list

NOW = dt.datetime(2026, 5, 15, tzinfo=dt.UTC)

texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)
finite = st.floats(allow_nan=False, allow_infinity=False).map(lambda value: value + 0.0)

SHAPES = {
    "point": "POINT (-106.123456789012345 39.1)",
    "point with a height": "POINT Z (-106.1 39.1 2412.25)",
    "line": "LINESTRING (-106.1 39.1, -106.2 39.20000000000001)",
    "area with a hole": "POLYGON ((0 0, 4 0, 4 4, 0 0), (1 0.5, 2 0.5, 2 1, 1 0.5))",
    "several": "MULTILINESTRING ((0 0, 1 1), (2 2, 3 4))",
    "mixed": "GEOMETRYCOLLECTION (POINT (1 2), LINESTRING (0 0, 1 1))",
    "empty": "POINT EMPTY",
}


def feature(layer: str, name: str = "", wkt: str = "POINT (1 2)", **more: Any) -> ContextFeature:
    return ContextFeature(layer=layer, name=name, geometry=shapely.from_wkt(wkt), **more)


def load(database: Database) -> tuple[ContextFeature, ...]:
    with database.reading() as connection:
        return load_list(connection, CONTEXT)


@settings(max_examples=examples(15), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    listed=st.lists(
        st.builds(
            Crossing,
            line=texts,
            what=texts,
            owner=texts,
            station=texts,
            true_distance=st.none() | finite,
            back_structure=texts,
            ahead_structure=texts,
            voltage_kv=st.none() | finite,
            rule=texts,
            energized=st.booleans(),
            row=st.integers(0, 2**31 - 1),
        ),
        max_size=4,
    )
)
def test_crossings_come_back_and_take_the_place_of_what_was(
    database: Database, listed: list[Crossing]
) -> None:
    with database.writing() as connection:
        keep_list(connection, CROSSINGS, listed, now=NOW)
    with database.reading() as connection:
        assert load_list(connection, CROSSINGS) == tuple(listed)


@pytest.mark.parametrize("wkt", SHAPES.values(), ids=SHAPES)
def test_a_shape_comes_back_to_the_last_bit(database: Database, wkt: str) -> None:
    sent = feature("access", "größer", wkt, restricted=True, properties={"width": "14 ft", "": "é"})
    with database.writing() as connection:
        keep_list(connection, CONTEXT, [sent], now=NOW)
    (back,) = load(database)
    assert (back.layer, back.name, back.restricted) == ("access", "größer", True)
    assert dict(back.properties) == {"width": "14 ft", "": "é"}
    assert back.geometry.geom_type == sent.geometry.geom_type
    assert back.geometry.equals_exact(sent.geometry, 0.0)
    assert shapely.get_coordinates(back.geometry, include_z=True).tobytes() == (
        shapely.get_coordinates(sent.geometry, include_z=True).tobytes()
    )


def test_a_layer_loaded_again_takes_the_place_of_that_layer_only(database: Database) -> None:
    with database.writing() as connection:
        keep_list(connection, CONTEXT, [feature("nest", "N-1"), feature("access", "A-1")], now=NOW)
    with database.writing() as connection:
        keep_list(connection, CONTEXT, [feature("nest", "N-2"), feature("nest", "N-3")], now=NOW)
    assert [(one.layer, one.name) for one in load(database)] == [
        ("access", "A-1"),
        ("nest", "N-2"),
        ("nest", "N-3"),
    ]


def test_an_empty_file_of_features_changes_nothing(database: Database) -> None:
    with database.writing() as connection:
        keep_list(connection, CONTEXT, [feature("nest", "N-1")], now=NOW)
    with database.writing() as connection:
        keep_list(connection, CONTEXT, [], now=NOW)
    assert [one.name for one in load(database)] == ["N-1"]
    with database.reading() as connection:
        assert versions.load_data_version(connection) == 1
