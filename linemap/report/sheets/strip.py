"""The strip: plan and profile of a stretch of line on each page, with crossings and station equations."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np

from linemap.report import Paper
from linemap.report.paper import LANDSCAPE, Surface, TitleBlock, draw_pages
from linemap.report.sheets.beside import StripLine, draw_beside

_PLAN = 150.0
_STATIONS = 74.0
_AXIS = 40.0
#: The ground line is drawn over at least so much height, in the unit of the line.
_LEAST_RELIEF = 100.0
_TOLD = "plan not to scale across; ground as given at structures, straight between; poles by framing type"
_MIDDLE = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StripPole:
    """One pole in the profile."""

    name: str
    #: Elevations of ground line and top.
    ground: float
    top: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StripStructure:
    """One structure; lengths and elevations in ground units, distances from the start of the line."""

    distance: float
    number: str
    station: str
    #: Turn of the line, "" on tangents.
    turn: str
    #: Signed, right +.
    offset: float
    #: What the poles are called, from left to right, facing ahead.
    left_to_right: tuple[str, ...]
    #: Ground at the centre; None = not given.
    ground: float | None
    #: Poles whose height is known.
    poles: tuple[StripPole, ...]
    held: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StripPlace:
    """Something at one distance: a crossing, an equation, a station of the axis."""

    distance: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StripParcel:
    """A parcel the line runs through, without its owner."""

    start: float
    end: float
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One page."""

    line: str
    start: float
    end: float
    unit: str
    structures: tuple[StripStructure, ...]
    crossings: tuple[StripPlace, ...]
    #: Station equations in words: where stations jump.
    breaks: tuple[StripPlace, ...]
    ticks: tuple[StripPlace, ...]
    parcels: tuple[StripParcel, ...]
    #: Roads, water and other lines, drawn squeezed across as far as `reach` from the line.
    beside: tuple[StripLine, ...] = ()
    reach: float = 1.0
    #: Distance and ground of the structures before and after the stretch, where the ground line goes on.
    neighbours: tuple[tuple[float, float], ...] = ()


def strip_pdf(title_block: TitleBlock, stretches: Sequence[Stretch], *, paper: Paper = "letter") -> bytes:
    """Return plan over profile, a page for each stretch, ahead to the right."""
    return draw_pages(title_block, [partial(_draw, stretch) for stretch in stretches], size=LANDSCAPE[paper])


class _Across:
    """Where distances and elevations lie on the page."""

    def __init__(self, stretch: Stretch, page: Surface) -> None:
        self.left = page.left + 34.0
        self.scale = (page.right - 8.0 - self.left) / (stretch.end - stretch.start)
        self._start = stretch.start
        levels = [level for _, level in _ground(stretch)]
        levels += [
            level for each in stretch.structures for pole in each.poles for level in (pole.ground, pole.top)
        ]
        self.low = min(levels, default=0.0)
        self.relief = max(max(levels, default=0.0) - self.low, _LEAST_RELIEF)
        self.foot = page.bottom + _AXIS
        self.rise = (page.top - _PLAN - _STATIONS - self.foot - 12.0) / self.relief
        self.known = bool(levels)

    def x(self, distance: float) -> float:
        return self.left + (distance - self._start) * self.scale

    def y(self, elevation: float) -> float:
        return self.foot + (elevation - self.low) * self.rise


def _draw(stretch: Stretch, page: Surface) -> None:
    across = _Across(stretch, page)
    words = f"{stretch.line}; ahead is right; 1 in = {72 / across.scale:,.0f} {stretch.unit} along"
    heights = f", {72 / across.rise:,.0f} {stretch.unit} up" if across.known else ""
    page.text(page.left, page.top - 8.0, f"{words}{heights}", size=7.0)
    page.text(page.right, page.top - 8.0, _TOLD, size=6.0, grey=0.25, anchor="end")
    _parcels(stretch, page, across)
    draw_beside(
        stretch.beside,
        page,
        x=across.x,
        middle=page.top - _MIDDLE,
        window=(stretch.start, stretch.end, stretch.reach),
    )
    _plan(stretch, page, across)
    _profile(stretch, page, across)
    _places(stretch, page, across)
    _axis(stretch, page, across)


def _parcels(stretch: Stretch, page: Surface, across: _Across) -> None:
    y = page.top - 24.0
    for parcel in stretch.parcels:
        start, end = max(parcel.start, stretch.start), min(parcel.end, stretch.end)
        for at in (start, end):
            page.line((across.x(at), y + 8.0), (across.x(at), y - 8.0), width=0.5, grey=0.4)
        page.line((across.x(start), y - 8.0), (across.x(end), y - 8.0), width=0.5, grey=0.4)
        page.text((across.x(start) + across.x(end)) / 2, y - 3.0, parcel.name, size=6.4, anchor="middle")
    page.text(page.left, y - 3.0, "parcel", size=6.0, grey=0.3)


def _plan(stretch: Stretch, page: Surface, across: _Across) -> None:
    """Draw the line straightened, each structure with its poles left (up) and right (down) of it."""
    y = page.top - _MIDDLE
    page.text(page.left, y - 2.0, "plan", size=6.0, grey=0.3)
    page.line((across.x(stretch.start), y), (across.x(stretch.end), y), width=1.0, dash=(9, 3, 2, 3))
    for each in stretch.structures:
        x = across.x(each.distance)
        places = [
            y + 13.0 - 26.0 * n / max(len(each.left_to_right) - 1, 1) for n in range(len(each.left_to_right))
        ]
        page.line((x, places[0]), (x, places[-1]), width=1.4)
        for name, up in zip(each.left_to_right, places, strict=True):
            page.circle(x, up, 4.6, width=0.8, fill=1.0)
            page.text(x, up - 2.3, name, size=6.0 if len(name) < 3 else 3.6, bold=True, anchor="middle")
        page.text(
            x, y + 33.0, each.number + (" HELD" if each.held else ""), size=8.0, bold=True, anchor="middle"
        )
        page.text(x, y + 24.0, each.turn, size=5.8, anchor="middle")
        if abs(each.offset) >= 0.05:
            side = "R" if each.offset > 0 else "L"
            page.text(x, y - 25.0, f"{abs(each.offset):.1f} {side}", size=5.8, anchor="middle")
        page.upright(x + 2.0, page.top - _PLAN - _STATIONS + 2.0, each.station, size=6.6)


def _profile(stretch: Stretch, page: Surface, across: _Across) -> None:
    """Draw the ground between structures as straight lines, and the poles at their heights."""
    if not across.known:
        page.text(
            across.left, across.foot + 60.0, "profile not available: no ground elevation is given", size=8.0
        )
        return
    ground = [*_ground(stretch)]
    if len(ground) > 1:
        page.path([(across.x(distance), across.y(level)) for distance, level in ground], width=1.1)
    for each in stretch.structures:
        for place, pole in enumerate(each.poles):
            x = across.x(each.distance) + 5.0 * (place - (len(each.poles) - 1) / 2)
            page.line((x, across.y(pole.ground)), (x, across.y(pole.top)), width=1.6)
        if not each.poles:
            page.upright(
                across.x(each.distance) + 2.0,
                across.foot + 4.0,
                "pole height not available",
                size=5.4,
                grey=0.3,
            )
    for level in (across.low, across.low + across.relief):
        page.text(across.left - 5.0, across.y(level) - 2.0, f"{level:,.0f}", size=5.8, anchor="end")
    page.text(page.left, across.foot + 8.0, f"elevation, {stretch.unit}", size=5.4, grey=0.3)
    page.line((across.left, across.foot), (across.left, across.y(across.low + across.relief)), width=0.5)


def _ground(stretch: Stretch) -> Iterator[tuple[float, float]]:
    """Give the ground at the structures, and at the edges of the page on the way to the next ones."""
    known = [(each.distance, each.ground) for each in stretch.structures if each.ground is not None]
    known = sorted({*known, *stretch.neighbours})
    distances, levels = [at for at, _ in known], [level for _, level in known]
    for edge in (stretch.start, stretch.end):
        if known and distances[0] < edge < distances[-1]:
            known.append((edge, float(np.interp(edge, distances, levels))))
    yield from sorted(one for one in known if stretch.start <= one[0] <= stretch.end)


def _places(stretch: Stretch, page: Surface, across: _Across) -> None:
    """Draw crossings and the breaks of the stations over plan and profile."""
    for crossing in stretch.crossings:
        x = across.x(crossing.distance)
        page.line((x, page.top - 40.0), (x, across.foot), width=0.8, grey=0.35, dash=(2, 2))
        page.upright(x + _beside(stretch, crossing.distance), across.foot + 5.0, crossing.words, size=6.4)
    for one in stretch.breaks:
        x = across.x(one.distance)
        for shift in (-1.5, 1.5):
            page.line((x + shift, page.top - 40.0), (x + shift, page.bottom + 18.0), width=0.9)
        page.upright(x + 9.0, across.foot + 5.0, one.words, size=7.0)


def _beside(stretch: Stretch, distance: float) -> float:
    """Return how far right of a line its words stand: on the side away from the nearest structure."""
    nearest = min(
        (each.distance for each in stretch.structures), key=lambda at: abs(at - distance), default=distance
    )
    return -2.5 if nearest > distance else 8.0


def _axis(stretch: Stretch, page: Surface, across: _Across) -> None:
    y = page.bottom + 20.0
    page.text(page.left, y - 2.0, "station", size=6.0, grey=0.3)
    edges = [
        stretch.start,
        *(one.distance for one in stretch.breaks if one.distance > stretch.start),
        stretch.end,
    ]
    for start, end in pairwise(edges):
        gap = 1.5 if start != stretch.start else 0.0
        page.line(
            (across.x(start) + gap, y), (across.x(end) - (1.5 if end != stretch.end else 0.0), y), width=0.9
        )
    for tick in stretch.ticks:
        x = across.x(tick.distance)
        page.line((x, y), (x, y + 4.0), width=0.6)
        page.text(x, y - 8.0, tick.words, size=6.0, anchor="middle")
