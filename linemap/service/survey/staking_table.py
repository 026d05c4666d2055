"""The staking table of a job: where the instrument stands, what it sights, and every stake of a structure."""

from __future__ import annotations

import datetime as dt
import math
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np

from linemap.answers.staking import StakedPoint, StakedStructure
from linemap.domain.crew_check.tape_sets import unguarded
from linemap.domain.design.line import Line
from linemap.domain.finding.finding import Finding
from linemap.domain.staking.stakeout import StakePlan, StakePoint
from linemap.domain.staking.staking_table import StakingRow, TurnedPoint, format_circle, staking_rows
from linemap.geometry.bearing import format_bearing, format_deflection
from linemap.geometry.magnetic import Declination, format_magnetic
from linemap.io.output.write import write_table
from linemap.service.survey.stakeout import (
    anchors_of_job,
    points_of_job,
    surviving_words,
    withheld_stakes,
    write_point_file,
)
from linemap.service.view.view import CAUTION, JobView

_OF_STRUCTURE = (
    "line",
    "structure",
    "station_text",
    "deflection_text",
    "ground_text",
    "backsight",
    "backsight_bearing_text",
    "backsight_magnetic_text",
    "backsight_distance_text",
    "check",
    "check_circle_text",
    "check_distance_text",
)
_OF_POINT = tuple(field.name for field in fields(StakedPoint))


def staking_table(
    view: JobView,
    *,
    rows: Sequence[int] | None = None,
    plan: StakePlan | None = None,
    compass_on: dt.date | None = None,
) -> list[StakedStructure]:
    """Return the staking table of structures, for a sheet or a file; points are those of `points_of_job`.

    Magnetic bearings of the backsights are given for a day alone; `ValueError` when the model does not hold
    then.
    """
    numbered = points_of_job(view, rows=rows, plan=plan)
    number_of = {stake: number for number, stake in numbered}
    table = staking_rows(view.figures, (stake for _, stake in numbered))
    norths = _declinations(view, compass_on)
    _, findings = anchors_of_job(view, rows)
    findings = (*findings, *withheld_stakes(view, rows))
    lost = unguarded(view.figures, [stake for _, stake in numbered])
    staked = [_row(view, entry, number_of, norths, findings) for entry in table]
    return [
        replace(one, notes=[*one.notes, surviving_words(view, lost[entry.row])]) if entry.row in lost else one
        for one, entry in zip(staked, table, strict=True)
    ]


def write_staking_table(
    view: JobView,
    path: Path,
    *,
    rows: Sequence[int] | None = None,
    plan: StakePlan | None = None,
    compass_on: dt.date | None = None,
) -> None:
    """Write the staking table of structures to a .xlsx or .csv file, one row a point."""
    entries = staking_table(view, rows=rows, plan=plan, compass_on=compass_on)
    flat = [(entry, point) for entry in entries for point in entry.points]
    columns = {
        **{name: _column([getattr(entry, name) for entry, _ in flat]) for name in _OF_STRUCTURE},
        **{name: _column([getattr(point, name) for _, point in flat]) for name in _OF_POINT},
        "notes": _column(["; ".join([*entry.notes, *entry.holds]) for entry, _ in flat]),
        "caution": _column([entry.caution for entry, _ in flat]),
    }
    note = f"unit {view.projection.unit.word}"
    write_table(columns, path, title="staking", length_note=note, source=view.source)


def stakeout_bytes(
    view: JobView,
    form: Literal["csv", "xlsx"],
    *,
    rows: Sequence[int],
    plan: StakePlan,
    order: str = "pnezd",
) -> bytes:
    """Return the point file (csv) or the staking table (xlsx) of some structures."""
    with tempfile.TemporaryDirectory(prefix="linemap-") as folder:
        out = Path(folder) / f"stakeout.{form}"
        if form == "csv":
            write_point_file(view, out, order=order, rows=rows, plan=plan)
        else:
            write_staking_table(view, out, rows=rows, plan=plan)
        return out.read_bytes()


def _column(values: list[Any]) -> Any:
    column = np.empty(len(values), dtype=object)
    column[:] = values
    return column


def _declinations(view: JobView, on: dt.date | None) -> dict[int, Declination]:
    """Return one declination a line, of the middle of its structures."""
    if on is None:
        return {}
    figures = view.figures
    middles = {}
    for index in range(len(figures.lines)):
        mine = np.flatnonzero(figures.line_index == index)
        if mine.size:
            row = int(mine[mine.size // 2])
            middles[index] = Declination.at(
                float(figures.longitude[row]), float(figures.latitude[row]), on=on
            )
    return middles


def _row(
    view: JobView,
    entry: StakingRow,
    number_of: dict[StakePoint, str],
    norths: dict[int, Declination],
    findings: Sequence[Finding],
) -> StakedStructure:
    figures, row, set_up, grounds = view.figures, entry.row, entry.set_up, entry.grounds
    centre = grounds.pop("", math.nan)
    index, (name, number) = int(figures.line_index[row]), view.key(row)
    line, turn = figures.lines[index], float(figures.deflection_deg[row])
    magnetic = ""
    if index in norths and set_up.backsight:
        convergence = float(figures.convergence_deg[row])
        azimuth = norths[index].magnetic_of_grid_deg(
            set_up.backsight_azimuth_deg, convergence_deg=convergence
        )
        magnetic = format_magnetic(azimuth, norths[index])
    return StakedStructure(
        line=name,
        structure=number,
        station_text=line.station_text(float(figures.station[row]), region=int(figures.station_region[row])),
        deflection_text=format_deflection(turn) if turn else "",
        northing=round(float(figures.structures.northing[row]), 3),
        easting=round(float(figures.structures.easting[row]), 3),
        ground_text=_length(centre, line),
        pole_ground_text={letter: _length(value, line) for letter, value in grounds.items()},
        kind_text=_kind(view, row, grounds, line),
        backsight=set_up.backsight,
        backsight_way=set_up.backsight_way,
        backsight_bearing_text=f"{format_bearing(set_up.backsight_azimuth_deg)} grid"
        if set_up.backsight
        else "",
        backsight_magnetic_text=magnetic,
        backsight_distance_text=_length(set_up.backsight_distance, line),
        check=set_up.check,
        check_circle_text=format_circle(set_up.check_circle_deg),
        check_distance_text=_length(set_up.check_distance, line),
        points=[_point(point, number_of[point.stake], line) for point in entry.points],
        notes=[
            replace(one, called=figures.called(row)).words
            for one in findings
            if (one.line, one.structure) == (name, number)
        ],
        holds=[hold.sentence() for hold in view.holds_by_row.get(row, [])],
        caution=CAUTION,
    )


def _kind(view: JobView, row: int, grounds: Mapping[str, float], line: Line) -> str:
    """Say what is to stand here: type, poles, and how the ground lies across; what goes on the lath."""
    code, called = str(view.figures.structures.type_code[row]), view.figures.called(row)
    poles = view.poles_by_structure.get(view.key(row), ())
    sizes = ", ".join(
        f"{called[pole.letter]} {pole.length_ft:g} ft"
        + (f" class {pole.pole_class}" if pole.pole_class else "")
        for pole in sorted(poles, key=lambda pole: pole.letter)
        if pole.length_ft is not None
    )
    first, base = next(iter(grounds.items()), ("", 0.0))
    ground = [
        f"ground at {called[letter]} {_length(abs(rise), line)} {_above(rise)} {called[first]}"
        for letter, value in grounds.items()
        if (rise := value - base) or letter != first
    ]
    return "; ".join(filter(None, (f"type {code}" if code else "", sizes, *ground, _on_stakes(view, row))))


def _on_stakes(view: JobView, row: int) -> str:
    """Say by which letters stakes name the poles; "" where the owner names them so too."""
    called = view.figures.called(row)
    named = (f"{called[letter]} is {letter}" for letter in view.figures.letters_of(row))
    return "" if view.naming.poles.is_plain else f"on stakes {', '.join(named)}"


def _above(rise: float) -> str:
    return "above" if rise > 0.0 else "below"


def _point(point: TurnedPoint, number: str, line: Line) -> StakedPoint:
    stake = point.stake
    return StakedPoint(
        point=number,
        kind=stake.kind,
        pole=stake.pole,
        description=stake.description,
        northing=round(stake.northing, 3),
        easting=round(stake.easting, 3),
        elevation=None if stake.elevation is None else round(stake.elevation, 3),
        circle_text=format_circle(point.circle_deg),
        distance_text=_length(point.distance, line),
    )


def _length(value: float, line: Line) -> str:
    decimals = 3 if line.unit.symbol == "m" else 2
    return "" if math.isnan(value) else f"{value:,.{decimals}f} {line.unit.symbol}"
