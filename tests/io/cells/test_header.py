from __future__ import annotations

import pytest

from linemap.domain.kind.kind import Code as Kind
from linemap.io.cells.header import find_header, fitting_kinds, looks_like_shots
from linemap.io.cells.table import Cell


@pytest.mark.parametrize(
    ("headings", "kind"),
    [
        ("Str,Station,Northing,Easting,Type,Angle,Poles,Ahead Span,Remarks", "structures"),
        ("structure,longitude,latitude", "structures"),
        ("line,structure,easting,northing,description", "structures"),
        ("PI,Station,N,E,Delta", "centreline"),
        ("PI,Sta Bk,Sta Ah,N,E,Delta,Brg Ah,Dist Ah", "centreline"),
        ("line,easting,northing", "centreline"),
        ("point,northing,easting,elevation,description", "shots"),
        ("P,N,E,Z,D", "shots"),
        ("structure,pole,easting,northing", "shots"),
        ("Structure,Pole,Length,Class,Remarks", "poles"),
        ("structure,step,date,crew", "records"),
        ("Hold,Activities,Structures,From date,To date,Reason", "holds"),
        ("what,owner,station,voltage,rule", "crossings"),
        ("back,ahead", "equations"),
        ("layer,name,longitude,latitude,restricted", "context"),
        ("name,value,unit,source", "tolerances"),
        ("Type,Words,Poles,Spacing,Arm rule,Blocks,Weight", "types"),
    ],
)
def test_kinds_are_told_by_headings(headings: str, kind: Kind) -> None:
    assert fitting_kinds(headings.split(","))[0] == (kind,)


@pytest.mark.parametrize("headings", ["name,easting,northing", "colour,size", ""])
def test_unclear_headings_fit_several_kinds_or_none(headings: str) -> None:
    assert len(fitting_kinds(headings.split(","))[0]) != 1


def test_title_rows_are_passed_over() -> None:
    header = find_header([["KETTLE LIST", "Sta"], [""], ["Str", "N", "E"], ["1/1", "5", "6"]])
    assert header is not None
    assert (header.index, header.height, header.kinds) == (2, 1, ("structures",))


def test_a_row_of_units_below_the_headings_belongs_to_them() -> None:
    header = find_header([["Str", "Northing", "Easting"], ["", "(US ft)", "(US ft)"], ["1/1", "5", "6"]])
    assert header is not None
    assert (header.height, header.headings) == (2, ("Str", "Northing (US ft)", "Easting (US ft)"))


def test_headings_over_two_rows_are_joined() -> None:
    rows = [["Str", "Pole", "", ""], ["", "Spacing", "Northing", "Easting"], ["1/1", "12", "5", "6"]]
    header = find_header(rows)
    assert header is not None
    assert header.height == 2
    assert header.headings[:2] == ("Str", "Pole Spacing")


def test_headings_printed_again_do_not_move_the_first_ones() -> None:
    rows = [["Str", "N", "E"], ["1/1", "5", "6"], ["Str", "N", "E"], ["1/2", "5", "6"]]
    header = find_header(rows)
    assert header is not None
    assert header.index == 0


def test_rows_without_headings_read_as_shots_only_when_numbers_stand_where_they_should() -> None:
    assert looks_like_shots([["5004", "911410.0", "2273384.3", "", "CL HUB"]], mark=".")
    assert not looks_like_shots([["1/1", "911410.0", "2273384.3", "H-TAN"]], mark=".")
    named = [["point", "easting", "northing"], ["1", "2273384.3", "911410.0", "0", "A"]]
    assert not looks_like_shots(named, mark=".")


def test_a_cell_merged_over_several_columns_is_no_part_of_their_headings() -> None:
    rows: list[list[Cell]] = [
        ["LIST", "", "", "", ""],
        ["Str", "Grid position", "", "Pole", "Remarks"],
        ["No", "Northing (ft)", "Easting (ft)", "Spacing", ""],
    ]
    header = find_header(rows)
    assert header is not None
    assert (header.index, header.height) == (1, 2)
    assert header.headings == ("Str No", "Northing (ft)", "Easting (ft)", "Pole Spacing", "Remarks")
    assert header.kinds == ("structures",)
