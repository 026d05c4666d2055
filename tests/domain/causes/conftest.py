"""A small line with an angle, and its survey in one file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from linemap.domain.design.figures import Figures
from linemap.domain.survey.shot import Shot


@pytest.fixture
def bent(build: Callable[..., Figures]) -> Figures:
    """A line that turns 30° right at its third structure."""
    return build(azimuth_deg=40.0, turn_deg=30.0, factor=0.9992)


@pytest.fixture
def survey(shoot: Callable[..., list[Shot]]) -> Callable[..., list[Shot]]:
    """Shoot all structures as set, in one file; `faults` says what is wrong at which row."""

    def shoot_all(figures: Figures, *, file: str = "may.csv", **faults: dict[str, Any]) -> list[Shot]:
        shots = []
        for row in range(len(figures)):
            shots += shoot(figures, row, **faults.get(f"row{row}", {}))
        return [replace(shot, file=file, row=i + 1, point=str(i + 1)) for i, shot in enumerate(shots)]

    return shoot_all
