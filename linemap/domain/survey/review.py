"""What a person should know about computed lines: findings on stations, PIs, offsets and spans."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from linemap.domain.design.figures import Figures, network_of
from linemap.domain.design.line import Line
from linemap.domain.design.structure import BoolArray
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.shot_match import finding_at
from linemap.geometry.station import format_station, parse_station

#: A vertex turning less than this is no PI that needs a structure. Common practice, no source.
_PI_TURN_DEG = 0.1
#: More findings of one kind on one line than this are told as one, with their count.
_MOST_OF_A_KIND = 50


def review(figures: Figures) -> tuple[Finding, ...]:
    """Return the findings on the computed figures, in line order within each kind.

    The kinds (`Finding.code`): "factor not declared", "no structure at PI", "off line", "off PI",
    "beyond end", "competing station", "span deflection", "station differs", "no spacing", "more of a kind".
    """
    return (
        *_factor_findings(figures),
        *_empty_pi_findings(figures),
        *_off_line_findings(figures),
        *_end_findings(figures),
        *_competing_findings(figures),
        *_span_deflection_findings(figures),
        *_station_findings(figures),
        *_spacing_findings(figures),
    )


def _factor_findings(figures: Figures) -> list[Finding]:
    return [
        Finding(
            line=line.name,
            structure="",
            code="factor not declared",
        )
        for line in figures.lines
        if not line.combined_factor_declared
    ]


def _empty_pi_findings(figures: Figures) -> list[Finding]:
    """Find each turning vertex between the first and last structure of a line that has none."""
    route, vertex, distance, turn = network_of(figures.lines).turns()
    taken = set(zip(figures.line_index[figures.at_pi], figures.pi_vertex[figures.at_pi], strict=True))
    starts = np.cumsum([0, *(len(line.centreline.easting) for line in figures.lines)])
    found: list[Finding] = []
    for index, line in enumerate(figures.lines):
        rows = np.flatnonzero(figures.line_index == index)
        mine = np.flatnonzero((route == index) & (np.abs(turn) >= _PI_TURN_DEG))
        if not rows.size or not mine.size:
            continue
        reach = figures.true_distance[rows[[0, -1]]] * line.combined_factor
        empty = [at for at in mine if reach[0] < distance[at] < reach[1] and (index, vertex[at]) not in taken]
        found += _limited(
            line.name,
            "no structure at PI",
            [
                Finding(
                    line=line.name,
                    structure="",
                    code="no structure at PI",
                    part=line.centreline.name(int(vertex[at] - starts[index])),
                    values={
                        "pi": line.centreline.name(int(vertex[at] - starts[index])),
                        "station": _station(line, float(distance[at]) / line.combined_factor),
                        "turn": float(turn[at]),
                    },
                )
                for at in empty
            ],
        )
    return found


def _off_line_findings(figures: Figures) -> list[Finding]:
    limit = figures.of_lines(lambda line: line.ground(line.limits.off_line_m))
    off = np.abs(figures.offset) > limit
    along = np.abs(np.nan_to_num(figures.along_from_pi)) > limit
    return _found(figures, "off line", off, offset=figures.offset) + _found(
        figures, "off PI", along, along=figures.along_from_pi
    )


def _end_findings(figures: Figures) -> list[Finding]:
    limit = figures.of_lines(lambda line: line.ground(line.limits.off_line_m))
    length = figures.of_lines(lambda line: line.length)
    outside = np.where(figures.before_start, -figures.true_distance, figures.true_distance - length)
    beyond = (figures.before_start | figures.past_end) & (outside > limit)
    return _found(figures, "beyond end", beyond, beyond=outside, before_start=figures.before_start)


def _competing_findings(figures: Figures) -> list[Finding]:
    return _found(
        figures,
        "competing station",
        np.isfinite(figures.competing_distance),
        other=figures.competing_distance,
        station=figures.true_distance,
    )


def _span_deflection_findings(figures: Figures) -> list[Finding]:
    limit = figures.of_lines(lambda line: line.limits.span_deflection_deg)
    with np.errstate(invalid="ignore"):
        differs = np.abs(figures.span_deflection_deg - figures.deflection_deg) > limit

    return _found(
        figures,
        "span deflection",
        differs,
        turn=figures.deflection_deg,
        spans_turn=figures.span_deflection_deg,
    )


def _station_findings(figures: Figures) -> list[Finding]:
    given = np.array([_given(text) for text in figures.structures.given_station], dtype=np.float64)
    limit = figures.of_lines(lambda line: line.ground(line.limits.station_m))
    with np.errstate(invalid="ignore"):
        differs = np.abs(given - figures.station) > limit

    return _found(
        figures,
        "station differs",
        differs,
        listed=figures.structures.given_station,
        station=figures.true_distance,
        difference=given - figures.station,
    )


def _given(text: str) -> float:
    if not text:
        return float("nan")
    try:
        return parse_station(text).value
    except ValueError:
        return float("nan")


def _spacing_findings(figures: Figures) -> list[Finding]:
    return _found(figures, "no spacing", np.isnan(figures.structures.spacing))


def _station(line: Line, true_distance: float) -> str:
    station, region = line.stationing.post(np.array([true_distance]))
    text = format_station(float(station[0]), per_plus=line.per_plus, decimals=line.station_decimals)
    return f"{text} (R{region[0]})" if line.stationing.equations else text


def _found(figures: Figures, code: str, where: BoolArray, **columns: NDArray[Any]) -> list[Finding]:
    """Write one finding for each row of `where`, with the rest of a line as one when they are too many.

    Distances among the columns that a person reads as stations, "station" and "other", are printed so.
    """
    found: list[Finding] = []
    for index in np.unique(figures.line_index[where]):
        line = figures.lines[index]
        rows = np.flatnonzero(where & (figures.line_index == index)).tolist()
        for row in rows[:_MOST_OF_A_KIND]:
            values = {name: _value(line, name, column[row]) for name, column in columns.items()}
            found.append(finding_at(figures, row, code, unit=line.unit.symbol, **values))
        found += _rest(line.name, code, len(rows))
    return found


def _value(line: Line, name: str, value: Any) -> Any:
    if name in ("station", "other"):
        return _station(line, float(value))
    return value.item() if isinstance(value, np.generic) else value


def _limited(line: str, code: str, found: list[Finding]) -> list[Finding]:
    return found[:_MOST_OF_A_KIND] + _rest(line, code, len(found))


def _rest(line: str, code: str, count: int) -> list[Finding]:
    if count <= _MOST_OF_A_KIND:
        return []
    values = {"more": count - _MOST_OF_A_KIND, "kind": code, "count": count}
    return [Finding(line=line, structure="", code="more of a kind", part=code, values=values)]
