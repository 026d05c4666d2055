"""Pairs of coordinates as people write them: RFC 5870, ISO 6709 and controllers' habits (no source)."""

from __future__ import annotations

import pytest

from linemap.geometry.coordinate_text import read_pairs


@pytest.mark.parametrize(
    "text",
    [
        "914050.99 N 2276177.43 E",
        "N 914050.99 E 2276177.43",
        "E=2276177.43 N=914050.99",
        "Y=914050.99, X=2276177.43",
        "northing 914,050.99 easting 2,276,177.43",
        "2276177.43E; 914050.99N",
    ],
)
def test_letters_say_which_is_north(text: str) -> None:
    (found,) = read_pairs(text)
    assert (found.read_as, found.north, found.east, found.note) == ("grid", 914050.99, 2276177.43, "")


@pytest.mark.parametrize(
    "text",
    ["914050.99, 2276177.43", "914,050.99 2,276,177.43", "914050.99;2276177.43", "914050.99,2276177.43"],
)
def test_without_letters_both_orders_are_given(text: str) -> None:
    assert [(each.north, each.east, each.note) for each in read_pairs(text)] == [
        (914050.99, 2276177.43, "north first"),
        (2276177.43, 914050.99, "east first"),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "46.5 N 108.25 W",
        "N46.5 W108.25",
        "46°30'N 108°15'W",
        "46°30′00″ N, 108°15′00″ W",
        "N46 30.0 W108 15.0",
        "46 30 00 N, 108 15 00 W",
        "108°15'00.0\"W 46°30'00.0\"N",
        "46-30-00N 108-15-00W",
        "46:30:00 N 108:15:00 W",
        "lat 46.5 lon -108.25",
        "longitude: -108.25, latitude: 46.5",
    ],
)
def test_degrees_with_their_hemispheres(text: str) -> None:
    found = [(each.north, each.east) for each in read_pairs(text) if each.read_as == "degrees"]
    assert found == [pytest.approx((46.5, -108.25))]


def test_a_longitude_without_hemisphere_may_be_west() -> None:
    found = [each for each in read_pairs("46.5, 108.25") if each.read_as == "degrees"]
    assert [(each.north, each.east, each.note) for each in found] == [
        (46.5, 108.25, "north first"),
        (46.5, -108.25, "north first, longitude taken as west"),
    ]  # 108.25 is no latitude, so east first is none


def test_southern_and_eastern_places() -> None:
    (found,) = (each for each in read_pairs("33°52'S 151°12'E") if each.read_as == "degrees")
    assert (found.north, found.east) == pytest.approx((-33.866667, 151.2))


@pytest.mark.parametrize("text", ["", "12/3", "hello there", "46.5", "1 2 3", "46°75'N 108°15'W", "N 5 N 6"])
def test_what_is_no_pair_gives_none(text: str) -> None:
    assert list(read_pairs(text)) == []
