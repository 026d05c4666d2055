"""The compact answers the map draws from: columns of integers for all structures, polylines for lines.

Longitudes and latitudes travel as differences of integers of 1e-7 degree (about 11 mm), which a browser
sums back; texts that repeat travel as an index into a list.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import orjson
import shapely

from linemap import __version__
from linemap.answers import line as answer
from linemap.domain.crew.buffer import buffers_of
from linemap.domain.design.line import Line
from linemap.domain.design.structure import FloatArray, IntArray
from linemap.domain.survey.verdict import Verdict
from linemap.geometry.projection import Projection
from linemap.geometry.station import format_station
from linemap.service.view.columns import station_texts
from linemap.service.view.view import CAUTION, STAGES, JobView

#: Integers per degree of longitude and latitude.
SCALE = 10_000_000
_VERDICTS = [str(verdict) for verdict in Verdict]


def job_answer(view: JobView, *, tile_url: str = "", tile_attribution: str = "") -> answer.Job:
    """Return what the page's head and legend show: names, counts, dates, the caution line; and its tiles."""
    figures = view.figures
    stages = _count([words for _, words in STAGES], _stage_indices(view))
    verdicts = _count(_VERDICTS, _verdict_indices(view))
    return answer.Job(
        name=view.name,
        identity=view.identity,
        incarnation=view.incarnation,
        software=__version__,
        data_version=view.data_version,
        as_of=view.as_of.isoformat(),
        when=view.when.words,
        unit=view.unit.symbol,
        tile_url=tile_url or None,
        tile_attribution=tile_attribution or None,
        caution=CAUTION,
        waits=view.waits,
        lines=[_line_head(view, index, line) for index, line in enumerate(figures.lines)],
        stages=[answer.Stage(code=code, words=words) for code, words in STAGES],
        verdicts=_VERDICTS,
        pole_words=(view.naming.poles.two, view.naming.poles.three),
        counts={"stage": stages, "verdict": verdicts},
    )


def _line_head(view: JobView, index: int, line: Line) -> answer.JobLine:
    return answer.JobLine(
        name=line.name,
        back_end=line.back_end,
        ahead_end=line.ahead_end,
        crs=line.crs,
        length=round(line.length, 2),
        structure_count=int((view.figures.line_index == index).sum()),
        pole_a=line.pole_a,
        equations=[(each.back, each.ahead) for each in line.stationing.equations],
    )


def bounds_of(view: JobView) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the south-west and north-east corner, longitude and latitude, of what the job has to show.

    Of its structures, else of its centrelines; a job with neither shows the inhabited world.
    """
    lon, lat = view.figures.longitude, view.figures.latitude
    if not np.isfinite(lon).any() and view.figures.lines:
        routes = [line.centreline for line in view.figures.lines]
        easting = np.concatenate([route.easting for route in routes])
        northing = np.concatenate([route.northing for route in routes])
        lon, lat = view.projection.to_lonlat(easting, northing)
    if not np.isfinite(lon).any():
        return (-170.0, -55.0), (170.0, 72.0)
    return (float(np.nanmin(lon)), float(np.nanmin(lat))), (float(np.nanmax(lon)), float(np.nanmax(lat)))


def structures_answer(view: JobView) -> answer.Structures:
    """Return every structure of every line as columns, in line order."""
    return answer.Structures(**vars(structures_base(view)), **vars(structures_record(view)))


def structures_base(view: JobView) -> answer.StructuresBase:
    """Return the columns that no record of the field changes."""
    figures = view.figures
    structures = figures.structures
    types, type_index = np.unique(structures.type_code.astype(str), return_inverse=True)
    metres = figures.of_lines(lambda line: line.unit.metres)
    decimals = figures.of_lines(lambda line: 10.0**line.station_decimals)
    return answer.StructuresBase(
        n=len(figures),
        scale=SCALE,
        line=figures.line_index.tolist(),
        number=structures.number.tolist(),
        lon=_deltas(figures.longitude),
        lat=_deltas(figures.latitude),
        station=np.rint(figures.station * decimals).astype(np.int64).tolist(),
        station_text=station_texts(figures).tolist(),
        region=figures.station_region.tolist(),
        mile=figures.miles().tolist(),
        deflection=np.round(figures.deflection_deg, 4).tolist(),
        arm=np.round((figures.arm_azimuth_deg + figures.convergence_deg) % 360.0, 2).tolist(),
        spacing=[None if np.isnan(one) else round(float(one), 3) for one in structures.spacing * metres],
        poles=structures.pole_count.tolist(),
        verdict=_verdict_indices(view).tolist(),
        reversed=view.checks.reversed.astype(int).tolist(),
        hold=_hold_levels(view).tolist(),
        set=_set_positions(view),
        type=type_index.tolist(),
        types=types.tolist(),
    )


def structures_record(view: JobView) -> answer.StructuresRecord:
    """Return what changes with every record: version, stages, how many findings and the worst of them."""
    return answer.StructuresRecord(
        version=view.data_version,
        stage=_stage_indices(view).tolist(),
        worst=view.ledger.worst("list").tolist(),
        cases=_open_cases(view).tolist(),
        findings=view.ledger.counts().tolist(),
    )


def _open_cases(view: JobView) -> IntArray:
    """Return how many cases are open at each structure."""
    counts = np.zeros(len(view.figures), dtype=np.int64)
    for key, found in view.cases.items():
        if key in view.row_of:
            counts[view.row_of[key]] = sum(case.is_open for case in found)
    return counts


def centreline_answer(view: JobView) -> answer.Centrelines:
    """Return each centreline as a polyline with its station ticks."""
    return answer.Centrelines(
        lines=[_centreline(view, index, line) for index, line in enumerate(view.figures.lines)]
    )


def context_answer(view: JobView) -> answer.FeatureCollection:
    """Return the context layers and how far holds reach as GeoJSON; restricted features are left out."""
    buffers = buffers_of(view.figures, view.holds, view.projection, on=view.as_of)
    return answer.FeatureCollection(
        type="FeatureCollection",
        features=[
            answer.Feature(
                type="Feature",
                geometry=orjson.loads(shapely.to_geojson(feature.geometry)),
                properties={"layer": feature.layer, "name": feature.name},
            )
            for feature in (*view.context, *buffers)
            if not feature.restricted
        ],
    )


def _deltas(degrees: FloatArray) -> list[int]:
    if not len(degrees):
        return []
    whole = np.rint(degrees * SCALE).astype(np.int64)
    deltas: list[int] = np.diff(whole, prepend=0).tolist()
    return deltas


def _count(names: Sequence[str], indices: IntArray) -> dict[str, int]:
    counts = np.bincount(indices, minlength=len(names))
    return {name: int(count) for name, count in zip(names, counts, strict=True)}


def _stage_indices(view: JobView) -> IntArray:
    position = {code: index for index, (code, _) in enumerate(STAGES)}
    return np.array([position[view.stage_at(key)] for key in view.row_of], dtype=np.int64)


def _verdict_indices(view: JobView) -> IntArray:
    position = {verdict: index for index, verdict in enumerate(_VERDICTS)}
    return np.array([position[str(verdict)] for verdict in view.checks.verdict], dtype=np.int64)


def _hold_levels(view: JobView) -> IntArray:
    levels = np.zeros(len(view.figures), dtype=np.int64)
    for row, holds in view.holds_by_row.items():
        levels[row] = max(1 if hold.conditional else 2 for hold in holds)
    return levels


def _set_positions(view: JobView) -> answer.SetPositions:
    """Longitudes and latitudes of surveyed poles, for the structures that have any."""
    position = view.set_poles.position
    rows = np.flatnonzero(np.isfinite(position[:, :, 0]).any(axis=1))
    a, b, c = (_places(view.projection, position[rows, pole]) for pole in range(3))
    return answer.SetPositions(index=rows.tolist(), a=a, b=b, c=c)


def _places(projection: Projection, points: FloatArray) -> list[list[int] | None]:
    lon, lat = _lonlat(projection, points)
    return [
        None if np.isnan(x) else [round(x * SCALE), round(y * SCALE)]
        for x, y in zip(lon.tolist(), lat.tolist(), strict=True)
    ]


def _lonlat(projection: Projection, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Transform (n, 2) grid points that may be nan."""
    lon, lat = np.full(len(points), np.nan), np.full(len(points), np.nan)
    known = np.isfinite(points[:, 0])
    if known.any():
        lon[known], lat[known] = projection.to_lonlat(points[known, 0], points[known, 1])
    return lon, lat


def _centreline(view: JobView, index: int, line: Line) -> answer.Centreline:
    east, north = _with_waypoints(line)
    lon, lat = view.projection.to_lonlat(east, north)
    return answer.Centreline(
        name=line.name,
        lon=_deltas(lon),
        lat=_deltas(lat),
        ticks=_ticks(view, index, line),
    )


def _with_waypoints(line: Line) -> tuple[FloatArray, FloatArray]:
    """Return the vertices with points between, 500 m apart at most.

    A straight line on the grid bends on the web's own projection: 0.2 m on a tangent of 3 miles.
    """
    east, north = line.centreline.easting, line.centreline.northing
    reached = np.concatenate([[0.0], np.hypot(np.diff(east), np.diff(north)).cumsum()])
    step = line.ground(500.0)
    between = np.arange(step, reached[-1], step)
    along = np.union1d(reached, between)
    return np.interp(along, reached, east), np.interp(along, reached, north)


def _ticks(view: JobView, index: int, line: Line) -> list[answer.Tick]:
    """Return ticks at every tenth full station (1,000 ft; 500 m), major at every fifth of those.

    A tick stands where the posted station is round, so ticks follow the station equations.
    """
    step = 500.0 if line.unit.symbol == "m" else 1000.0
    marks = _round_stations(line, step)
    if not marks:
        return []
    true = np.array([distance for _, _, distance in marks])
    east, north, azimuth = view.network.point(
        np.full(len(true), index), true * line.combined_factor, np.zeros(len(true))
    )
    lon, lat = view.projection.to_lonlat(east, north)
    _, convergence = view.projection.factors_at(east, north)
    return [
        answer.Tick(
            lon=round(float(lon[row]), 7),
            lat=round(float(lat[row]), 7),
            text=format_station(station, per_plus=line.unit.per_plus, decimals=0),
            region=region,
            major=round(station / step) % 5 == 0,
            azimuth=round(float(azimuth[row] + convergence[row]) % 360.0, 2),
        )
        for row, (station, region, _) in enumerate(marks)
    ]


def _round_stations(line: Line, step: float) -> list[tuple[float, int, float]]:
    """List (station, region, true distance) of every round station on the line, back to ahead."""
    length = line.length
    ends, _ = line.stationing.post(np.array([0.0, length]))
    posted = [*ends.tolist()]
    for equation in line.stationing.equations:
        posted += [equation.back, equation.ahead]
    rounds = np.arange(np.ceil(min(posted) / step), np.floor(max(posted) / step) + 1) * step
    found = [
        (float(station), region, true)
        for station in rounds
        for region, true in line.stationing.true_distances(float(station), length=length)
        if 0.0 <= true <= length
    ]
    return sorted(found, key=lambda mark: mark[2])
