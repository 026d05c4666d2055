"""The part of a field card that no record of the field changes: place, frame, poles, marks, what is near."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from linemap.domain.design.number import StructureNumber
from linemap.domain.design.rough import date_words
from linemap.geometry.bearing import format_deflection
from linemap.geometry.station import format_stations
from linemap.service.crew.crew_sites import shortage_cards, ticket_cards, unneeded_steps
from linemap.service.crew.field_near import Near
from linemap.service.view.lists import lists_by_structure
from linemap.service.view.marks import marks_of
from linemap.service.view.panel import crossings_of, poles_of
from linemap.service.view.view import JobView

__all__ = ["design_cards", "mile_of"]


def mile_of(view: JobView, row: int) -> int:
    """Return the mile people know the structure by: that of its number, else by true distance."""
    figures = view.figures
    try:
        named = StructureNumber.parse(figures.structures.number[row]).mile
    except ValueError:
        named = None
    if named is not None:
        return named
    return int(figures.true_distance[row] // figures.line_of(row).unit.mile) + 1


def design_cards(view: JobView, rows: Sequence[int]) -> list[dict[str, Any]]:
    """Return this part of the cards of some structures, in the order of their rows, ready for JSON."""
    tickets, shortages, near = ticket_cards(view), shortage_cards(view), Near.of(view)
    lists = lists_by_structure(view, "card")
    unneeded = unneeded_steps(view)
    cards = []
    for row, place in zip(rows, _places(view, rows), strict=True):
        key = view.key(row)
        cards.append(
            {
                **place,
                "number": key[1],
                "slug": _slug(key[1]),
                "mile": mile_of(view, row),
                "poles": _poles(view, row),
                "frame": _frame(view, row),
                "arm_face": _arm_face(view, key),
                "marks": _marks(view, key),
                "verdict": str(view.checks.verdict[row]),
                "reversed": bool(view.checks.reversed[row]),
                "tickets": tickets.get(key, []),
                "not_built": list(unneeded.get(key, ())),
                "shortages": shortages.get(key, []),
                "crossings": crossings_of(view, row),
                "lists": lists.get(key, []),
                "changes": view.changes_by_structure.get(key, []),
                "near": near.told(view, row),
            }
        )
    return cards


def _places(view: JobView, rows: Sequence[int]) -> Iterator[dict[str, Any]]:
    """Give station, coordinates, type and neighbours of the rows."""
    figures = view.figures
    stations = _stations(view, rows)
    for row, station in zip(rows, stations, strict=True):
        line = figures.line_of(row)
        code = figures.structures.type_code[row]
        known = view.types.get(code)
        azimuth = float(figures.structure_azimuth_deg[row] + figures.convergence_deg[row])
        yield {
            "station_text": station,
            "station": round(float(figures.station[row]), 2),
            "region": int(figures.station_region[row]) if line.stationing.equations else None,
            "longitude": round(float(figures.longitude[row]), 7),
            "latitude": round(float(figures.latitude[row]), 7),
            "type": code,
            "type_words": known.words if known is not None else "",
            **_neighbour(view, row, -1, "back"),
            **_neighbour(view, row, 1, "ahead"),
            "deflection_text": format_deflection(float(figures.deflection_deg[row]))
            if figures.at_pi[row]
            else "",
            "left_to_right": view.figures.left_to_right(row),
            "azimuth_deg": round(azimuth % 360.0, 2),
        }


def _stations(view: JobView, rows: Sequence[int]) -> list[str]:
    """Write the stations of rows, those of one line together."""
    figures = view.figures
    texts = [""] * len(rows)
    chosen = np.asarray(rows, dtype=np.int64)
    for index, line in enumerate(figures.lines):
        places = np.flatnonzero(figures.line_index[chosen] == index)
        written = format_stations(
            figures.station[chosen[places]], per_plus=line.per_plus, decimals=line.station_decimals
        )
        for place, text in zip(places.tolist(), written, strict=True):
            texts[place] = text
    return texts


def _neighbour(view: JobView, row: int, step: int, name: str) -> dict[str, str]:
    figures = view.figures
    other = figures.neighbour(row, step)
    if other is None:
        return {name: "", f"{name}_span_text": ""}
    span = float((figures.ahead_span if step > 0 else figures.back_span)[row])
    unit = figures.line_of(row).unit.symbol
    words = "" if math.isnan(span) else f"{span:,.0f} {unit}"
    return {name: figures.structures.number[other], f"{name}_span_text": words}


def _slug(number: str) -> str:
    try:
        return StructureNumber.parse(number).slug
    except ValueError:
        return "".join(sign if sign.isalnum() else "-" for sign in number)


def _poles(view: JobView, row: int) -> list[dict[str, Any]]:
    wanted = ("letter", "length_text", "pole_class", "ground_wire")
    return [{name: getattr(pole, name) for name in wanted} for pole in poles_of(view, row)]


def _frame(view: JobView, row: int) -> dict[str, Any]:
    """Return what the plan of the frame is drawn from: directions from ahead, clockwise, and the poles.

    Poles are [letter, right, ahead] in ground units; without a known spacing they stand at equal distances
    and `to_scale` is false.
    """
    figures = view.figures
    azimuth = float(figures.structure_azimuth_deg[row])
    known = _places_of_poles(view, row)
    return {
        "back_deg": round(math.remainder(float(figures.azimuth_back_deg[row]) + 180.0 - azimuth, 360.0), 1),
        "ahead_deg": round(math.remainder(float(figures.azimuth_ahead_deg[row]) - azimuth, 360.0), 1),
        "to_scale": bool(known),
        "poles": known or _nominal(view, row),
    }


def _places_of_poles(view: JobView, row: int) -> list[list[Any]]:
    figures = view.figures
    letters = figures.letters_of(row)
    ahead, right = figures.in_frame(row, figures.poles[row, : len(letters)])
    if not np.isfinite(ahead).all():
        return []
    return [
        [letter, round(x, 2), round(y, 2)]
        for letter, x, y in zip(letters, right.tolist(), ahead.tolist(), strict=True)
    ]


def _nominal(view: JobView, row: int) -> list[list[Any]]:
    letters = view.figures.left_to_right(row)
    last = max(len(letters) - 1, 1)
    return [[letter, 2.0 * place / last - 1.0, 0.0] for place, letter in enumerate(letters)]


def _arm_face(view: JobView, key: tuple[str, str]) -> str:
    """Say on which face the arm was last seen; "" = nobody wrote it down."""
    seen = [fact for fact in view.facts_by_structure.get(key, ()) if fact.what == "arm face"]
    if not seen:
        return ""
    newest = max(seen, key=lambda fact: fact.on)
    return f"seen on the {newest.face} face, {date_words(newest.on)}, {newest.who}".rstrip(", ")


def _marks(view: JobView, key: tuple[str, str]) -> dict[str, Any] | None:
    """Return the framing marks as a crew reads them; None where no framing table tells any."""
    if not view.framing:
        return None
    marks = marks_of(view, *key)
    return {
        "poles": [
            {
                "letter": pole.letter,
                "depth_text": pole.depth_wood or pole.depth_text,
                "brand_text": pole.brand_text,
                "marks": [
                    [
                        mark.name,
                        mark.drop_wood or mark.drop_text,
                        mark.butt_wood or mark.butt_text,
                    ]
                    for mark in pole.marks
                ],
            }
            for pole in marks.poles
        ],
        "sentences": marks.sentences,
        "unavailable": marks.unavailable,
        "drawings": marks.drawings,
        "bundle": marks.bundle,
    }
