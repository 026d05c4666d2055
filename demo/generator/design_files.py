"""The engineer's files: centreline, station equations, structure lists, pole schedules, type table."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from route import EQUATIONS, LINE, Route, format_deflection, format_station, station_at
from structures import TYPES, Structure, build_structures, move_structure
from tables import Cell, write_csv, write_xlsx

__all__ = ["write_design_files"]

#: Revision C: 15/2 moves ahead, the poles of 9/2 grow, the class of 20/6 changes.
_MOVED = ("15/2", 8.0)
_LONGER = {"9/2": 85}
_STRONGER = {"20/6": "1"}

_REMARKS = {
    "5/5": "guys on bisector",
    "6/3": "sidehill, A low",
    "6/4": "sidehill, A low",
    "6/5": "sidehill, A low",
    "7/1": "sidehill, A low",
    "7/3": "wetland, mats before any vehicle",
    "7/4": "wetland, mats before any vehicle",
    "9/2": "HOLD - drawing revision",
    "11/6": "river span ahead",
    "12/1": "river span back",
    "18/6": "station occurs twice, region 2",
}

_STRUCTURE_HEADER = (
    "line",
    "Structure",
    "Station",
    "Northing (ft)",
    "Easting (ft)",
    "Ground Elev (ft)",
    "Type",
    "Line Angle",
    "Poles",
    "Pole Spacing (ft)",
    "Ahead Span (ft)",
    "Section Break",
    "Remarks",
)
_POLE_HEADER = (
    "line",
    "Structure",
    "Pole",
    "Length (ft)",
    "Class",
    "Ground Elev (ft)",
    "Min Depth (ft)",
    "Brand From Butt (ft)",
    "Ground Wire",
    "Remarks",
)


def _centreline_rows(route: Route) -> Iterator[tuple[Cell, ...]]:
    yield ("line", "PI", "Northing (ft)", "Easting (ft)", "Station", "Deflection", "Remarks")
    distances = [tangent.start for tangent in route.tangents] + [route.length]
    for index, distance in enumerate(distances):
        name = "POB" if index == 0 else "POE" if index == len(distances) - 1 else f"PI-{index}"
        northing, easting = route.point(distance)
        remark = {"POB": "Brindle Gap terminal", "POE": "Amber Sill terminal"}.get(name, "")
        yield (
            LINE,
            name,
            f"{northing:.4f}",
            f"{easting:.4f}",
            format_station(station_at(distance)[0]),
            format_deflection(route.deflection_at(distance)),
            remark,
        )


def _equation_rows() -> Iterator[tuple[Cell, ...]]:
    yield ("line", "equation", "back station", "ahead station")
    jumped = 0.0
    for number, (true, jump) in enumerate(EQUATIONS, start=1):
        back = true + jumped
        jumped += jump
        yield (LINE, f"EQ-{number}", format_station(back), format_station(true + jumped))


def _coordinate(value: float, *, row: int) -> str:
    return f"{value:,.3f}" if row % 5 == 0 else f"{value:.3f}"


def _station_text(structure: Structure) -> str:
    station, region = station_at(structure.true)
    text = format_station(station)
    return f"{text} (R{region})" if structure.number == "18/6" else text


def _structure_row(structure: Structure, remark: str) -> tuple[Cell, ...]:
    ahead = structure.ahead_span
    return (
        LINE,
        structure.number,
        _station_text(structure),
        _coordinate(structure.northing, row=structure.sequence),
        _coordinate(structure.easting, row=structure.sequence),
        f"{structure.ground:.2f}",
        structure.type_code,
        format_deflection(structure.deflection, style="{d}-{m:02d}-{s:02d} {side}"),
        str(len(structure.poles)),
        f"{structure.type_row.spacing:.1f}",
        "" if ahead is None else f"{ahead:.2f}",
        "yes" if structure.type_row.section_break else "",
        remark,
    )


def _structure_rows(
    structures: list[Structure], *, revision: str, date: str, changes: dict[str, str]
) -> Iterator[tuple[Cell, ...]]:
    blank = ("",) * len(_STRUCTURE_HEADER)
    yield (LINE.upper(), "", "", "STRUCTURE LIST", "", "", f"REV {revision}", "", date, *blank[:3])
    yield ("Grid coordinates EPSG:6515 in international feet; stations and spans are ground feet", *blank[1:])
    yield _STRUCTURE_HEADER
    mile = 1
    for structure in structures:
        if structure.mile != mile:
            mile = structure.mile
            yield blank
        remark = changes.get(structure.number) or _REMARKS.get(structure.number, "")
        yield _structure_row(structure, remark)


def _pole_rows(
    structures: list[Structure], *, lengths: dict[str, int], classes: dict[str, str]
) -> Iterator[tuple[Cell, ...]]:
    yield _POLE_HEADER
    for structure in structures:
        changed = structure.number in lengths or structure.number in classes
        for pole in structure.poles:
            length = lengths.get(structure.number, pole.length)
            yield (
                LINE,
                structure.number,
                pole.letter,
                length,
                classes.get(structure.number, pole.pole_class),
                round(pole.ground, 2),
                round(0.1 * length + 2.0, 2),
                14 if length >= 55 else 10,
                "yes" if pole.letter == "A" else "",
                "REV C" if changed else "",
            )


def _type_rows() -> Iterator[tuple[Cell, ...]]:
    yield (
        "Type",
        "Words",
        "Poles",
        "Pole Spacing (ft)",
        "Arm Rule",
        "Blocks",
        "Weight",
        "Section Break",
        "Guyed",
    )
    for row in TYPES.values():
        section_break = "yes" if row.section_break else ""
        yield (
            row.code,
            row.words,
            len(row.poles),
            row.spacing,
            row.arm_rule,
            5,
            row.weight,
            section_break,
            "yes" if row.guyed else "no",
        )


def write_design_files(folder: Path, route: Route) -> list[Structure]:
    """Write the engineer's files and return the structures of revision B, which the field works to."""
    structures = build_structures(route)
    moved = move_structure(route, structures, _MOVED[0], _MOVED[1])
    write_csv(folder / "centreline.csv", _centreline_rows(route))
    write_csv(folder / "equations.csv", _equation_rows())
    write_csv(
        folder / "structures_revB.csv",
        _structure_rows(structures, revision="B", date="2026-02-09", changes={}),
    )
    write_csv(
        folder / "structures_revC.csv",
        _structure_rows(
            moved, revision="C", date="2026-05-11", changes={_MOVED[0]: "REV C: moved 8.00 ft ahead"}
        ),
    )
    write_xlsx(
        folder / "pole_schedule.xlsx",
        "Pole schedule",
        _pole_rows(structures, lengths={}, classes={}),
    )
    write_xlsx(
        folder / "pole_schedule_revC.xlsx",
        "Pole schedule",
        _pole_rows(moved, lengths=_LONGER, classes=_STRONGER),
    )
    write_csv(folder / "structure_types.csv", _type_rows())
    return structures
