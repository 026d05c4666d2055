"""Deflections, bearings and distances of a PI list against its coordinates: findings, nothing is used."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from linemap.domain.design.structure import FloatArray
from linemap.geometry.bearing import azimuth_deg, deflection_deg
from linemap.io.cells.angles import ARC_SECOND, compare_bearing, compare_deflection
from linemap.io.cells.sheet import Ledger
from linemap.io.design.centreline import Vertices

__all__ = ["compare_with_coordinates"]

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
