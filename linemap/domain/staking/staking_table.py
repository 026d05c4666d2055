"""The staking table: from where each stake of a structure is turned, and how far out it stands.

The instrument stands over the centre hub and sights the back structure with the horizontal circle at 0; every
stake is then a clockwise reading and a ground distance. The ahead structure, turned the same way, proves the
set-up before anything is staked.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from linemap.domain.design.figures import Figures
from linemap.domain.staking.stakeout import StakePoint
from linemap.geometry.bearing import azimuth_deg, wrap360


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnedPoint:
    """One stake as it is turned off and measured out."""

    stake: StakePoint
    #: Horizontal circle reading, degrees clockwise from the backsight; None for the hub stood on.
    circle_deg: float | None
    #: Horizontal ground distance from the centre hub.
    distance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """Where the instrument sights to."""

    #: Structure sighted with the circle at 0; the ahead one at a line's first structure, "" = none.
    backsight: str = ""
    #: "back" or "ahead": which neighbour that is; "" = none.
    backsight_way: str = ""
    #: Grid azimuth to it; nan = none.
    backsight_azimuth_deg: float = math.nan
    backsight_distance: float = math.nan
    #: The other neighbour, its circle reading and distance, to prove the set-up; "" = none.
    check: str = ""
    check_circle_deg: float = math.nan
    check_distance: float = math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class StakingRow:
    """What a party chief sets out at the structure of a row."""

    row: int
    set_up: SetUp
    points: tuple[TurnedPoint, ...]

    @property
    def grounds(self) -> dict[str, float]:
        """Ground elevations by pole letter, "" = the centre; only those that are known."""
        hubs = (point.stake for point in self.points if point.stake.kind in {"centre", "pole"})
        return {stake.pole: stake.elevation for stake in hubs if stake.elevation is not None}


def staking_rows(figures: Figures, stakes: Iterable[StakePoint]) -> tuple[StakingRow, ...]:
    """Arrange stakes by structure in line order, with the set-up over each centre hub."""
    by_row: dict[int, list[StakePoint]] = {}
    for stake in stakes:
        by_row.setdefault(stake.row, []).append(stake)
    rows = []
    for row in sorted(by_row):
        set_up = _set_up(figures, row)
        points = tuple(_turned(figures, stake, set_up) for stake in by_row[row])
        rows.append(StakingRow(row=row, set_up=set_up, points=points))
    return tuple(rows)


def format_circle(circle_deg: float | None) -> str:
    r"""Print a circle reading to the second, as instruments show it: 0-00-00 to 359-59-59.

    A reading that rounds up to a full turn is 0-00-00; None and nan are "".

    >>> format_circle(186.4708), format_circle(359.99999), format_circle(None)
    ('186-28-15', '0-00-00', '')
    """
    if circle_deg is None or math.isnan(circle_deg):
        return ""
    seconds = round(circle_deg * 3600.0) % (360 * 3600)
    return f"{seconds // 3600}-{seconds // 60 % 60:02d}-{seconds % 60:02d}"


def _set_up(figures: Figures, row: int) -> SetUp:
    back, ahead = figures.neighbour(row, -1), figures.neighbour(row, 1)
    sight, way = (ahead, "ahead") if back is None else (back, "back")
    if sight is None:
        return SetUp()
    azimuth, distance = _polar(figures, row, *figures.centre_of(sight))
    found = SetUp(
        backsight=figures.structures.number[sight],
        backsight_way=way,
        backsight_azimuth_deg=azimuth,
        backsight_distance=distance,
    )
    if sight == ahead or ahead is None:
        return found
    check_azimuth, check_distance = _polar(figures, row, *figures.centre_of(ahead))
    return replace(
        found,
        check=figures.structures.number[ahead],
        check_circle_deg=wrap360(check_azimuth - azimuth),
        check_distance=check_distance,
    )


def _polar(figures: Figures, row: int, easting: float, northing: float) -> tuple[float, float]:
    """Grid azimuth and ground distance from the centre of a structure."""
    here = figures.centre_of(row)
    east, north = easting - here[0], northing - here[1]
    return azimuth_deg(east, north), math.hypot(east, north) / float(figures.combined_factor[row])


def _turned(figures: Figures, stake: StakePoint, set_up: SetUp) -> TurnedPoint:
    azimuth, distance = _polar(figures, stake.row, stake.easting, stake.northing)
    # the hub stood on, and pole B of three which shares its place, have no direction
    here = distance < 0.01 or math.isnan(set_up.backsight_azimuth_deg)
    circle = None if here else wrap360(azimuth - set_up.backsight_azimuth_deg)
    return TurnedPoint(stake=stake, circle_deg=circle, distance=0.0 if distance < 0.01 else distance)
