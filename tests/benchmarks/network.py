"""Synthetic networks for the benchmarks: routes of straight legs, structures near them in order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from linemap.domain.design.line import Centreline, Line
from linemap.domain.design.structure import Structures
from linemap.geometry.station import Stationing
from linemap.units import LengthUnit

FACTOR = 0.9995


@dataclass(frozen=True, slots=True, kw_only=True)
class Synthetic:
    """Lines, their structures and surveyed poles."""

    lines: list[Line]
    structures: Structures
    set_poles: NDArray[np.float64]


def synthetic(count: int, routes: int, vertices: int, *, seed: int = 1) -> Synthetic:
    """Make `routes` lines of `vertices` vertices with `count` structures in all, in EPSG:6515."""
    rng = np.random.default_rng(seed)
    per_route = count // routes
    lines, east, north, azimuth = [], [], [], []
    for route in range(routes):
        turn = np.radians(rng.uniform(-6.0, 6.0, vertices - 1)).cumsum() + rng.uniform(0.0, 2.0 * np.pi)
        leg = rng.uniform(0.5, 1.5, vertices - 1) * (per_route * 900.0 / (vertices - 1))
        start = rng.uniform([1_800_000.0, 500_000.0], [2_400_000.0, 1_100_000.0])
        steps = np.column_stack([np.sin(turn), np.cos(turn)]) * leg[:, np.newaxis]
        points = np.vstack([start, start + steps.cumsum(axis=0)])
        lines.append(
            Line(
                name=f"R{route}",
                crs="EPSG:6515",
                unit=LengthUnit.FOOT,
                centreline=Centreline.from_points(points),
                combined_factor=FACTOR,
                stationing=Stationing(),
            )
        )
        reached = np.concatenate([[0.0], leg.cumsum()])
        at = np.linspace(0.0, reached[-1], per_route) + rng.uniform(-40.0, 40.0, per_route)
        at = np.sort(at.clip(0.0, reached[-1]))
        on = np.clip(np.searchsorted(reached, at, side="right") - 1, 0, vertices - 2)
        ahead = (at - reached[on])[:, np.newaxis] * np.column_stack([np.sin(turn[on]), np.cos(turn[on])])
        centre = points[on] + ahead + rng.normal(0.0, 0.05, (per_route, 2))
        east.append(centre[:, 0])
        north.append(centre[:, 1])
        azimuth.append(turn[on])
    size = per_route * routes
    structures = Structures.from_columns(
        line=np.repeat([line.name for line in lines], per_route).tolist(),
        number=[str(index + 1) for index in range(size)],
        easting=np.concatenate(east),
        northing=np.concatenate(north),
        spacing=np.full(size, 12.5),
        section_break=rng.random(size) < 0.05,
    )
    return Synthetic(
        lines=lines, structures=structures, set_poles=_set_poles(structures, np.concatenate(azimuth), rng)
    )


def _set_poles(
    structures: Structures, azimuth: NDArray[np.float64], rng: np.random.Generator
) -> NDArray[np.float64]:
    """Poles square to the line, A left, each shot with 0.03 ft per axis."""
    arm = np.column_stack([np.cos(azimuth), -np.sin(azimuth)]) * (12.5 * FACTOR / 2.0)
    centre = np.column_stack([structures.easting, structures.northing])
    poles = np.full((len(structures), 3, 2), np.nan)
    poles[:, 0] = centre - arm + rng.normal(0.0, 0.03, arm.shape)
    poles[:, 1] = centre + arm + rng.normal(0.0, 0.03, arm.shape)
    return poles
