"""Structure lists and pole schedules: every value back, every revision kept, exactly the changes flagged."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linemap.domain.design.structure import Pole, Structures
from linemap.errors import NotFound
from linemap.geometry.frame import ArmRule
from linemap.kinds.registry import POLES
from linemap.store import lines, structures
from linemap.store.database import Database
from linemap.store.lists import load_list
from linemap.store.states import list_states

texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=8)
finite = st.floats(allow_nan=False, allow_infinity=False).filter(lambda value: value != 0.0) | st.just(0.0)
known_or_not = finite | st.just(math.nan)


@st.composite
def structure_lists(draw: st.DrawFn) -> Structures:
    size = draw(st.integers(0, 5))

    def column(values: st.SearchStrategy[Any]) -> list[Any]:
        return draw(st.lists(values, min_size=size, max_size=size))

    return Structures.from_columns(
        line="North",
        number=column(texts),
        easting=column(finite),
        northing=column(finite),
        elevation=column(known_or_not),
        spacing=column(known_or_not),
        pole_count=column(st.sampled_from([2, 3])),
        rule=column(st.sampled_from([0, 1, 2, 3])),
        explicit_azimuth=column(known_or_not),
        section_break=column(st.booleans()),
        type_code=column(texts),
        given_station=column(texts),
        remarks=column(texts),
        source_row=column(st.integers(0, 2**31 - 1)),
        source_file=draw(texts),
    )


def rev_b() -> Structures:
    size = 121
    return Structures.from_columns(
        line="North",
        number=[f"{1 + n // 6}/{1 + n % 6}" for n in range(size)],
        easting=[1000.0 + 800.0 * n for n in range(size)],
        northing=[2000.0] * size,
        elevation=[812.4] * size,
        spacing=[12.5] * size,
        type_code=["H-TAN"] * size,
        given_station=[f"{8 * n}+00" for n in range(size)],
        source_row=list(range(9, 9 + size)),
        source_file="structures_rev_b.xlsx",
    )


def rev_c() -> Structures:
    """Rev B with 2/1 moved 8 ft, 3/2 wider, 9/2 another type; written anew with other rows and stations."""
    before = rev_b()
    easting, spacing, types = before.easting.copy(), before.spacing.copy(), before.type_code.copy()
    number = before.number.tolist()
    easting[number.index("2/1")] += 8.0
    spacing[number.index("3/2")] = 15.5
    types[number.index("9/2")] = "H-ANG"
    return replace(
        before,
        easting=easting,
        spacing=spacing,
        type_code=types,
        source_row=before.source_row + 4,
        given_station=np.array([f"{station} BK" for station in before.given_station], dtype=object),
        source_file="structures_rev_c.xlsx",
    )


def load(database: Database) -> Structures:
    with database.reading() as connection:
        return structures.load_structures(connection)


@settings(max_examples=examples(25), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(listed=structure_lists())
def test_every_value_comes_back(
    database: Database,
    same_structures: Callable[[Structures, Structures], None],
    now: dt.datetime,
    listed: Structures,
) -> None:
    with database.writing() as connection:
        known = lines.list_lines(connection)
        line_id = known[0].id if known else lines.add_line(connection, name="North", crs="EPSG:6515")
        structures.save_structures(connection, line_id, listed, now=now)
    same_structures(load(database), listed)


def test_a_job_without_structures_gives_an_empty_list(database: Database) -> None:
    assert len(load(database)) == 0


def test_the_line_s_own_name_is_given_back(database: Database, line_id: int, now: dt.datetime) -> None:
    with database.writing() as connection:
        structures.save_structures(
            connection, line_id, replace(rev_b(), line=np.full(121, "", dtype=object)), now=now
        )
    assert set(load(database).line) == {"North"}


def test_several_lines_come_back_line_after_line(database: Database, line_id: int, now: dt.datetime) -> None:
    south = Structures.from_columns(
        line="South", number=["1/2", "1/1"], easting=[1.0, 2.0], northing=[3.0, 4.0], source_file="s.csv"
    )
    with database.writing() as connection:
        other = lines.add_line(connection, name="South", crs="EPSG:6515")
        structures.save_structures(connection, other, south, now=now)
        structures.save_structures(connection, line_id, rev_b(), now=now)
    loaded = load(database)
    assert loaded.line.tolist() == ["North"] * 121 + ["South"] * 2
    assert loaded.number.tolist()[-2:] == ["1/2", "1/1"]
    assert loaded.source_file == ""


def test_rev_c_flags_exactly_the_three_structures_it_changes(
    database: Database,
    line_id: int,
    now: dt.datetime,
    same_structures: Callable[[Structures, Structures], None],
) -> None:
    with database.writing() as connection:
        none = structures.save_structures(connection, line_id, rev_b(), label="Rev B", now=now)
    with database.writing() as connection:
        told = structures.save_structures(
            connection, line_id, rev_c(), label="Rev C", now=now + dt.timedelta(days=1)
        )
    with database.reading() as connection:
        found = structures.load_changes(connection, "North")
        states = list_states(connection, "structures")
        assert structures.load_changes(connection, "North", states=[states[0].id]) == ()
        assert structures.load_changes(connection, "North", states=[states[1].id]) == found
        assert (
            structures.load_structures(connection, state=states[0].id).number.tolist()
            == rev_b().number.tolist()
        )
        assert structures.load_changes(connection, "South") == ()
    assert [(one.label, one.change.number, one.change.change, one.change.words) for one in found] == [
        ("Rev C", "2/1", "moved", "moved 8.00 ft"),
        ("Rev C", "3/2", "changed", "pole spacing 12.50 ft -> 15.50 ft"),
        ("Rev C", "9/2", "changed", "type H-TAN -> H-ANG"),
    ]
    assert found[0].change.values == {"distance": 8.0, "unit": "ft", "azimuth_deg": 90.0}
    assert {name: found[1].change.values[name] for name in ("field", "old", "new", "unit")} == {
        "field": "spacing", "old": 12.5, "new": 15.5, "unit": "ft"
    }  # fmt: skip
    assert (none, told) == ((), tuple(one.change for one in found))
    assert [(state.label, state.source_file, state.is_current) for state in states] == [
        ("Rev B", "structures_rev_b.xlsx", False),
        ("Rev C", "structures_rev_c.xlsx", True),
    ]
    assert states[1].loaded_at == now + dt.timedelta(days=1)
    same_structures(load(database), rev_c())


def test_loading_the_same_list_again_changes_nothing(
    database: Database, line_id: int, now: dt.datetime
) -> None:
    with database.writing() as connection:
        structures.save_structures(connection, line_id, rev_b(), now=now)
        structures.save_structures(connection, line_id, rev_b(), now=now)
        assert structures.load_changes(connection, "North") == ()


def test_an_azimuth_rule_and_a_removed_structure_are_told(
    database: Database, line_id: int, now: dt.datetime
) -> None:
    before = rev_b().take(np.arange(3))
    rule, azimuth = before.rule.copy(), before.explicit_azimuth.copy()
    rule[0], azimuth[0] = ArmRule.AZIMUTH, 63.25
    with database.writing() as connection:
        structures.save_structures(connection, line_id, before, now=now)
        after = replace(before, rule=rule, explicit_azimuth=azimuth).take(np.arange(2))
        structures.save_structures(connection, line_id, after, now=now)
        found = structures.load_changes(connection, "North")
    assert [(one.change.number, one.change.words) for one in found] == [
        ("1/1", "arm rule bisector -> azimuth"),
        ("1/1", "listed azimuth not given -> 63.2500°"),
        ("1/3", "removed"),
    ]


@pytest.mark.parametrize("save", [structures.save_structures, structures.save_poles])
def test_an_unknown_line_is_told(database: Database, now: dt.datetime, save: Callable[..., Any]) -> None:
    nothing: Any = (
        Structures.from_columns(number=[], easting=[], northing=[])
        if save is structures.save_structures
        else []
    )
    with pytest.raises(NotFound, match="no line"), database.writing() as connection:
        save(connection, 17, nothing, now=now)


def pole(letter: str, **changes: Any) -> Pole:
    return replace(
        Pole(
            line="North",
            structure="9/2",
            letter=letter,
            length_ft=80.0,
            pole_class="2",
            ground_elevation=812.4,
            ground_wire=letter == "A",
            remarks="größer",
            source_row=12,
        ),
        **changes,
    )


def test_poles_come_back_as_they_were(database: Database, line_id: int, now: dt.datetime) -> None:
    listed = [pole("A"), pole("B", length_ft=None, ground_elevation=None, ground_wire=None, pole_class="")]
    with database.writing() as connection:
        structures.save_poles(connection, line_id, listed, source_file="poles.csv", now=now)
    with database.reading() as connection:
        assert load_list(connection, POLES) == tuple(listed)


def test_a_new_pole_schedule_tells_what_it_changes(
    database: Database, line_id: int, now: dt.datetime
) -> None:
    with database.writing() as connection:
        structures.save_poles(connection, line_id, [pole("A"), pole("B")], label="Rev B", now=now)
        after = [pole("A", length_ft=85.0), pole("B", pole_class="1", source_row=40), pole("C")]
        structures.save_poles(connection, line_id, after, label="Rev C", now=now)
        found = structures.load_changes(connection, "North")
        assert load_list(connection, POLES) == tuple(after)
    assert {one.kind for one in found} == {"poles"}
    assert [(one.change.number, one.change.words) for one in found] == [
        ("9/2", "pole A length 80 ft -> 85 ft"),
        ("9/2", "pole B class 2 -> 1"),
        ("9/2", "pole C added"),
    ]


def test_a_list_of_twenty_thousand_comes_back_whole(
    database: Database,
    line_id: int,
    now: dt.datetime,
    same_structures: Callable[[Structures, Structures], None],
) -> None:
    size = 20_000
    listed = Structures.from_columns(
        line="North",
        number=[str(n) for n in range(size)],
        easting=np.linspace(0.1, 1e6, size),
        northing=np.linspace(1e6, 0.3, size),
        spacing=np.where(np.arange(size) % 3, 12.5, np.nan),
    )
    with database.writing() as connection:
        structures.save_structures(connection, line_id, listed, now=now)
    same_structures(load(database), listed)
