"""A small line to stake and shoot on, shared by the tests of shots, checks and words."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest

from linemap.domain.design.compute_figures import figures
from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Centreline, Line, PoleASide
from linemap.domain.design.structure import FloatArray, Structures
from linemap.domain.survey.shot import Shot
from linemap.geometry.projection import Projection
from linemap.geometry.station import Stationing
from linemap.units import LengthUnit

EAST, NORTH, SPAN = 2_250_000.0, 900_000.0, 1_000.0
NUMBERS = ("1/1", "1/2", "1/3", "2/1", "2/2")
ANGLE_ROW = 2


def step(point: tuple[float, float], azimuth_deg: float, distance: float) -> tuple[float, float]:
    angle = math.radians(azimuth_deg)
    return point[0] + distance * math.sin(angle), point[1] + distance * math.cos(angle)


@pytest.fixture(scope="session")
def build() -> Callable[..., Figures]:
    """Build the figures of five structures 1,000 apart; the line turns at the third by `turn_deg`."""
    projection = Projection.from_text("EPSG:6515")

    def build_figures(
        *,
        azimuth_deg: float = 0.0,
        turn_deg: float = 0.0,
        factor: float = 1.0,
        pole_a: PoleASide = "left",
        spacing: float = 12.5,
        pole_count: int = 2,
        section_break: bool = False,
        names: Sequence[str] = ("North",),
        unit: LengthUnit = LengthUnit.FOOT,
    ) -> Figures:
        points = [(EAST, NORTH)]
        for row in range(1, len(NUMBERS)):
            ahead = azimuth_deg + (turn_deg if row > ANGLE_ROW else 0.0)
            points.append(step(points[-1], ahead, SPAN * factor))
        lines = [
            Line(
                name=name,
                crs="EPSG:6515",
                unit=unit,
                centreline=Centreline(
                    easting=_array([p[0] + 5_000.0 * i for p in points]),
                    northing=_array([p[1] for p in points]),
                ),
                back_end="Ford Yard",
                ahead_end="Amber Sill",
                combined_factor=factor,
                stationing=Stationing(),
                pole_a=pole_a,
            )
            for i, name in enumerate(names)
        ]
        structures = Structures.from_columns(
            line=[name for name in names for _ in NUMBERS],
            number=NUMBERS * len(names),
            easting=[p[0] + 5_000.0 * i for i in range(len(names)) for p in points],
            northing=[p[1] for _ in names for p in points],
            spacing=[spacing] * len(NUMBERS) * len(names),
            pole_count=[pole_count] * len(NUMBERS) * len(names),
            section_break=[section_break] * len(NUMBERS) * len(names),
        )
        return figures(lines, structures, projection=projection)

    return build_figures


@pytest.fixture(scope="session")
def north(build: Callable[..., Figures]) -> Figures:
    """A straight line due north, two poles 12.5 apart, grid = ground."""
    return build()


@pytest.fixture(scope="session")
def shoot() -> Callable[..., list[Shot]]:
    """Shoot the poles of one structure as if its frame had been set with the residuals given."""

    def shoot_frame(
        figures: Figures,
        row: int,
        *,
        rotation_deg: float = 0.0,
        along: float = 0.0,
        across: float = 0.0,
        spacing_error: float = 0.0,
        swapped: bool = False,
        letters: str = "",
        sigma: float | None = None,
    ) -> list[Shot]:
        factor = float(figures.combined_factor[row])
        azimuth = float(figures.structure_azimuth_deg[row])
        structures = figures.structures
        centre = (float(structures.easting[row]), float(structures.northing[row]))
        centre = step(step(centre, azimuth, along * factor), azimuth + 90.0, across * factor)
        count = int(structures.pole_count[row])
        gap = (float(structures.spacing[row]) + spacing_error) * factor
        right = [(pole - (count - 1) / 2.0) * gap for pole in range(count)]
        if (not figures.a_left[row]) != swapped:
            right.reverse()
        return [
            Shot(
                point=str(5001 + pole),
                easting=at[0],
                northing=at[1],
                structure=structures.number[row],
                pole="ABC"[pole],
                item="pole",
                line=structures.line[row],
                sigma=sigma,
            )
            for pole, distance in enumerate(right)
            if not letters or "ABC"[pole] in letters
            for at in [step(centre, azimuth + 90.0 + rotation_deg, distance)]
        ]

    return shoot_frame


def _array(values: list[float]) -> FloatArray:
    return np.asarray(values, dtype=np.float64)
