"""Point files: written for the controller and read back."""

from __future__ import annotations

from pathlib import Path

import pytest
from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linemap.domain.staking.stakeout import StakePoint
from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.source.read import read_source
from linemap.io.survey.points import POINT_ORDERS, point_text, write_points
from linemap.io.survey.shots import PNEZD, read_shot_order, read_shots


def stake(
    description: str = "12/3 A HUB",
    *,
    easting: float = 2_296_704.598,
    northing: float = 918_540.131,
    elevation: float | None = 3952.66,
) -> StakePoint:
    return StakePoint(
        row=0, line="North", structure="12/3", kind="pole", pole="A",
        easting=easting, northing=northing, elevation=elevation, description=description,
    )  # fmt: skip


def test_a_point_file_is_plain_lines() -> None:
    rows = [("1001", stake()), ("1002", stake("12/3 A OS25BK", elevation=None))]
    assert point_text(rows) == (
        "1001,918540.131,2296704.598,3952.660,12/3 A HUB\r\n1002,918540.131,2296704.598,,12/3 A OS25BK\r\n"
    )
    assert point_text(rows, order=read_shot_order("penzd")).startswith(
        "1001,2296704.598,918540.131,3952.660,"
    )
    assert point_text([]) == ""


def test_numbers_that_stand_twice_are_refused_and_nothing_is_written(tmp_path: Path) -> None:
    path = tmp_path / "points.csv"
    with pytest.raises(InputRefused, match='"1001": stands twice'):
        write_points([("1001", stake()), ("1001", stake())], path)
    assert not path.exists()


@pytest.mark.parametrize("letters", ["nezd", "pnedz", "pnezdh"])
def test_other_orders_are_refused(letters: str) -> None:
    if letters == "nezd":
        order = ("northing", "easting", "elevation", "description")
    else:
        order = read_shot_order(letters)
    with pytest.raises(InputRefused, match="use pnezd or penzd"):
        point_text([], order=order)


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="cannot be written"):
        write_points([("1", stake())], tmp_path / "no" / "points.csv")


@settings(max_examples=examples(40), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    places=st.lists(
        st.tuples(
            st.integers(1_600_000_000, 3_000_000_000),
            st.integers(100_000_000, 1_500_000_000),
            st.none() | st.integers(1_000_000, 9_000_000),
            st.sampled_from(
                ["12/3 CL HUB", "12/3 A HUB", "12/3 B OS12.5L", "STR 47 CL OS25BK", "12/3A ANC HUB AH L"]
            ),
        ),
        min_size=1,
        max_size=6,
    ),
    order=st.sampled_from(POINT_ORDERS),
)
def test_what_is_written_is_read_back_to_the_last_digit_as_hubs(
    tmp_path: Path,
    montana: Projection,
    places: list[tuple[int, int, int | None, str]],
    order: tuple[str, ...],
) -> None:
    stakes = [
        stake(words, easting=e / 1000, northing=n / 1000, elevation=None if z is None else z / 1000)
        for e, n, z, words in places
    ]
    path = tmp_path / "stakes.csv"
    write_points([(str(5001 + i), point) for i, point in enumerate(stakes)], path, order=order)
    source = read_source(path)
    assert source.kind == "shots"
    loaded = read_shots(source.tables[0], projection=montana, order=order)
    assert loaded.rows_left_out == ()
    assert [
        (shot.point, shot.easting, shot.northing, shot.elevation, shot.description, shot.item)
        for shot in loaded.value
    ] == [
        (str(5001 + i), point.easting, point.northing, point.elevation, point.description, "hub")
        for i, point in enumerate(stakes)
    ]
    assert PNEZD in POINT_ORDERS
