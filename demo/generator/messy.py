"""The same lists as they come in practice: damaged by spreadsheets, printed on pages, typed by several hands.

Every messy file means the same as its clean twin, so reading it must give the same structures, poles and
shots; what is wrong in it on purpose is named beside the code that plants it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import xlsxwriter
from messy_schedule import dated_number, write_schedule
from projection import to_longitude_latitude
from route import EQUATIONS, Route, format_deflection, format_station, station_at
from shots import Shot, SurveyFile, survey_shots
from structures import Structure
from tables import CREATED, Cell, write_csv

__all__ = ["JUNK_ROWS", "write_messy"]

#: Rows of the messy structure list that are no structure: two titles, two rows of headings again, a page
#: number, a subtotal, a structure struck through, one marked deleted, and a signature.
JUNK_ROWS = 9

#: Two rows were added later, in latitude and longitude.
_PASTED = ("17/4", "17/5")
#: These angles stand a row off, and one is packed degrees, minutes and seconds.
_ROW_OFF = "18/2"
_PACKED = "13/2"
_HIDDEN = ("8/1", "8/2")
_REMARKS = {
    "3/3": "move 12' AH per ROW 3/3 (done, coordinates are new)",
    "5/5": "guys on bisector, see G-3",
    "6/4": "SIDEHILL A low; see Dwg 14, arms BK side",
    "9/2": "HOLD - DWG REV",
    "18/6": "station occurs twice, region 2",
}
_HEADINGS = (
    ("Str", "Station", "Centre", "", "Structure", "Line", "Poles", "Pole", "Ahead", "Ground", "Remarks"),
    ("No", "", "Northing", "Easting", "Type", "Angle", "", "Spacing (ft)", "Span", "Elev", ""),
)
_WIDTH = len(_HEADINGS[0])

Row = tuple[Cell | date | None, ...]


def _station(structure: Structure) -> Cell:
    """Return a station as one of the ways it is written."""
    station, region = station_at(structure.true)
    if structure.number == "18/6":
        return f"{format_station(station)} (R{region})"
    text = format_station(station)
    whole = text.endswith(".00")
    ways: tuple[Cell, ...] = (
        text,
        text.removesuffix(".00"),
        f"{text} BK",
        f" {text.removesuffix('.00').replace('+', ' + ')}",
        round(station, 2) if whole else text,
    )
    return ways[structure.sequence % len(ways)]


def _centre(structure: Structure) -> tuple[Cell, Cell]:
    """Return northing and easting: numbers, texts with thousands marks, and two rows of degrees."""
    if structure.number in _PASTED:
        longitude, latitude = to_longitude_latitude(structure.northing, structure.easting)
        return round(latitude, 10), round(longitude, 10)
    if structure.sequence % 5 == 0:
        return f"{structure.northing:,.3f}", f" {structure.easting:,.3f}"
    return round(structure.northing, 3), round(structure.easting, 3)


def _angle(structure: Structure, before: Structure | None) -> str:
    if structure.number == _ROW_OFF:
        return ""
    if before is not None and before.number == _ROW_OFF:
        structure = before
    if structure.number == _PACKED:
        return format_deflection(structure.deflection, style="{d}.{m:02d}{s:02d} {side}")
    if not structure.deflection:
        return ("", "TANGENT", "0", "")[structure.sequence % 4]
    styles = ("{d}-{m:02d}-{s:02d} {side}T", "{d}°{m:02d}'{s:02d}\"{side}", "{side} {d} {m:02d} {s:02d}")
    return format_deflection(structure.deflection, style=styles[structure.sequence % 3])


def _sizes(structure: Structure) -> str:
    """Return the sizes of the poles in one cell: "75-2/70-2" for unequal legs, "75-1 (3)" for three poles."""
    sizes = [f"{pole.length}-{pole.pole_class}" for pole in structure.poles]
    if len(set(sizes)) > 1:
        return "/".join(sizes) + (" (3)" if len(sizes) == 3 else "")
    return sizes[0] + (" (3)" if len(sizes) == 3 else "")


def _spacing(structure: Structure) -> Cell:
    """Return a spacing in feet as number or with its mark, or in metres."""
    feet = structure.type_row.spacing
    return (feet, f"{feet:g}'", f"{feet * 0.3048:.4f}m")[structure.sequence % 3]


def _structure_row(structure: Structure, before: Structure | None) -> Row:
    ahead = structure.ahead_span
    return (
        dated_number(structure),
        _station(structure),
        *_centre(structure),
        structure.type_code,
        _angle(structure, before),
        _sizes(structure),
        _spacing(structure),
        None if ahead is None else round(ahead, 1),
        round(structure.ground, 2),
        _REMARKS.get(structure.number),
    )


def _said(column: int, text: str) -> Row:
    return tuple(text if index == column else None for index in range(_WIDTH))


def _structure_rows(structures: list[Structure]) -> Iterator[tuple[str, Row]]:
    """Give every row with what it is: "row", "struck" or "hidden"."""
    yield (
        "row",
        _said(0, "KETTLE & SPAR - BRINDLE GAP-AMBER SILL 115 kV     STRUCTURE LIST  REV B  2026-02-09"),
    )
    yield "row", _said(2, "grid coordinates, international feet")
    for heading in _HEADINGS:
        yield "row", tuple(text or None for text in heading)
    before = None
    for structure in structures:
        if before is not None and structure.mile != before.mile:
            yield "row", (None,) * _WIDTH
        if structure.number == "7/1":
            yield "row", _said(5, "MILE 6 SUBTOTAL")
        if structure.number == "12/1":
            yield "row", _said(8, "Sheet 3 of 7")
            for heading in _HEADINGS:
                yield "row", tuple(text or None for text in heading)
        yield "hidden" if structure.number in _HIDDEN else "row", _structure_row(structure, before)
        before = structure
        if structure.number == "15/3":
            yield "struck", ("15/3A", None, *_centre(structure), "H-TAN", *(None,) * 5, "not needed")
        if structure.number == "19/4":
            yield "row", ("19/4A", None, None, None, "DELETED", *(None,) * 6)
    yield "row", _said(0, "Approved: ____________________  PE")


def _write_structures(path: Path, structures: list[Structure]) -> None:
    with xlsxwriter.Workbook(str(path)) as book:
        book.set_properties({"title": "Structure list", "created": CREATED})
        page = book.add_worksheet("Rev B")
        shown = {
            (struck, dated): book.add_format(
                ({"font_strikeout": True} if struck else {}) | ({"num_format": "d-mmm"} if dated else {})
            )
            for struck in (False, True)
            for dated in (False, True)
        }
        rows = list(_structure_rows(structures))
        for number, (what, row) in enumerate(rows):
            for column, value in enumerate(row):
                look = shown[what == "struck", isinstance(value, date)]
                if isinstance(value, date):
                    page.write_datetime(number, column, value, look)
                elif value is not None:
                    page.write(number, column, value, look)
            if what == "hidden":
                page.set_row(number, None, None, {"hidden": True})
        page.autofilter(3, 0, len(rows) - 1, _WIDTH - 1)


def _pi_rows(route: Route) -> Iterator[tuple[Cell, ...]]:
    """Give the vertices with mixed ways of writing angles, and the equations as rows of their own.

    Planted: distances are ground though the coordinates are grid, one deflection is packed, one bearing
    is 4 seconds off, one vertex has no back station.
    """
    yield ("PI", "Sta Bk", "Sta Ah", "N", "E", "Delta", "Brg Ah", "Dist Ah", "Remarks")
    starts = [tangent.start for tangent in route.tangents]
    equations = list(EQUATIONS)
    jumped = 0.0
    for index, start in enumerate([*starts, route.length]):
        while equations and equations[0][0] < start:
            true, jump = equations.pop(0)
            back, jumped = true + jumped, jumped + jump
            yield ("EQ", f"{format_station(back)} BK", f"{format_station(true + jumped)} AH", *[""] * 6)
        last = index == len(starts)
        northing, easting = route.point(start)
        station = format_station(station_at(start)[0])
        yield (
            "POB" if index == 0 else "POE" if last else str(index),
            "" if index in {0, 2} else station,
            "" if last else station,
            f"{northing:.2f}",
            f"{easting:.2f}",
            _delta(route.deflection_at(start), index),
            "" if last else _bearing(route.tangents[index].azimuth + (4 / 3600 if index == 3 else 0), index),
            "" if last else f"{route.tangents[index].length:.2f}",
            "Brindle Gap terminal" if index == 0 else "",
        )


def _delta(deflection: float, index: int) -> str:
    styles = ("{d}°{m:02d}'{s:02d}\" {side}T", "{d}-{m:02d}-{s:02d} {side}T", "{side} {d} {m:02d} {s:02d}")
    if index == 5:
        return format_deflection(deflection, style="{d}.{m:02d}{s:02d} {side}")
    if index == 6:
        return f"{abs(deflection):.6f} {'R' if deflection > 0 else 'L'}"
    return format_deflection(deflection, style=styles[index % 3])


def _bearing(azimuth: float, index: int) -> str:
    """Write an azimuth east of north and below a right angle, or past it, as a quadrant bearing."""
    north = azimuth % 360.0 < 90.0
    total = round((azimuth % 360.0 if north else 180.0 - azimuth % 360.0) * 3600)
    d, m, s = total // 3600, total % 3600 // 60, total % 60
    shown = (f"{d}-{m:02d}-{s:02d}", f"{d}°{m:02d}'{s:02d}\"", f"{d} {m:02d} {s:02d}")[index % 3]
    return f"{'N' if north else 'S'} {shown} E"


def _shot_lines(days: list[tuple[SurveyFile, list[Shot]]]) -> Iterator[str]:
    """Give the shots of all days in one file, a day of them with easting first, numbers used again."""
    for file, shots in days:
        for number, shot in enumerate(shots, start=5001):
            plane = [f"{value * file.unit:.3f}" for value in (shot.northing, shot.easting)]
            if file.order == "PEN":
                plane.reverse()
            elevation = "" if number % 7 == 0 else f"{shot.elevation * file.unit:.3f}"
            described = shot.description.lower() if number % 3 == 0 else shot.description
            tail = (",,", " ; rod 6.56", "")[number % 3]
            yield ",".join([shot.name or str(number), *plane, elevation, described]) + tail


def write_messy(folder: Path, route: Route, structures: list[Structure], surveyed: list[Structure]) -> None:
    """Write the messy twins of the structure list, the centreline, the pole schedule and the shots."""
    folder.mkdir(parents=True, exist_ok=True)
    _write_structures(folder / "structure_list_revB.xlsx", structures)
    write_csv(folder / "pi_list.csv", _pi_rows(route))
    write_schedule(folder / "pole_schedule_messy.xlsx", structures)
    lines = list(_shot_lines(list(survey_shots(route, surveyed))))
    with (folder / "shots_raw.txt").open("w", encoding="utf-8-sig", newline="") as stream:
        stream.write("\r\n".join(lines) + "\r\n")
