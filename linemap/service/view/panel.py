"""Everything known of one structure, in the words and numbers a person reads beside the map."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from linemap.answers import structure as answer
from linemap.domain.design.line import Line
from linemap.domain.design.structure import FloatArray
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.words import landmark_words
from linemap.geometry.bearing import format_bearing, format_deflection, format_dms, wrap180
from linemap.geometry.station import format_station
from linemap.report.sketch import sketch_svg
from linemap.service.view.basis import ahead_lengths_text, arm_magnetic_text
from linemap.service.view.facts import plumb_readings, second_evidence
from linemap.service.view.guys import anchors_at
from linemap.service.view.lists import lists_at
from linemap.service.view.marks import marks_of
from linemap.service.view.panel_steps import steps_of
from linemap.service.view.panel_verdict import cause_of, numbers_of, verdict_of
from linemap.service.view.view import CAUTION, JobView
from linemap.service.view.weight import weight_span_text

__all__ = ["crossings_of", "history_of", "poles_of", "structure_panel"]


def structure_panel(view: JobView, line_name: str, number: str) -> answer.Panel:
    """Return the panel of one structure, for a page or a file.

    Parameters
    ----------
    view : JobView
    line_name : str
        May be "" when the job has one line.
    number : str
        Structure number in its one spelling.

    Raises
    ------
    NotFound
        If the job has no such structure.
    """
    row = view.row(line_name, number)
    line = view.figures.line_of(row)
    return answer.Panel(
        line=line.name,
        number=number,
        **_place(view, row, line),
        **verdict_of(view, row),
        cause=cause_of(view, row),
        second_evidence=second_evidence(view, row),
        plumb=plumb_readings(view, row),
        anchors=anchors_at(view, row),
        numbers=numbers_of(view, row),
        landmark=_landmark(view, row, line),
        sketch_svg=_sketch(view, row, line),
        poles=poles_of(view, row),
        marks=marks_of(view, line.name, number),
        steps=steps_of(view, row),
        holds=_holds(view, row),
        findings=[finding.words for finding in view.ledger.on("panel", row)],
        changes=view.changes_by_structure.get(view.key(row), []),
        history=history_of(view, row),
        shots=[_shot(shot, line) for shot in view.shots_by_structure.get(view.key(row), [])],
        crossings=crossings_of(view, row),
        lists=lists_at(view, row, "panel"),
        caution=CAUTION,
    )


def _place(view: JobView, row: int, line: Line) -> dict[str, Any]:
    figures = view.figures
    structures = figures.structures
    code = structures.type_code[row]
    known = view.types.get(code)
    azimuth = float(figures.structure_azimuth_deg[row])
    return {
        "station_text": _station(view, row, line),
        "station_region": int(figures.station_region[row]) if line.stationing.equations else None,
        "true_distance_text": _length(figures.true_distance[row], line),
        "offset_text": _offset(float(figures.offset[row]), line),
        "type": code,
        "type_words": known.words if known is not None else "",
        "remarks": structures.remarks[row],
        "back": _neighbour(view, row, -1, line),
        "ahead": _neighbour(view, row, 1, line),
        "ahead_end": line.ahead_end,
        "back_end": line.back_end,
        "ahead_lengths_text": ahead_lengths_text(view, row),
        "wind_span_text": _length(figures.wind_span[row], line),
        "weight_span_text": weight_span_text(view, row),
        "ruling_span_text": _length(figures.ruling_span[row], line),
        "deflection_text": format_deflection(float(figures.deflection_deg[row]))
        if figures.at_pi[row]
        else "",
        "structure_azimuth_text": _azimuth(azimuth, float(figures.convergence_deg[row])),
        "arm_magnetic_text": arm_magnetic_text(view, row),
        "arm_azimuth_text": _azimuth(
            float(figures.arm_azimuth_deg[row]), float(figures.convergence_deg[row])
        ),
        "coordinates": answer.Coordinates(
            grid=f"N {structures.northing[row]:,.3f}  E {structures.easting[row]:,.3f}  ({line.crs})",
            lonlat=f"{figures.latitude[row]:.7f}, {figures.longitude[row]:.7f} (latitude, longitude)",
        ),
    }


def _station(view: JobView, row: int, line: Line) -> str:
    return format_station(
        float(view.figures.station[row]), per_plus=line.per_plus, decimals=line.station_decimals
    )


def _azimuth(grid_deg: float, convergence_deg: float) -> str:
    """Print one direction as grid azimuth, grid bearing and true azimuth, each tagged."""
    true = (grid_deg + convergence_deg) % 360.0
    return f"{format_dms(grid_deg)} grid ({format_bearing(grid_deg)}), {format_dms(true)} true"


def _length(value: float, line: Line) -> str:
    return "" if np.isnan(value) else f"{value:,.2f} {line.unit.symbol}"


def _offset(offset: float, line: Line) -> str:
    if abs(offset) < 0.005:
        return "on line"
    return f"{abs(offset):.2f} {line.unit.symbol} {'right' if offset > 0 else 'left'}"


def _neighbour(view: JobView, row: int, step: int, line: Line) -> answer.Neighbour | None:
    other = view.figures.neighbour(row, step)
    if other is None:
        return None
    span = view.figures.ahead_span[row] if step > 0 else view.figures.back_span[row]
    return answer.Neighbour(number=view.figures.structures.number[other], span_text=_length(span, line))


def _landmark(view: JobView, row: int, line: Line) -> str:
    number = view.figures.structures.number
    back, ahead = view.figures.neighbour(row, -1), view.figures.neighbour(row, 1)
    return landmark_words(
        line,
        back=number[back] if back is not None else "",
        here=number[row],
        ahead=number[ahead] if ahead is not None else "",
        pole_count=int(view.figures.structures.pole_count[row]),
    )


def _sketch(view: JobView, row: int, line: Line) -> str:
    figures = view.figures
    back, ahead = figures.neighbour(row, -1), figures.neighbour(row, 1)
    azimuth = float(figures.structure_azimuth_deg[row])
    count = int(figures.structures.pole_count[row])
    number = figures.structures.number
    return sketch_svg(
        number=number[row],
        back_number=number[back] if back is not None else "",
        ahead_number=number[ahead] if ahead is not None else "",
        ahead_end=line.ahead_end,
        deflection_deg=float(figures.deflection_deg[row]),
        azimuth_back_rel_deg=float(wrap180(figures.azimuth_back_deg[row] - azimuth)),
        azimuth_ahead_rel_deg=float(wrap180(figures.azimuth_ahead_deg[row] - azimuth)),
        design=_in_frame(view, row, figures.poles[row, :count]),
        as_set=_in_frame(view, row, view.set_poles.position[row, :count]),
        unit_symbol=line.unit.symbol,
    )


def _in_frame(view: JobView, row: int, points: FloatArray) -> tuple[tuple[str, float, float], ...]:
    """Return (letter, right, ahead) in ground units of the poles that have a position."""
    figures = view.figures
    ahead, right = figures.in_frame(row, points)
    return tuple(
        (letter, float(x), float(y))
        for letter, x, y in zip(figures.letters_of(row), right, ahead, strict=True)
        if not math.isnan(x)
    )


def poles_of(view: JobView, row: int) -> list[answer.PanelPole]:
    """Return the poles of the schedule at a structure, by letter, in words."""
    line = view.figures.line_of(row)
    return [
        answer.PanelPole(
            letter=pole.letter,
            length_text="" if pole.length_ft is None else f"{pole.length_ft:g} ft",
            pole_class=pole.pole_class,
            ground_text=_length(np.nan if pole.ground_elevation is None else pole.ground_elevation, line),
            ground_wire=pole.ground_wire,
        )
        for pole in sorted(view.poles_by_structure.get(view.key(row), []), key=lambda pole: pole.letter)
    ]


def _holds(view: JobView, row: int) -> list[answer.PanelHold]:
    return [
        answer.PanelHold(
            id=hold.id,
            sentence=hold.sentence(),
            kind="conditional" if hold.conditional else "hold",
            until=hold.to_date.isoformat() if hold.to_date is not None else "",
        )
        for hold in view.holds_by_row.get(row, [])
    ]


def history_of(view: JobView, row: int) -> list[answer.PanelHistory]:
    """Return what was recorded at a structure in the order it happened, then the releases of its holds."""
    events = sorted(
        view.events_by_structure.get(view.key(row), []), key=lambda event: (event.happened_at, event.id)
    )
    line, number = view.key(row)
    released = [
        answer.PanelHistory(
            id=release.hold.id, when=release.at.isoformat(timespec="minutes"), text=release.sentence()
        )
        for release in view.releases
        if release.hold.line in ("", line) and release.hold.covers(number)
    ]
    recorded = [
        answer.PanelHistory(
            id=event.id,
            when=event.happened_at.isoformat(timespec="minutes"),
            text=" ".join(
                part
                for part in (
                    event.step,
                    f"pole {event.pole}" if event.pole else "",
                    "" if event.result == "done" else str(event.result),
                    f"by {event.crew}" if event.crew else "",
                    f"({event.remarks})" if event.remarks else "",
                )
                if part
            ),
        )
        for event in events
    ]
    return [*recorded, *released]


def _shot(shot: Shot, line: Line) -> answer.PanelShot:
    return answer.PanelShot(
        pole=shot.pole,
        point=shot.point,
        file=shot.file,
        row=shot.row,
        east_text=f"{shot.easting:,.3f}",
        north_text=f"{shot.northing:,.3f}",
        sigma_text="" if shot.sigma is None else f"± {shot.sigma:.3f} {line.unit.symbol}",
    )


def crossings_of(view: JobView, row: int) -> list[answer.PanelCrossing]:
    """Return the crossings in the spans back and ahead of a structure."""
    number = view.figures.structures.number[row]
    return [
        answer.PanelCrossing(
            what=crossing.what,
            span=f"{crossing.back_structure} to {crossing.ahead_structure}",
            rule=crossing.rule,
            caution="treat as energized" if crossing.energized else "",
        )
        for crossing in view.crossings
        if number in (crossing.back_structure, crossing.ahead_structure)
    ]
