"""Every declared list: records come back as they were, and a new file does to the old rows what it says."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import pytest
import shapely
from dose import examples
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.material import Receipt
from linemap.domain.crew.ticket import Ticket
from linemap.domain.design.guy import Guy
from linemap.domain.design.structure import StructureType
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.domain.design.tolerance import ToleranceEntry
from linemap.domain.framing.framing_type import DIMENSIONS, FramingEntry
from linemap.domain.kind.kind import Keeps
from linemap.domain.record.punch import PunchEntry
from linemap.domain.schedule.plan import Baseline
from linemap.domain.survey.control import ControlPoint
from linemap.domain.survey.fact import RecordedFact
from linemap.errors import Conflict
from linemap.geometry.frame import ArmRule
from linemap.kinds.registry import KINDS
from linemap.store.database import Database
from linemap.store.lists import add_records, keep_list, load_list
from linemap.store.versions import load_data_version

texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)
named = texts.filter(str.strip)
numbers = st.sampled_from(["", "9/2", "12/3A", "47"])
places = st.lists(st.sampled_from(["9/2", "12/3A"]), min_size=1, max_size=2).map(tuple)
days = st.none() | st.dates(dt.date(2026, 1, 1), dt.date(2027, 1, 1))
finite = st.floats(allow_nan=False, allow_infinity=False).map(lambda value: value + 0.0)
lengths = st.none() | st.floats(0.1, 200.0)
counts = st.integers(0, 9)
measured = st.floats(-1e6, 1e6)
sides = st.sampled_from(["left", "right"])
along = st.sampled_from(["ahead", "back"])
MEASURED = [name for name, (measure, _) in DIMENSIONS.items() if measure in {"length", "percent"}]
SHAPES = (
    "POINT (-106.123456789012345 39.1)",
    "POINT Z (-106.1 39.1 2412.25)",
    "LINESTRING (-106.1 39.1, -106.2 39.20000000000001)",
    "POLYGON ((0 0, 4 0, 4 4, 0 0), (1 0.5, 2 0.5, 2 1, 1 0.5))",
    "MULTILINESTRING ((0 0, 1 1), (2 2, 3 4))",
    "GEOMETRYCOLLECTION (POINT (1 2), LINESTRING (0 0, 1 1))",
    "POINT EMPTY",
)
#: Records of each list with all that their fields may hold.
RECORDS: dict[str, st.SearchStrategy[Any]] = {
    "types": st.builds(
        StructureType,
        code=texts,
        words=texts,
        pole_count=st.integers(2, 3),
        spacing=lengths,
        rule=st.sampled_from(ArmRule),
        section_break=st.booleans(),
        blocks=st.none() | counts,
        guyed=st.none() | st.booleans(),
        weight=st.floats(0.1, 9.0),
    ),
    "framing": st.builds(
        FramingEntry,
        code=texts,
        dimension=st.sampled_from(MEASURED),
        value=st.floats(0.0, 250.0),
        drawing=texts,
        source_row=counts,
    )
    | st.builds(
        FramingEntry,
        code=texts,
        dimension=st.just("brace bolting"),
        value=st.none(),
        choice=st.sampled_from(["centre", "inside face", "none"]),
        drawing=texts,
        source_row=counts,
    ),
    "tolerances": st.builds(
        ToleranceEntry, name=texts, value=finite, unit=texts, source=texts, source_row=counts
    ),
    "guys": st.builds(
        Guy,
        line=st.sampled_from(["North", "South"]),
        structure=texts,
        id=texts,
        kind=st.sampled_from(["bisector", "back", "ahead"]),
        side=st.sampled_from(["", "left", "right"]),
        pole=st.sampled_from(["", "A", "C"]),
        lead=lengths,
        height=lengths,
        ratio=lengths,
        remarks=texts,
        source_row=counts,
    ).flatmap(
        lambda guy: (
            st.just(guy)
            | st.floats(0.0, 359.0).map(lambda turn: replace(guy, kind="azimuth", azimuth_deg=turn))
        )
    ),
    "holds": st.builds(
        Hold,
        id=named,
        line=texts,
        structures=st.lists(texts, max_size=3).map(tuple),
        from_structure=numbers,
        to_structure=numbers,
        activities=st.lists(named, min_size=1, max_size=3).map(tuple),
        from_date=st.none() | st.dates(max_value=dt.date(2026, 1, 1)),
        to_date=st.none() | st.dates(min_value=dt.date(2026, 1, 1)),
        condition=texts,
        reason=texts,
        restricted=st.booleans(),
        set_by=texts,
        release_by=texts,
        released_on=days,
    ),
    "crossings": st.builds(
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
    "tickets": st.builds(
        Ticket,
        number=named,
        line=texts,
        structures=places,
        covers_anchors=st.booleans(),
        valid_from=st.none() | st.just(dt.date(2026, 1, 1)),
        expires=days,
        life=st.sampled_from(["", "28 days", "20 working days"]),
        responses=texts,
        renewed_by=texts,
    ),
    "receipts": st.builds(
        Receipt,
        item=named,
        line=texts,
        structure=st.sampled_from(["", "13/2"]),
        ordered=st.none() | counts,
        received=counts,
        damaged=counts,
        received_on=days,
        due=days,
        brand=texts,
        yard_row=texts,
        released_by=texts,
        remarks=texts,
        row=counts,
    ),
    "punch": st.builds(
        PunchEntry,
        item=st.sampled_from(["P-1", "P-2"]),
        line=texts,
        structure=named,
        part=texts,
        action=st.sampled_from(["opened", "closed", "reopened"]),
        on=st.dates(dt.date(2026, 1, 1), dt.date(2026, 1, 9)),
        text=texts,
        severity=texts,
        owner=texts,
        due=days,
        who=texts,
        evidence=texts,
    ),
    "facts": st.builds(
        RecordedFact,
        line=texts,
        structure=st.sampled_from(["6/4", "12/3A"]),
        what=st.sampled_from(["brand", "ground wire", "arm face", "tag", "plumb", "arm level"]),
        pole=st.sampled_from(["A", "B", "C"]),
        pointed_by=st.sampled_from(["place", "label"]),
        length_ft=measured,
        pole_class=texts,
        face=along,
        looking=along,
        side=sides,
        lower_height=measured,
        lower_along=measured,
        lower_across=measured,
        upper_height=measured,
        upper_along=measured,
        upper_across=measured,
        pole_height=measured,
        left_height=measured,
        right_height=measured,
        arm_length=measured,
        who=texts,
        on=st.dates(dt.date(2026, 1, 1), dt.date(2026, 12, 31)),
        note=texts,
        source_row=counts,
    ),
    "context": st.builds(
        ContextFeature,
        layer=st.sampled_from(["nest", "access"]),
        name=texts,
        geometry=st.sampled_from(SHAPES).map(shapely.from_wkt),
        restricted=st.booleans(),
        properties=st.dictionaries(texts, texts, max_size=2),
    ),
    "control": st.builds(
        ControlPoint,
        name=named,
        easting=finite,
        northing=finite,
        elevation=st.none() | finite,
        sigma=lengths,
        datum=texts,
        source=texts,
        note=texts,
        source_row=counts,
    ),
    "plan": st.builds(
        Baseline,
        line=st.sampled_from(["", "North"]),
        step=st.sampled_from(["set", "dug"]),
        revision=st.sampled_from(["0", "1"]),
        frozen_on=st.just(dt.date(2026, 3, 2)),
        weeks=st.just((dt.date(2026, 3, 23), dt.date(2026, 3, 30))),
        planned=st.tuples(counts).map(lambda first: (*first, 11)),
    ),
}
#: Lists of lines, which are kept by what stores lines and structures.
OF_LINES = {"centreline", "equations", "poles"}
REPLACED = [code for code, kind in KINDS.items() if kind.keeps is not Keeps.GROWS and code not in OF_LINES]
GROWING = [code for code, kind in KINDS.items() if kind.keeps is Keeps.GROWS]
QUICK = settings(max_examples=examples(15), suppress_health_check=[HealthCheck.function_scoped_fixture])


ONE = settings(
    max_examples=1, phases=[Phase.generate], suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def version(database: Database) -> int:
    with database.reading() as connection:
        return load_data_version(connection)


def plain(records: Sequence[Any]) -> list[Any]:
    """Return records to be compared by values and their types, shapes to the last bit with their heights."""
    return [
        [each.layer, each.name, each.restricted, dict(each.properties), *exact(each.geometry)]
        if isinstance(each, ContextFeature)
        else [each, *(type(getattr(each, field.name)) for field in fields(each))]
        for each in records
    ]


def exact(shape: shapely.Geometry) -> tuple[str, bytes]:
    return shape.geom_type, shapely.get_coordinates(shape, include_z=True).tobytes()


def test_every_declared_list_is_tried() -> None:
    assert {*RECORDS} == KINDS.keys() - OF_LINES


@pytest.mark.parametrize("code", REPLACED)
@QUICK
@given(data=st.data())
def test_a_new_file_takes_the_place_of_the_list_or_of_the_parts_it_names(
    database: Database, now: dt.datetime, code: Any, data: st.DataObject
) -> None:
    kind = KINDS[code]
    before, brought = (data.draw(st.lists(RECORDS[code], max_size=4)) for _ in range(2))
    with database.writing() as connection:
        there = load_list(connection, kind)
        for each in (before, brought):
            keep_list(connection, kind, each, ends=True, now=now)
    expected: dict[str, list[Any]] = {}
    for file in (there, before, brought):
        parts: dict[str, list[Any]] = {} if kind.part else {"": []}
        for each in file:
            parts.setdefault(getattr(each, kind.part) if kind.part else "", []).append(each)
        expected |= parts
    with database.reading() as connection:
        found = load_list(connection, kind)
    for part, records in expected.items():
        mine = [each for each in found if not kind.part or getattr(each, kind.part) == part]
        assert plain(mine) == plain(records)
    assert len(found) == sum(map(len, expected.values()))


@pytest.mark.parametrize("code", REPLACED)
@ONE
@given(data=st.data())
def test_a_file_is_a_change_and_an_empty_one_where_it_takes_something_out(
    database: Database, now: dt.datetime, code: Any, data: st.DataObject
) -> None:
    kind, before, record = KINDS[code], version(database), data.draw(RECORDS[code])
    for records, grown in (([record], 1), ([], 1 if kind.part else 2)):
        with database.writing() as connection:
            keep_list(connection, kind, records, ends=True, now=now)
        assert version(database) == before + grown


@pytest.mark.parametrize("code", ["punch", "facts"])
@QUICK
@given(data=st.data())
def test_a_list_that_grows_takes_nothing_out(database: Database, code: Any, data: st.DataObject) -> None:
    kind = KINDS[code]
    first, second = (data.draw(st.lists(RECORDS[code], max_size=3)) for _ in range(2))
    with database.writing() as connection:
        before = load_list(connection, kind)
        add_records(connection, kind, first)
        add_records(connection, kind, second)
        assert add_records(connection, kind, [*first, *second]) == 0
    with database.reading() as connection:
        assert load_list(connection, kind) == tuple(dict.fromkeys([*before, *first, *second]))


@pytest.mark.parametrize("code", GROWING)
@ONE
@given(data=st.data())
def test_only_new_records_are_a_change(database: Database, code: Any, data: st.DataObject) -> None:
    kind, before, record = KINDS[code], version(database), data.draw(RECORDS[code])
    for _ in range(2):
        with database.writing() as connection:
            add_records(connection, kind, [record])
        assert version(database) == before + 1


def test_every_sort_of_shape_comes_back(database: Database, now: dt.datetime) -> None:
    sent = [ContextFeature(layer="access", name=wkt, geometry=shapely.from_wkt(wkt)) for wkt in SHAPES]
    with database.writing() as connection:
        keep_list(connection, KINDS["context"], sent, now=now)
        assert plain(load_list(connection, KINDS["context"])) == plain(sent)


FACT = RecordedFact(
    structure="6/4",
    what="brand",
    pole="A",
    pointed_by="place",
    length_ft=70,
    who="Otter",
    on=dt.date(2026, 5, 7),
)


def test_the_row_of_a_file_makes_no_other_record(database: Database) -> None:
    with database.writing() as connection:
        for row in (2, 3):
            add_records(connection, KINDS["facts"], [replace(FACT, source_row=row)])
        (again,) = load_list(connection, KINDS["facts"])
    assert again == FACT
    assert (again.source_row, again.left_height, again.face) == (2, None, "")


def test_another_record_of_a_key_is_refused_where_records_stand_once(database: Database) -> None:
    kind = KINDS["plan"]
    first = Baseline(line="North", frozen_on=dt.date(2026, 3, 2), weeks=(dt.date(2026, 3, 23),), planned=(4,))
    with database.writing() as connection:
        add_records(connection, kind, [first])
    second, moved = Baseline(line="North", revision="1", planned=(5,)), replace(first, planned=(12,))
    words = r"^baseline plan North set 0 is there already; .* give a new plan a revision of its own"
    with pytest.raises(Conflict, match=words), database.writing() as connection:
        add_records(connection, kind, [second, moved])
    with database.reading() as connection:
        assert load_list(connection, kind) == (first,), "nothing of the file is kept"
    with database.writing() as connection:
        add_records(connection, kind, [second])
        assert load_list(connection, kind) == (first, second)
