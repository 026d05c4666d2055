"""The staking table on paper: set-up, proof and every stake of each structure, with room to tick it off."""

from __future__ import annotations

from collections.abc import Iterable

from linemap.answers.staking import StakedPoint, StakedStructure
from linemap.report.flow import Block, Column, Grid, Words, flow_pdf
from linemap.report.paper import PORTRAIT, Paper, TitleBlock

__all__ = ["staking_pdf"]

_COLUMNS = (
    Column(name="point", share=0.7),
    Column(name="stake", share=1.9),
    Column(name="circle right", share=1.1, right=True),
    Column(name="distance", share=1.1, right=True),
    Column(name="N grid", share=1.4, right=True),
    Column(name="E grid", share=1.4, right=True),
    Column(name="ground", share=1.0, right=True),
    Column(name="staked, by, check", share=2.0),
)


def staking_pdf(
    title_block: TitleBlock, structures: Iterable[StakedStructure], *, paper: Paper = "letter"
) -> bytes:
    """Return the staking table, each structure together.

    Parameters
    ----------
    title_block : TitleBlock
    structures : iterable of StakedStructure
    paper : {"letter", "a4"}
    """
    return flow_pdf(title_block, map(_block, structures), size=PORTRAIT[paper])


def _block(entry: StakedStructure) -> Block:
    turn = f", {entry.deflection_text}" if entry.deflection_text else ""
    head = f"{entry.structure}   {entry.station_text}{turn}"
    words = [entry.kind_text, _set_up(entry), *(f"note: {note}" for note in entry.notes)]
    words += [f"HOLD: {hold}" for hold in entry.holds]
    return Block(
        parts=(
            Words(text=head, size=10.0, bold=True),
            *(Words(text=text) for text in words if text),
            Grid(columns=_COLUMNS, rows=tuple(_row(point) for point in entry.points)),
        )
    )


def _set_up(entry: StakedStructure) -> str:
    if not entry.backsight:
        return "not available: no neighbour to sight"
    magnetic = f", {entry.backsight_magnetic_text}" if entry.backsight_magnetic_text else ""
    sight = (
        f"over the centre hub, circle 0 on {entry.backsight} ({entry.backsight_way}): "
        f"{entry.backsight_bearing_text}{magnetic}, {entry.backsight_distance_text}"
    )
    if not entry.check:
        return sight
    return f"{sight}; proof {entry.check} at {entry.check_circle_text}, {entry.check_distance_text}"


def _row(point: StakedPoint) -> tuple[str, ...]:
    ground = "" if point.elevation is None else f"{point.elevation:.2f}"
    return (
        point.point,
        point.description,
        point.circle_text,
        point.distance_text,
        f"{point.northing:.3f}",
        f"{point.easting:.3f}",
        ground,
        "",
    )
