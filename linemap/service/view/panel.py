"""The panel of one structure: what the office reads beside the map, over what every surface says.

Weight spans take a catenary constant a person declares; without one there are none. Attachments are taken at
the arm bolts as framed, strings of one length; where no structure of the job has a known arm, at the ground
at the centres, which takes attachments of one height. The words say which.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from linemap.answers import panel as answer
from linemap.domain.design.line import NO_CATENARY
from linemap.domain.design.structure import FloatArray
from linemap.domain.record.workflow import Step
from linemap.domain.survey.orientation import residual_words
from linemap.geometry.bearing import format_bearing, wrap180
from linemap.geometry.magnetic import Declination, format_magnetic
from linemap.geometry.projection import grid_to_ground
from linemap.geometry.sexagesimal import format_dms
from linemap.geometry.span import weight_spans
from linemap.report.sketch import sketch_svg
from linemap.service.view.decided import said_of_shots
from linemap.service.view.held import ShotPair, held_words, pair_of
from linemap.service.view.help import help_words
from linemap.service.view.marks import arm_elevation, marks_of
from linemap.service.view.steps import step_at
from linemap.service.view.structure import (
    design_at,
    history_at,
    landmark_at,
    length_text,
    neighbour_of,
    pole_words_at,
    record_at,
)
from linemap.service.view.surveyed import Residual, anchors_at, decided_at, plumb_readings, residuals_at
from linemap.service.view.view import CAUTION, JobView


def structure_panel(view: JobView, line_name: str, number: str) -> answer.Panel:
    """Return the panel of one structure, for a page or a file.

    The line may be "" when the job has one; `NotFound` = the job has no such structure.
    """
    row = view.row(line_name, number)
    figures = view.figures
    line = figures.line_of(row)
    east, north = figures.centre_of(row)
    probability = float(view.checks.probability_in_tolerance[row])
    return answer.Panel(
        **vars(design_at(view, row, "panel")),
        **vars(record_at(view, row, "panel")),
        line=line.name,
        true_distance_text=length_text(view, row, float(figures.true_distance[row])),
        offset_text=_offset(view, row),
        remarks=figures.structures.remarks[row],
        back_end=line.back_end,
        ahead_end=line.ahead_end,
        ahead_lengths_text=ahead_lengths_text(view, row),
        wind_span_text=length_text(view, row, float(figures.wind_span[row])),
        weight_span_text=weight_span_text(view, row),
        ruling_span_text=length_text(view, row, float(figures.ruling_span[row])),
        structure_azimuth_text=_azimuth(view, row, float(figures.structure_azimuth_deg[row])),
        arm_magnetic_text=arm_magnetic_text(view, row),
        arm_azimuth_text=_azimuth(view, row, float(figures.arm_azimuth_deg[row])),
        coordinates=answer.Coordinates(
            grid=f"N {north:,.3f}  E {east:,.3f}  ({line.crs})",
            lonlat=f"{figures.latitude[row]:.7f}, {figures.longitude[row]:.7f} (latitude, longitude)",
        ),
        probability=None if math.isnan(probability) else round(probability, 4),
        residuals=list(residual_words(figures, view.checks, row)),
        cause=_cause(view, row),
        second_evidence=decided_at(view, row),
        plumb=plumb_readings(view, row),
        anchors=anchors_at(view, row),
        numbers=[_number(each) for each in residuals_at(view, row)],
        landmark=landmark_at(view, row),
        sketch_svg=_sketch(view, row),
        marks=marks_of(view, line.name, number),
        steps=[_step(view, row, step) for step in view.workflow.steps],
        history=history_at(view, row),
        shots=[
            _shot(pair_of(view, shot), line.unit.symbol)
            for shot in view.shots_by_structure.get(view.key(row), [])
        ],
        said_of_shots=said_of_shots(view, row),
        held=held_words(view, row),
        help=help_words(view, row),
        when=view.when.words,
        caution=CAUTION,
    )


def _azimuth(view: JobView, row: int, grid_deg: float) -> str:
    """Print one direction as grid azimuth, grid bearing and true azimuth, each tagged."""
    true = (grid_deg + float(view.figures.convergence_deg[row])) % 360.0
    return f"{format_dms(grid_deg)} grid ({format_bearing(grid_deg)}), {format_dms(true)} true"


def _offset(view: JobView, row: int) -> str:
    offset = float(view.figures.offset[row])
    if abs(offset) < 0.005:
        return "on line"
    return f"{length_text(view, row, abs(offset))} {'right' if offset > 0 else 'left'}"


def _sketch(view: JobView, row: int) -> str:
    figures = view.figures
    azimuth = float(figures.structure_azimuth_deg[row])
    count = len(figures.letters_of(row))
    return sketch_svg(
        number=figures.structures.number[row],
        back_number=neighbour_of(view, row, -1),
        ahead_number=neighbour_of(view, row, 1),
        ahead_end=figures.line_of(row).ahead_end,
        deflection_deg=float(figures.deflection_deg[row]),
        azimuth_back_rel_deg=float(wrap180(figures.azimuth_back_deg[row] - azimuth)),
        azimuth_ahead_rel_deg=float(wrap180(figures.azimuth_ahead_deg[row] - azimuth)),
        design=_in_frame(view, row, figures.poles[row, :count]),
        as_set=_in_frame(view, row, view.set_poles.position[row, :count]),
        unit_symbol=figures.line_of(row).unit.symbol,
        pole_words=pole_words_at(view, row),
    )


def _in_frame(view: JobView, row: int, points: FloatArray) -> tuple[tuple[str, float, float], ...]:
    """Return (letter, right, ahead) in ground units of the poles that have a position."""
    ahead, right = view.figures.in_frame(row, points)
    return tuple(
        (letter, float(x), float(y))
        for letter, x, y in zip(view.figures.letters_of(row), right, ahead, strict=True)
        if not math.isnan(x)
    )


def _cause(view: JobView, row: int) -> answer.PanelCause | None:
    """Return the explanation of the structure's exception, proposed and not applied; None without one."""
    causes = (
        answer.PanelCause(words=cause.words, moment=cause.moment, asks_for=cause.asks_for)
        for cause in view.causes_at(row)
    )
    return next(causes, None)


def _number(residual: Residual) -> answer.Number:
    sign = residual.sign
    return answer.Number(
        name=residual.name,
        value_text=f"{residual.value:+.2f}{sign}",
        sigma_text="" if math.isnan(residual.sigma) else f"± {residual.sigma:.2f}{sign}",
        tolerance_text=f"± {residual.limit.value:.2f}{sign}",
        tolerance_source=residual.limit.source,
    )


def _step(view: JobView, row: int, step: Step) -> answer.PanelStep:
    found, proved = step_at(view, row, step)
    return answer.PanelStep(**vars(found), note=proved)


def _shot(pair: ShotPair, unit: str) -> answer.PanelShot:
    shot = pair.corrected
    return answer.PanelShot(
        pole=shot.pole,
        point=shot.point,
        file=shot.file,
        row=shot.row,
        east_text=f"{shot.easting:,.3f}",
        north_text=f"{shot.northing:,.3f}",
        sigma_text="" if shot.sigma is None else f"± {shot.sigma:.3f} {unit}",
        observed_east_text=f"{pair.observed.easting:,.3f}",
        observed_north_text=f"{pair.observed.northing:,.3f}",
        correction_text=pair.correction_words,
        note=shot.note,
    )


def ahead_lengths_text(view: JobView, row: int) -> str:
    """Return the span ahead as grid, ground and geodesic length; "" at the end of a line.

    Ground is grid / combined factor of the line; geodesic is the shortest distance on the ellipsoid.
    """
    ahead = view.figures.neighbour(row, 1)
    if ahead is None:
        return ""
    structures = view.figures.structures
    line = view.figures.line_of(row)
    start, end = ((structures.easting[at], structures.northing[at]) for at in (row, ahead))
    grid = np.hypot(*np.subtract(end, start))
    ground = grid_to_ground(grid, line.combined_factor)
    named = (("grid", grid), ("ground", ground), ("geodesic", view.projection.geodesic_length(start, end)))
    decimals, symbol = line.station_decimals, line.unit.symbol
    return ", ".join(f"{name} {float(length):,.{decimals}f} {symbol}" for name, length in named)


def arm_magnetic_text(view: JobView, row: int) -> str:
    """Return the magnetic azimuth of the arm, A to B, on the day shown; "" where the model does not hold.

    Trucks, poles' hardware and energized wires turn a needle: neighbours' names come first.
    """
    figures = view.figures
    try:
        north = Declination.at(float(figures.longitude[row]), float(figures.latitude[row]), on=view.as_of)
    except ValueError:
        return ""
    azimuth = north.magnetic_of_grid_deg(
        float(figures.arm_azimuth_deg[row]), convergence_deg=float(figures.convergence_deg[row])
    )
    return format_magnetic(azimuth, north)


_ARM = "arm bolts as framed, strings of one length"
_GROUND = "ground at the centres, attachments of one height taken"


def weight_spans_of(view: JobView) -> FloatArray | None:
    """Return the weight span of every structure, ground unit; nan = an attachment is not known.

    None when no catenary constant is declared.
    """
    if view.catenary is None:
        return None
    heights, _ = _attachments(view, range(len(view.figures)))
    return weight_spans(view.figures.back_span, view.figures.ahead_span, heights, view.catenary.constant)


def weight_span_text(view: JobView, row: int) -> str:
    """Print the weight span of one structure with what it stands on, or why there is none."""
    if view.catenary is None:
        return NO_CATENARY
    near = [other for step in (-1, 1) if (other := view.figures.neighbour(row, step)) is not None]
    rows = sorted([row, *near])
    heights, words = _attachments(view, rows)
    unknown = [view.key(each)[1] for each in rows if np.isnan(heights[each])]
    if unknown:
        return f"not available: no attachment elevation at {', '.join(unknown)}"
    spans = weight_spans(view.figures.back_span, view.figures.ahead_span, heights, view.catenary.constant)
    unit = view.figures.line_of(row).unit.symbol
    uplift = "; below 0: the wire pulls up" if spans[row] < 0.0 else ""
    return f"{spans[row]:,.2f} {unit} ({words}; {view.catenary.words(unit)}{uplift})"


def _attachments(view: JobView, rows: Iterable[int]) -> tuple[FloatArray, str]:
    """Return the attachment elevations of some rows, nan elsewhere, and what they are."""
    heights = np.full(len(view.figures), np.nan)
    for row in rows:
        heights[row] = arm_elevation(view, row)
    if not view.framing:
        return view.figures.structures.elevation, _GROUND
    return heights, _ARM
