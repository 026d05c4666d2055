"""One structure as a crew needs it: place, sketch both ways, poles, steps, holds, last records."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from linemap.domain.crew.hold import Hold
from linemap.domain.design.number import StructureNumber
from linemap.domain.record.status import NOTHING_RECORDED, StructureStatus
from linemap.domain.record.workflow import Step
from linemap.geometry.bearing import wrap180
from linemap.report.crew_sketch import CrewPole, Facing, Toward, crew_sketch_svg
from linemap.service.view.panel import structure_panel
from linemap.service.view.view import JobView

__all__ = ["Surroundings", "field_card", "mile_of"]

#: Newest records shown on a card.
_LAST = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What other records of the job say of its structures, by (line, number); all may be empty."""

    #: Label of the current structure list, by line: "C".
    revisions: Mapping[str, str]
    #: Claims in force.
    claims: Mapping[tuple[str, str], list[dict[str, Any]]]
    #: The newest job briefing held there.
    briefings: Mapping[tuple[str, str], dict[str, Any]]
    #: Locate tickets that cover the structure.
    tickets: Mapping[tuple[str, str], list[dict[str, Any]]]


def mile_of(view: JobView, row: int) -> int:
    """Return the mile people know the structure by: that of its number, else by true distance."""
    figures = view.figures
    try:
        named = StructureNumber.parse(figures.structures.number[row]).mile
    except ValueError:
        named = None
    if named is not None:
        return named
    length = 1000.0 if figures.lines[figures.line_index[row]].unit.symbol == "m" else 5280.0
    return int(figures.true_distance[row] // length) + 1


def field_card(view: JobView, around: Surroundings, row: int) -> dict[str, Any]:
    """Return everything a crew must see of one structure, ready for JSON.

    Parameters
    ----------
    view : JobView
    around : Surroundings
    row : int
        Row of the structure.
    """
    key = view.key(row)
    figures = view.figures
    panel = structure_panel(view, *key)
    status = view.statuses.get(key, NOTHING_RECORDED)
    azimuth = float(figures.structure_azimuth_deg[row] + figures.convergence_deg[row])
    return {
        "number": key[1],
        "slug": _slug(key[1]),
        "station_text": panel["station_text"],
        "region": panel["station_region"],
        "longitude": round(float(figures.longitude[row]), 7),
        "latitude": round(float(figures.latitude[row]), 7),
        "mile": mile_of(view, row),
        "type": panel["type"],
        "type_words": panel["type_words"],
        "back": (panel["back"] or {}).get("number", ""),
        "ahead": (panel["ahead"] or {}).get("number", ""),
        "back_span_text": (panel["back"] or {}).get("span_text", ""),
        "ahead_span_text": (panel["ahead"] or {}).get("span_text", ""),
        "landmark": panel["landmark"],
        "deflection_text": panel["deflection_text"],
        "left_to_right": _left_to_right(view, row),
        "sketch_svg": _sketch(view, row, panel, "ahead"),
        "sketch_back_svg": _sketch(view, row, panel, "back"),
        "poles": [
            {name: pole[name] for name in ("letter", "length_text", "pole_class", "ground_wire")}
            for pole in panel["poles"]
        ],
        "stage": view.stage(row),
        "steps": [_step_state(step, status) for step in view.workflow.order()],
        "open": list(view.workflow.open_steps(status.done)),
        "verdict": panel["verdict"],
        "reversed": panel["reversed"],
        "holds": [_hold(view, hold) for hold in view.holds_by_row.get(row, [])],
        "tickets": around.tickets.get(key, []),
        "findings": panel["findings"],
        "crossings": panel["crossings"],
        "revision": around.revisions.get(key[0], ""),
        "changes": panel["changes"],
        "last": panel["history"][: -_LAST - 1 : -1],
        "claims": around.claims.get(key, []),
        "briefing": around.briefings.get(key),
        "azimuth_deg": round(azimuth % 360.0, 2),
    }


def _slug(number: str) -> str:
    try:
        return StructureNumber.parse(number).slug
    except ValueError:
        return "".join(sign if sign.isalnum() else "-" for sign in number)


def _step_state(step: Step, status: StructureStatus) -> dict[str, Any]:
    state = status.done.get(step.code) or status.begun.get(step.code)
    return {
        "code": step.code,
        "words": step.words,
        "per": step.per,
        "done": step.code in status.done,
        "poles_done": "" if state is None else state.poles,
        "when": "" if state is None else state.at.date().isoformat(),
        "crew": "" if state is None else state.crew,
    }


def _hold(view: JobView, hold: Hold) -> dict[str, Any]:
    return {
        "sentence": hold.sentence(),
        "kind": "conditional" if hold.conditional else "hold",
        "activities": list(hold.activities),
        "stops": [step.code for step in view.workflow.order() if hold.stops(step.code)],
        "until": "" if hold.to_date is None else hold.to_date.isoformat(),
    }


def _letters(view: JobView, row: int) -> str:
    return "ABC"[: int(view.figures.structures.pole_count[row])]


def _left_to_right(view: JobView, row: int) -> str:
    """Return the pole letters from left to right for a person facing ahead."""
    letters = _letters(view, row)
    return letters if view.figures.a_left[row] else letters[::-1]


def _sketch(view: JobView, row: int, panel: dict[str, Any], facing: Facing) -> str:
    figures = view.figures
    azimuth = float(figures.structure_azimuth_deg[row])
    places = _places(view, row)
    schedule = {pole["letter"]: pole for pole in panel["poles"]}
    return crew_sketch_svg(
        panel["number"],
        facing=facing,
        back=Toward(
            number=(panel["back"] or {}).get("number", ""),
            end=panel["back_end"],
            direction_deg=float(wrap180(figures.azimuth_back_deg[row] + 180.0 - azimuth)),
        ),
        ahead=Toward(
            number=(panel["ahead"] or {}).get("number", ""),
            end=panel["ahead_end"],
            direction_deg=float(wrap180(figures.azimuth_ahead_deg[row] - azimuth)),
        ),
        poles=[
            CrewPole(
                letter=letter,
                right=right,
                ahead=ahead,
                words=_pole_words(schedule.get(letter)),
                ground_wire=bool((schedule.get(letter) or {}).get("ground_wire")),
            )
            for letter, (right, ahead) in (places or _nominal(view, row)).items()
        ],
        to_scale=bool(places),
    )


def _places(view: JobView, row: int) -> dict[str, tuple[float, float]]:
    """Return right and ahead of each design pole, ground units; {} when the spacing is not known."""
    figures = view.figures
    azimuth = math.radians(float(figures.structure_azimuth_deg[row]))
    centre = np.array([figures.structures.easting[row], figures.structures.northing[row]])
    east, north = (figures.poles[row, : len(_letters(view, row))] - centre).T / figures.combined_factor[row]
    ahead = east * math.sin(azimuth) + north * math.cos(azimuth)
    right = east * math.cos(azimuth) - north * math.sin(azimuth)
    if not np.isfinite(ahead).all():
        return {}
    return dict(zip(_letters(view, row), zip(right.tolist(), ahead.tolist(), strict=True), strict=True))


def _nominal(view: JobView, row: int) -> dict[str, tuple[float, float]]:
    letters = _left_to_right(view, row)
    return {letter: (2.0 * place / (len(letters) - 1) - 1.0, 0.0) for place, letter in enumerate(letters)}


def _pole_words(pole: Mapping[str, Any] | None) -> str:
    if pole is None:
        return ""
    named = f"class {pole['pole_class']}" if pole["pole_class"] else ""
    return ", ".join(part for part in (pole["length_text"], named) if part)
