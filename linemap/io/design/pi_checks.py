"""Deflections, bearings and distances of a PI list against its coordinates: findings, nothing is used."""

from __future__ import annotations

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


def compare_with_coordinates(ledger: Ledger, vertices: Vertices, combined_factor: float | None) -> None:
    """Note what the rows of one line say otherwise than its coordinates.

    Every finding names both values and how far they are apart.
    """
    east, north = vertices.centreline.easting, vertices.centreline.northing
    azimuth = azimuth_deg(np.diff(east), np.diff(north))
    length = np.hypot(np.diff(east), np.diff(north))
    # two rounded ends turn a short leg more than a long one
    loose = _SECONDS * ARC_SECOND + np.degrees(2.0 * _ROUNDED / length)
    _compare_turns(ledger, vertices, azimuth, loose)
    _compare_bearings(ledger, vertices, "bearing", azimuth, loose, first=0)
    _compare_bearings(ledger, vertices, "bearing_back", azimuth, loose, first=1)
    _compare_distances(ledger, vertices, length, combined_factor)


def _compare_turns(ledger: Ledger, vertices: Vertices, azimuth: FloatArray, loose: FloatArray) -> None:
    texts = dict(ledger.written("deflection"))
    turns = np.full(len(azimuth) + 1, np.nan)
    within = np.zeros(len(azimuth) + 1)
    if len(azimuth) > 1:
        turns[1:-1] = deflection_deg(azimuth[:-1], azimuth[1:])
        within[1:-1] = loose[:-1] + loose[1:]
    for place, index in enumerate(vertices.rows):
        words = compare_deflection(texts.get(index, ""), float(turns[place]), within_deg=float(within[place]))
        if words:
            ledger.note(index, "deflection", words)


def _compare_bearings(
    ledger: Ledger, vertices: Vertices, name: str, azimuth: FloatArray, loose: FloatArray, *, first: int
) -> None:
    """Compare a column of bearings; the leg of vertex i is leg i - `first`."""
    texts = dict(ledger.written(name))
    for place, index in enumerate(vertices.rows):
        leg = place - first
        known = 0 <= leg < len(azimuth)
        words = compare_bearing(
            texts.get(index, ""),
            float(azimuth[leg]) if known else float("nan"),
            within_deg=float(loose[leg]) if known else 0.0,
        )
        if words:
            ledger.note(index, name, words)


def _compare_distances(
    ledger: Ledger, vertices: Vertices, length: FloatArray, combined_factor: float | None
) -> None:
    numbers = ledger.sheet.numbers("distance")
    legs = [leg for leg, index in enumerate(vertices.rows[:-1]) if np.isfinite(numbers.values[index])]
    if not legs:
        return
    rows = [vertices.rows[leg] for leg in legs]
    written, grid = numbers.values[rows], length[legs]
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
