"""What a person should know about computed lines: findings on stations, PIs, offsets and spans."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

from linemap.domain.design.figures import Figures, network_of
from linemap.domain.design.line import Line
from linemap.domain.design.structure import BoolArray
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.shot_match import finding_at
from linemap.geometry.station import parse_station

#: A vertex turning less than this is no PI that needs a structure. Common practice, no source.
_PI_TURN_DEG = 0.1
#: More findings of one kind on one line than this are told as one, with their count.
_MOST_OF_A_KIND = 50


def review(figures: Figures) -> tuple[Finding, ...]:
    """Return the findings on the computed figures, in line order within each kind.

    The kinds (`Finding.code`): "factor not declared", "no structure at PI", "PI taken", "PI in question",
    "off line", "off PI", "beyond end", "competing station", "span deflection", "station differs",
    "no spacing", "more of a kind".
    """
    undeclared = (
        Finding(line=line.name, structure="", code="factor not declared")
        for line in figures.lines
        if not line.combined_factor_declared
    )
    of_rows = (_found(figures, code, where, **columns) for code, where, columns in _doubts(figures))
    of_pis = (*_empty_pi_findings(figures), *_near_pi_findings(figures))
    return (*undeclared, *of_pis, *chain.from_iterable(of_rows))


def _doubts(figures: Figures) -> Iterator[tuple[str, BoolArray, Mapping[str, NDArray[Any]]]]:
    """Give each code with the rows that have it, and the columns its sentence names."""
    off_line = figures.of_lines(lambda line: line.ground(line.limits.off_line_m))
    beside = figures.near_pi_vertex >= 0  # told as that
    taken = beside & ~figures.pi_in_question
    yield "off line", (np.abs(figures.offset) > off_line) & ~taken, {"offset": figures.offset}
    along = figures.along_from_pi
    yield "off PI", (np.abs(np.nan_to_num(along)) > off_line) & ~taken, {"along": along}
    length = figures.of_lines(lambda line: line.length)
    outside = np.where(figures.before_start, -figures.true_distance, figures.true_distance - length)
    beyond = (figures.before_start | figures.past_end) & (outside > off_line)
    yield "beyond end", beyond, {"beyond": outside, "before_start": figures.before_start}
    other = figures.competing_distance
    yield (
        "competing station",
        np.isfinite(other) & ~beside,
        {"other": other, "station": figures.true_distance},
    )
    turn, spans_turn = figures.deflection_deg, figures.span_deflection_deg
    most = figures.of_lines(lambda line: line.limits.span_deflection_deg)
    listed = figures.structures.given_station
    difference = given_stations(figures) - figures.station
    with np.errstate(invalid="ignore"):
        differs = np.abs(spans_turn - turn) > most
        far = np.abs(difference) > figures.of_lines(lambda line: line.ground(line.limits.station_m))
    yield "span deflection", differs, {"turn": turn, "spans_turn": spans_turn}
    said = {"listed": listed, "station": figures.true_distance, "difference": difference}
    yield "station differs", far, said
    yield "no spacing", np.isnan(figures.structures.spacing), {}


def _empty_pi_findings(figures: Figures) -> list[Finding]:
    """Find each turning vertex between the first and last structure of a line that has none."""
    if not len(figures):
        return []
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
        code = "no structure at PI"
        for at in empty[:_MOST_OF_A_KIND]:
            name = line.centreline.name(int(vertex[at] - starts[index]))
            station = _station(line, float(distance[at]) / line.combined_factor)
            values = {"pi": name, "station": station, "turn": float(turn[at])}
            found.append(Finding(line=line.name, structure="", code=code, part=name, values=values))
        found += _rest(line.name, code, len(empty))
    return found


def _near_pi_findings(figures: Figures) -> Iterator[Finding]:
    """Write of each structure beside a PI that it takes it, or that nobody can tell whether it does."""
    starts = np.cumsum([0, *(len(line.centreline.easting) for line in figures.lines)])
    for row in np.flatnonzero(figures.near_pi_vertex >= 0).tolist():
        line, index = figures.line_of(row), int(figures.line_index[row])
        spans_turn = float(figures.span_deflection_deg[row])
        yield finding_at(
            figures,
            row,
            "PI in question" if figures.pi_in_question[row] else "PI taken",
            pi=line.centreline.name(int(figures.near_pi_vertex[row] - starts[index])),
            apart=float(figures.near_pi_apart[row]),
            turn=float(figures.near_pi_turn_deg[row]),
            spans_turn=None if np.isnan(spans_turn) else spans_turn,
            listed=str(figures.structures.given_deflection[row]),
            unit=line.unit.symbol,
        )


def given_stations(figures: Figures) -> NDArray[np.float64]:
    """Return (n,) the stations the list itself gives; nan where it gives none that can be read."""
    return np.array([_given(text) for text in figures.structures.given_station], dtype=np.float64)


@lru_cache(maxsize=1 << 17)
def _given(text: str) -> float:
    if not text:
        return float("nan")
    try:
        return parse_station(text).value
    except ValueError:
        return float("nan")


def _station(line: Line, true_distance: float) -> str:
    station, region = line.stationing.post(np.array([true_distance]))
    text = line.station_text(float(station[0]))
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


def _rest(line: str, code: str, count: int) -> list[Finding]:
    if count <= _MOST_OF_A_KIND:
        return []
    values = {"more": count - _MOST_OF_A_KIND, "kind": code, "count": count}
    return [Finding(line=line, structure="", code="more of a kind", part=code, values=values)]
