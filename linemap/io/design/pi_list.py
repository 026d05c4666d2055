"""PI lists: vertices, station equations among them, and what else they say compared with the coordinates."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from linemap.domain.design.line import Centreline, StationEquation
from linemap.domain.design.structure import FloatArray
from linemap.geometry.bearing import azimuth_deg, deflection_deg
from linemap.geometry.projection import Projection
from linemap.geometry.station import parse_station
from linemap.io.cells.angles import ARC_SECOND, compare_bearing, compare_deflection
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.sheet import sheet_of
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.centreline import Vertices, is_drawn, read_drawn, read_vertices
from linemap.units import LengthUnit

#: Coordinates are written to 0.01 or 0.005; bearings to a second.
_ROUNDED = 0.01
_SECONDS = 2.0
#: Distances agree with the coordinates within this, beside the rounding of both.
_DISTANCE = 0.03
#: Grid and ground differ by less than this anywhere people live; share of the length.
_LARGEST_PPM = 2_000e-6


def compare_with_coordinates(
    ledger: Ledger, lines: Iterable[Vertices], combined_factor: float | None
) -> None:
    """Note what the rows of lines say otherwise than their coordinates.

    Every finding names both values and how far they are apart.
    """
    written = {name: dict(ledger.written(name)) for name in ("deflection", "bearing", "bearing_back")}
    distances = ledger.sheet.numbers("distance").values
    for vertices in lines:
        _compare(ledger, vertices, written, distances, combined_factor)


def _compare(
    ledger: Ledger,
    vertices: Vertices,
    written: Mapping[str, Mapping[int, str]],
    distances: FloatArray,
    combined_factor: float | None,
) -> None:
    east, north = vertices.centreline.easting, vertices.centreline.northing
    azimuth = azimuth_deg(np.diff(east), np.diff(north))
    length = np.hypot(np.diff(east), np.diff(north))
    # two rounded ends turn a short leg more than a long one
    loose = _SECONDS * ARC_SECOND + np.degrees(2.0 * _ROUNDED / length)
    _compare_turns(ledger, vertices, written["deflection"], azimuth, loose)
    for first, name in enumerate(("bearing", "bearing_back")):
        for index, words in _bearings(vertices, written[name], azimuth, loose, first=first):
            ledger.note(index, name, words)
    _compare_distances(ledger, vertices, distances, length, combined_factor)


def _compare_turns(
    ledger: Ledger, vertices: Vertices, texts: Mapping[int, str], azimuth: FloatArray, loose: FloatArray
) -> None:
    turns = np.full(len(azimuth) + 1, np.nan)
    within = np.zeros(len(azimuth) + 1)
    if len(azimuth) > 1:
        turns[1:-1] = deflection_deg(azimuth[:-1], azimuth[1:])
        within[1:-1] = loose[:-1] + loose[1:]
    for place, index in _filled(vertices, texts):
        words = compare_deflection(texts[index], float(turns[place]), within_deg=float(within[place]))
        if words:
            ledger.note(index, "deflection", words)


def _bearings(
    vertices: Vertices, texts: Mapping[int, str], azimuth: FloatArray, loose: FloatArray, *, first: int
) -> Iterator[tuple[int, str]]:
    """Compare a column of bearings; the leg of vertex i is leg i - `first`. Gives row index and words."""
    for place, index in _filled(vertices, texts):
        leg = place - first
        known = 0 <= leg < len(azimuth)
        words = compare_bearing(
            texts[index],
            float(azimuth[leg]) if known else float("nan"),
            within_deg=float(loose[leg]) if known else 0.0,
        )
        if words:
            yield index, words


def _filled(vertices: Vertices, texts: Mapping[int, str]) -> list[tuple[int, int]]:
    """Return place and row index of the vertices that have a text."""
    return [(place, index) for place, index in enumerate(vertices.rows) if index in texts]


def _compare_distances(
    ledger: Ledger,
    vertices: Vertices,
    distances: FloatArray,
    length: FloatArray,
    combined_factor: float | None,
) -> None:
    legs = [leg for leg, index in enumerate(vertices.rows[:-1]) if np.isfinite(distances[index])]
    if not legs:
        return
    rows = [vertices.rows[leg] for leg in legs]
    written, grid = distances[rows], length[legs]
    ratio = grid / np.where(written == 0.0, np.nan, written)
    factor = float(np.nanmedian(ratio)) if np.isfinite(ratio).any() else 1.0
    if abs(factor - 1.0) > _LARGEST_PPM:
        factor = 1.0
    _note_kind(ledger, rows, factor, combined_factor)
    for index, said, by_grid in zip(rows, written.tolist(), (grid / factor).tolist(), strict=True):
        if abs(said - by_grid) > _DISTANCE + 5e-6 * by_grid:
            reason = f"says {said:,.2f}, the coordinates say {by_grid:,.2f}: {said - by_grid:+,.2f}"
            ledger.note(index, "distance", reason)


def _note_kind(ledger: Ledger, rows: list[int], factor: float, combined_factor: float | None) -> None:
    """Say whether the distances are grid or ground, which lists seldom do."""
    if abs(factor - 1.0) <= 5e-6:
        return
    known = "" if combined_factor is None else f"; the declared factor is {combined_factor:.6f}"
    reason = f"distances are ground: grid / distance = {factor:.6f} on {len(rows)} legs{known}"
    ledger.note(rows[0], "distance", reason)


_EQUATION = re.compile(r"(?:STA(?:TION)?\.?\s*)?EQ", re.IGNORECASE)
_STATION = r"(?:STA\.?\s*)?\d+\s*\+\s*\d+(?:\.\d+)?"
_TWO = re.compile(
    rf"(?P<first>{_STATION})\s*(?P<one>BK|BACK|AH|AHEAD)?\.?\s*=\s*(?P<second>{_STATION})\s*(?P<two>BK|BACK|AH|AHEAD)?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PiList:
    """What a PI list holds."""

    #: Line name -> its centreline, in order of appearance.
    centrelines: Mapping[str, Centreline]
    #: In the order of the rows.
    equations: tuple[StationEquation, ...] = ()


def equation_in_text(text: str, *, unit: LengthUnit) -> tuple[float, float] | None:
    """Read "470+00.00 BK = 473+84.50 AH" out of a text: back and ahead station; None when it holds none.

    The words BK and AH go before the order; without them the first station is the back one.

    >>> equation_in_text("EQ 473+84.50 AH = 470+00.00 BK", unit=LengthUnit.FOOT)
    (47000.0, 47384.5)
    """
    match = _TWO.search(text)
    if match is None:
        return None
    try:
        stations = [parse_station(match[name], per_plus=unit.per_plus).value for name in ("first", "second")]
    except ValueError:
        return None
    turned = (match["one"] or "B").upper().startswith("A") or (match["two"] or "A").upper().startswith("B")
    return (stations[1], stations[0]) if turned else (stations[0], stations[1])


def read_pi_list(
    table: RawTable,
    *,
    projection: Projection,
    line_default: str = "",
    combined_factor: float | None = None,
) -> Loaded[PiList]:
    """Read a PI list: its vertices, and the station equations in rows of their own or at vertices.

    Deflections, bearings and distances are compared with the coordinates and noted where they disagree or
    can be read two ways; only the coordinates are used. Lines of a vector file have no equations. The
    combined factor (grid = ground x factor; None = not declared) tells whether the distances are ground.

    Raises
    ------
    InputRefused
        As `read_centrelines`, and for equation rows whose stations cannot be read.
    """
    ledger = Ledger(sheet_of(table, "centreline"))
    if is_drawn(table):
        return ledger.finish(PiList(centrelines=read_drawn(ledger, projection, line_default)))
    columns = (ledger.sheet.texts(name) for name in ("station_back", "station_ahead"))
    stations = list(zip(*columns, strict=True))
    equations = _equations(ledger, stations, projection.unit)
    ledger.set_aside(equations)
    lines = read_vertices(ledger, projection, line_default)
    ledger.check()
    at_vertices = _at_vertices(ledger, lines, stations, projection.unit)
    compare_with_coordinates(ledger, lines.values(), combined_factor)
    return ledger.finish(
        PiList(
            centrelines={line: vertices.centreline for line, vertices in lines.items()},
            equations=_in_order(ledger, lines, equations, at_vertices, line_default),
        )
    )


def _equations(
    ledger: Ledger, stations: Sequence[tuple[str, str]], unit: LengthUnit
) -> dict[int, tuple[float, float]]:
    """Return row index -> (back, ahead) of the rows that are nothing but a station equation."""
    sheet = ledger.sheet
    names, remarks = sheet.texts("name"), sheet.texts("remarks")
    easting, longitude = sheet.texts("easting"), sheet.texts("longitude")
    found: dict[int, tuple[float, float]] = {}
    for index, name in enumerate(names):
        written = " ".join([name, remarks[index]])
        if easting[index] or longitude[index] or not (_EQUATION.match(name) or _TWO.search(written)):
            continue
        pair = _pair(stations[index], unit) or equation_in_text(written, unit=unit)
        if pair is None:
            reason = "a station equation whose two stations cannot be read"
            ledger.refuse(index, "name", reason, "write it like 470+00.00 BK = 473+84.50 AH")
        else:
            found[index] = pair
    return found


def _pair(texts: tuple[str, str], unit: LengthUnit) -> tuple[float, float] | None:
    """Return the two stations of a row by its columns, turned when they say so; None when one is missing."""
    try:
        back, ahead = (parse_station(text, per_plus=unit.per_plus) for text in texts)
    except ValueError:
        return equation_in_text(" = ".join(texts), unit=unit) or equation_in_text(" ".join(texts), unit=unit)
    turned = back.side == "ahead" or ahead.side == "back"
    return (ahead.value, back.value) if turned else (back.value, ahead.value)


def _in_order(
    ledger: Ledger,
    lines: Mapping[str, Vertices],
    equations: Mapping[int, tuple[float, float]],
    at_vertices: Mapping[int, tuple[str, tuple[float, float]]],
    line_default: str,
) -> tuple[StationEquation, ...]:
    """Gather the equations in the order of the rows."""
    named = ledger.sheet.texts("line", missing=line_default)
    only = next(iter(lines))
    found = {index: (named[index] or only, pair) for index, pair in equations.items()} | dict(at_vertices)
    return tuple(
        StationEquation(line=line, back=back, ahead=ahead)
        for _, (line, (back, ahead)) in sorted(found.items())
    )


def _at_vertices(
    ledger: Ledger,
    lines: Mapping[str, Vertices],
    stations: Sequence[tuple[str, str]],
    unit: LengthUnit,
) -> dict[int, tuple[str, tuple[float, float]]]:
    """Return row index -> line and equation of the vertices whose two stations differ."""
    found = {}
    for line, vertices in lines.items():
        for index in vertices.rows:
            pair = _pair(stations[index], unit) if all(stations[index]) else None
            if pair is not None and pair[0] != pair[1]:
                found[index] = (line, pair)
                ledger.note(
                    index, "station_back", "the two stations differ: a station equation at the vertex"
                )
    return found
