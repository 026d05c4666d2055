"""Spans: back, ahead, wind, weight and ruling spans, and the sections between dead-ends.

All arrays are in line order, one row a structure; `route` says which line a row belongs to, rows of one
line stand together, and no span crosses from one line to the next. A span is a horizontal ground distance
between structure centres, never a difference of stations.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def spans(
    easting: ArrayLike, northing: ArrayLike, route: ArrayLike, *, combined_factor: ArrayLike = 1.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Back and ahead span of every structure from its grid position; nan at the ends of a line.

    Grid length = ground length × combined factor. With one factor per structure, a span uses the mean of its
    two ends. Raises ValueError if the arrays differ in length.

    >>> back, ahead = spans([0.0, 3.0, 3.0], [0.0, 4.0, 9.0], [0, 0, 1])
    >>> back.tolist(), ahead.tolist()
    ([nan, 5.0, nan], [5.0, nan, nan])
    """
    east, north = np.asarray(easting, dtype=np.float64), np.asarray(northing, dtype=np.float64)
    joined = ~_starts(route, east.size)[1:]
    if east.shape != north.shape:
        raise ValueError(f"{east.size} eastings and {north.size} northings; give one of each per structure")
    factor = np.broadcast_to(np.asarray(combined_factor, dtype=np.float64), east.shape)
    between = np.hypot(np.diff(east), np.diff(north)) / (0.5 * (factor[1:] + factor[:-1]))
    between = np.where(joined, between, np.nan)
    return _ahead_of_gap(between, east.size), _behind_gap(between, east.size)


def wind_spans(back: ArrayLike, ahead: ArrayLike) -> NDArray[np.float64]:
    """Half the sum of the spans a structure has; nan where it has none.

    Source: the usual definition of the horizontal span, (L1 + L2) / 2, e.g. T. Gönen, Electric Power
    Transmission System Engineering, 2nd edition.

    >>> wind_spans([np.nan, 800.0], [800.0, np.nan]).tolist()
    [400.0, 400.0]
    """
    behind, before = np.asarray(back, dtype=np.float64), np.asarray(ahead, dtype=np.float64)
    total = np.nan_to_num(behind, nan=0.0) + np.nan_to_num(before, nan=0.0)
    return np.where(np.isnan(behind) & np.isnan(before), np.nan, 0.5 * total)


def weight_spans(
    back: ArrayLike, ahead: ArrayLike, attachment_elevation: ArrayLike, catenary_constant: ArrayLike
) -> NDArray[np.float64]:
    """Horizontal distance between the low points of the spans on both sides of each structure.

    The low point of a catenary between supports S apart and h different in height stands
    S/2 − c·asinh(h / (2c·sinh(S/2c))) from the lower-numbered one, so the parts of each span add up to the
    span. Negative means uplift. An end structure has the part of its one span.

    The catenary constant is horizontal tension over weight per length, of the span ahead of each structure,
    in the length unit of spans and elevations. nan: not known, and then so is the weight span of both its
    structures; zero or less raises ValueError.

    >>> weight_spans([np.nan, 800.0], [800.0, np.nan], [100.0, 120.0], 4000.0).round(2).tolist()
    [300.18, 499.82]
    """
    behind, before = np.asarray(back, dtype=np.float64), np.asarray(ahead, dtype=np.float64)
    height = np.asarray(attachment_elevation, dtype=np.float64)
    constant = np.broadcast_to(np.asarray(catenary_constant, dtype=np.float64), before.shape)
    if np.any(constant <= 0.0):
        raise ValueError(
            f"catenary constant {np.nanmin(constant):g} is not above zero; leave unknown ones empty"
        )
    shift = _low_point_shift(before[:-1], np.diff(height), constant[:-1])
    ahead_part = np.where(np.isnan(before), 0.0, 0.5 * before - _behind_gap(shift, before.size))
    back_part = np.where(np.isnan(behind), 0.0, 0.5 * behind + _ahead_of_gap(shift, before.size))
    return np.where(np.isnan(behind) & np.isnan(before), np.nan, back_part + ahead_part)


def ruling_spans(ahead: ArrayLike, section_break: ArrayLike, route: ArrayLike) -> NDArray[np.float64]:
    """Ruling span sqrt(ΣL³/ΣL) of the section ahead of each structure; at a line's end, of the one behind.

    Source: utility sag manual WSC01, page 1. A section begins where the wire ends: `section_break`, a
    dead-end. One unknown span makes its section unknown (nan); so does a section without length.

    >>> ruling_spans([300.0, 400.0, np.nan], [True, False, True], [0, 0, 0]).round(3).tolist()
    [360.555, 360.555, 360.555]
    """
    span = np.asarray(ahead, dtype=np.float64)
    number = sections(section_break, route)
    begins = _starts(route, span.size)
    section = np.cumsum(np.diff(number, prepend=0) != 0 | begins)
    counted = np.where(_ends(begins), 0.0, span)
    length = np.bincount(section, weights=counted)
    cubes = np.bincount(section, weights=counted**3)
    with np.errstate(divide="ignore", invalid="ignore"):
        ruling = np.sqrt(cubes / length)
    return np.asarray(ruling[section])


def sections(section_break: ArrayLike, route: ArrayLike) -> NDArray[np.int64]:
    """Section number of the span ahead of each structure, from 1 in each line; 0 where there is no span.

    The last structure of a line has the number of the section behind it.

    >>> sections([True, False, True, False, True, True], [0, 0, 0, 0, 0, 1]).tolist()
    [1, 1, 2, 2, 2, 0]
    """
    breaks = np.asarray(section_break, dtype=bool)
    begins = _starts(route, breaks.size)
    ends = _ends(begins)
    passed = np.cumsum(breaks & ~begins & ~ends)
    first = np.maximum.accumulate(np.where(begins, np.arange(breaks.size), 0))
    number = 1 + passed - passed[first]
    return np.where(begins & ends, 0, number).astype(np.int64)


def _low_point_shift(
    span: NDArray[np.float64], rise: NDArray[np.float64], constant: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far the low point stands back of mid-span, for supports that rise ahead by `rise`."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        shift = constant * np.arcsinh(rise / (2.0 * constant * np.sinh(span / (2.0 * constant))))
    return np.where(span == 0.0, 0.0, shift)


def _starts(route: ArrayLike, size: int) -> NDArray[np.bool_]:
    """Mark where a line begins."""
    line = np.asarray(route)
    if line.shape != (size,):
        raise ValueError(f"{line.size} line numbers for {size} structures; give one per structure")
    begins = np.ones(size, dtype=bool)
    begins[1:] = line[1:] != line[:-1]
    return begins


def _ends(begins: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark where a line ends, from where lines begin."""
    return np.append(begins[1:], True)[: begins.size]


def _ahead_of_gap(between: NDArray[np.float64], size: int) -> NDArray[np.float64]:
    """Values between neighbours, set on the one ahead; nan on the first."""
    return np.concatenate(([np.nan], between))[:size]


def _behind_gap(between: NDArray[np.float64], size: int) -> NDArray[np.float64]:
    """Values between neighbours, set on the one behind; nan on the last."""
    return np.concatenate((between, [np.nan]))[:size]
