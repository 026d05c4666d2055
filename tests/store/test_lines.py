"""Lines, centrelines and station equations."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from linemap.domain.design.line import Centreline, Limits, StationEquation
from linemap.errors import Conflict, InputRefused, NotFound
from linemap.kinds.registry import EQUATIONS
from linemap.store import lines
from linemap.store.database import Database
from linemap.store.lists import load_list
from linemap.store.states import list_states
from linemap.units import LengthUnit


def pairs(*stations: tuple[float, float]) -> list[StationEquation]:
    return [StationEquation(line="North", back=back, ahead=ahead) for back, ahead in stations]


def test_a_line_comes_back_with_its_rules_and_centreline(database: Database, now: dt.datetime) -> None:
    limits = Limits(pi_snap_m=0.5, span_deflection_deg=0.25)
    route = Centreline.from_points(
        np.array([[1000.1, 2000.2], [4000.3, 2000.4], [4000.5, 5000.6]]),
        names=("START", "", "PI-2"),
        source_file="centreline.csv",
    )
    with database.writing() as connection:
        made = lines.add_line(
            connection,
            name="Brindle Gap–Amber Sill",
            crs="EPSG:6515",
            back_end="Brindle Gap",
            ahead_end="Amber Sill",
            combined_factor=0.999217,
            start_station=1050.25,
            pole_a="right",
            limits=limits,
        )
        lines.save_centreline(connection, made, route, now=now)
        lines.save_equations(connection, made, pairs((2050.25, 2000.0), (3500.0, 3600.0)), now=now)
    with database.reading() as connection:
        (line,) = lines.load_lines(connection)
    assert (line.name, line.crs, line.unit) == ("Brindle Gap–Amber Sill", "EPSG:6515", LengthUnit.FOOT)
    assert (line.back_end, line.ahead_end, line.pole_a) == ("Brindle Gap", "Amber Sill", "right")
    assert (line.combined_factor, line.combined_factor_declared) == (0.999217, True)
    assert line.limits == limits
    assert line.stationing.start == 1050.25
    assert [(one.true_distance, one.back, one.ahead) for one in line.stationing.equations] == [
        (1000.0, 2050.25, 2000.0),
        (2500.0, 3500.0, 3600.0),
    ]
    np.testing.assert_array_equal(line.centreline.easting, route.easting)
    np.testing.assert_array_equal(line.centreline.northing, route.northing)
    assert (line.centreline.names, line.centreline.source_file) == (route.names, "centreline.csv")


def test_an_undeclared_factor_stays_undeclared(database: Database, line_id: int) -> None:
    with database.reading() as connection:
        (line,) = lines.load_lines(connection)
    assert (line.combined_factor, line.combined_factor_declared) == (1.0, False)
    assert line.centreline.names == ()


def test_a_line_without_a_centreline_is_listed_but_not_loaded(database: Database, line_id: int) -> None:
    with database.writing() as connection:
        lines.add_line(connection, name="South", crs="EPSG:6515")
        assert [record.name for record in lines.list_lines(connection)] == ["North", "South"]
        assert [line.name for line in lines.load_lines(connection)] == ["North"]


def test_a_new_centreline_takes_the_place_of_the_old_one_which_is_kept(
    database: Database, line_id: int, now: dt.datetime
) -> None:
    longer = Centreline.from_points(np.array([[0.0, 0.0], [0.0, 100.0], [0.0, 200.0], [9.0, 300.0]]))
    with database.writing() as connection:
        changes = lines.save_centreline(connection, line_id, longer, label="Rev C", now=now)
        (line,) = lines.load_lines(connection)
        kept = list_states(connection, "centreline")
    assert line.centreline.easting.tolist() == [0.0, 0.0, 0.0, 9.0]
    assert changes[-1].words == "vertex North added"
    assert [(state.label, state.is_current) for state in kept] == [("", False), ("Rev C", True)]


def test_new_equations_take_the_place_of_the_old_ones(
    database: Database, line_id: int, now: dt.datetime
) -> None:
    with database.writing() as connection:
        assert lines.save_equations(connection, line_id, pairs((1000.0, 900.0)), now=now) == ()
        (moved,) = lines.save_equations(connection, line_id, pairs((1000.0, 910.0)), now=now)
        (gone,) = lines.save_equations(connection, line_id, pairs(), now=now)
        (line,) = lines.load_lines(connection)
        first, *_ = list_states(connection, "equations")
        assert load_list(connection, EQUATIONS, state=first.id) == tuple(pairs((1000.0, 900.0)))
    assert moved.words == "station equation North 1000.00 ahead 900.00 ft -> 910.00 ft"
    assert gone.words == "station equation North 1000.00 removed"
    assert line.stationing.equations == ()


def test_equations_that_do_not_follow_each_other_are_refused_and_the_old_ones_stay(
    database: Database, line_id: int, now: dt.datetime
) -> None:
    with database.writing() as connection:
        lines.save_equations(connection, line_id, pairs((1000.0, 900.0)), now=now)
    with database.writing() as connection:
        with pytest.raises(ValueError, match="does not follow"):
            lines.save_equations(connection, line_id, pairs((1000.0, 900.0), (800.0, 700.0)), now=now)
        (line,) = lines.load_lines(connection)
    assert [one.back for one in line.stationing.equations] == [1000.0]


def test_two_lines_of_one_name_are_refused(database: Database, line_id: int) -> None:
    with pytest.raises(Conflict, match="North"), database.writing() as connection:
        lines.add_line(connection, name="North", crs="EPSG:6515")


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:999999", "nonsense"])
def test_a_crs_that_cannot_carry_stations_is_refused(database: Database, crs: str) -> None:
    with pytest.raises(InputRefused), database.writing() as connection:
        lines.add_line(connection, name="South", crs=crs)


def test_lists_of_an_unknown_line_are_refused(database: Database, now: dt.datetime) -> None:
    route = Centreline.from_points(np.array([[0.0, 0.0], [0.0, 1.0]]))
    with pytest.raises(NotFound), database.writing() as connection:
        lines.save_centreline(connection, 5, route, now=now)
    with pytest.raises(NotFound), database.writing() as connection:
        lines.save_equations(connection, 5, pairs(), now=now)
