"""What a person should know about computed lines: findings on stations, PIs, offsets and spans."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from linemap.domain.design.figures import Figures, network_of
from linemap.domain.design.finding import Finding
from linemap.domain.design.line import Line
from linemap.domain.design.structure import BoolArray
from linemap.geometry.bearing import format_deflection
from linemap.geometry.station import format_station, parse_station

__all__ = ["review"]

#: A vertex turning less than this is no PI that needs a structure. Common practice, no source.
_PI_TURN_DEG = 0.1
#: More findings of one kind on one line than this are told as one, with their count.
_MOST_OF_A_KIND = 50


def review(figures: Figures) -> tuple[Finding, ...]:
    """Return the findings on the computed figures, in line order within each kind.

    The kinds (`Finding.code`): "factor not declared", "no structure at PI", "off line", "off PI",
    "beyond end", "competing station", "span deflection", "station differs", "no spacing".
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
            words="no combined factor is declared: grid lengths are printed as ground lengths",
        )
        for line in figures.lines
        if not line.combined_factor_declared
    ]


def _empty_pi_findings(figures: Figures) -> list[Finding]:
    """Find each turning vertex between the first and last structure of a line that has none."""
    route, vertex, distance, turn, _, _ = network_of(figures.lines).turns()
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
                    words=f"no structure stands at {line.centreline.name(int(vertex[at] - starts[index]))}, "
                    f"station {_station(line, float(distance[at]) / line.combined_factor)}, "
                    f"deflection {format_deflection(float(turn[at]))}",
                )
                for at in empty
            ],
        )
    return found


def _off_line_findings(figures: Figures) -> list[Finding]:
    limit = figures.of_lines(lambda line: line.ground(line.limits.off_line_m))
    off = np.abs(figures.offset) > limit
    along = np.abs(np.nan_to_num(figures.along_from_pi)) > limit
    return _worded(
        figures,
        "off line",
        off,
        lambda row, unit: _offset_words(float(figures.offset[row]), unit),
    ) + _worded(
        figures,
        "off PI",
        along,
        lambda row, unit: (
            f"centre {abs(figures.along_from_pi[row]):.2f} {unit} "
            f"{'ahead of' if figures.along_from_pi[row] > 0 else 'back of'} its PI"
        ),
    )


def _end_findings(figures: Figures) -> list[Finding]:
    def words(row: int, unit: str) -> str:
        line = figures.line_of(row)
        beyond = figures.true_distance[row]
        if figures.before_start[row]:
            return f"centre {-beyond:.2f} {unit} before the start of the centreline"
        return f"centre {beyond - line.length:.2f} {unit} past the end of the centreline"

    limit = figures.of_lines(lambda line: line.ground(line.limits.off_line_m))
    length = figures.of_lines(lambda line: line.length)
    outside = np.where(figures.before_start, -figures.true_distance, figures.true_distance - length) > limit
    return _worded(figures, "beyond end", (figures.before_start | figures.past_end) & outside, words)


def _competing_findings(figures: Figures) -> list[Finding]:
    def words(row: int, _unit: str) -> str:
        line = figures.line_of(row)
        return (
            "another leg of the line is about as near: station "
            f"{_station(line, float(figures.competing_distance[row]))} competes with "
            f"{_station(line, float(figures.true_distance[row]))}"
        )

    return _worded(figures, "competing station", np.isfinite(figures.competing_distance), words)


def _span_deflection_findings(figures: Figures) -> list[Finding]:
    limit = figures.of_lines(lambda line: line.limits.span_deflection_deg)
    with np.errstate(invalid="ignore"):
        differs = np.abs(figures.span_deflection_deg - figures.deflection_deg) > limit

    def words(row: int, _unit: str) -> str:
        turn = float(figures.deflection_deg[row])
        spans = format_deflection(float(figures.span_deflection_deg[row]))
        return (
            f"the spans turn {spans} here, the centreline {format_deflection(turn) if turn else 'does not'}"
        )

    return _worded(figures, "span deflection", differs, words)


def _station_findings(figures: Figures) -> list[Finding]:
    given = np.array([_given(text) for text in figures.structures.given_station], dtype=np.float64)
    limit = figures.of_lines(lambda line: line.ground(line.limits.station_m))
    with np.errstate(invalid="ignore"):
        differs = np.abs(given - figures.station) > limit

    def words(row: int, unit: str) -> str:
        line = figures.line_of(row)
        computed = _station(line, float(figures.true_distance[row]))
        return (
            f"the list says station {figures.structures.given_station[row]}, the centreline gives {computed} "
            f"({given[row] - figures.station[row]:+.2f} {unit})"
        )

    return _worded(figures, "station differs", differs, words)


def _given(text: str) -> float:
    if not text:
        return float("nan")
    try:
        return parse_station(text).value
    except ValueError:
        return float("nan")


def _spacing_findings(figures: Figures) -> list[Finding]:
    return _worded(
        figures,
        "no spacing",
        np.isnan(figures.structures.spacing),
        lambda _row, _unit: "no pole spacing is given: pole positions are not available",
    )


def _offset_words(offset: float, unit: str) -> str:
    return f"centre {abs(offset):.2f} {unit} {'right' if offset > 0 else 'left'} of the line"


def _station(line: Line, true_distance: float) -> str:
    station, region = line.stationing.post(np.array([true_distance]))
    text = format_station(float(station[0]), per_plus=line.per_plus, decimals=line.station_decimals)
    return f"{text} (R{region[0]})" if line.stationing.equations else text


def _worded(figures: Figures, code: str, where: BoolArray, words: Callable[[int, str], str]) -> list[Finding]:
    """Word one finding for each row of `where`, told as one per line when they are too many."""
    found: list[Finding] = []
    for index in np.unique(figures.line_index[where]):
        line = figures.lines[index]
        rows = np.flatnonzero(where & (figures.line_index == index))
        shown = [
            Finding(
                line=line.name,
                structure=figures.structures.number[row],
                code=code,
                words=words(int(row), line.unit.symbol),
            )
            for row in rows[:_MOST_OF_A_KIND]
        ]
        found += shown + _rest(line.name, code, len(rows))
    return found


def _limited(line: str, code: str, found: list[Finding]) -> list[Finding]:
    return found[:_MOST_OF_A_KIND] + _rest(line, code, len(found))


def _rest(line: str, code: str, count: int) -> list[Finding]:
    if count <= _MOST_OF_A_KIND:
        return []
    words = f'{count - _MOST_OF_A_KIND} more of the kind "{code}" ({count} in all)'
    return [Finding(line=line, structure="", code=code, words=words)]
