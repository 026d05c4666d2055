"""The staking table: set-ups, proofs and stakes of structures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class StakedPoint:
    """One stake with its number in the point file, its circle reading and its distance."""

    point: str
    kind: str
    pole: str
    description: str
    northing: float
    easting: float
    elevation: float | None
    circle_text: str
    distance_text: str


@dataclass(frozen=True, kw_only=True)
class StakedStructure:
    """One structure with its set-up, the proof of it, and its stakes; "" where there is no neighbour."""

    line: str
    structure: str
    station_text: str
    deflection_text: str
    northing: float
    easting: float
    ground_text: str
    #: By pole letter, only what is known.
    pole_ground_text: Mapping[str, str]
    #: What is to stand here: type, poles, and how the ground lies across.
    kind_text: str
    backsight: str
    backsight_way: str
    backsight_bearing_text: str
    #: "" unless a day was given.
    backsight_magnetic_text: str
    backsight_distance_text: str
    check: str
    check_circle_text: str
    check_distance_text: str
    points: Sequence[StakedPoint]
    notes: Sequence[str]
    holds: Sequence[str]
    caution: str
