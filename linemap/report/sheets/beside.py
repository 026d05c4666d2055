"""What runs beside or across the line, drawn straightened and squeezed in the plan of the strip."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import shapely

from linemap.report.lettering import text_width
from linemap.report.paper import Surface

#: Half the height of the band, and the size of names under it, points.
_BAND, _NAME = 44.0, 5.8
#: Pieces of one thing nearer to each other than this share one name, points.
_ONE_NAME = 170.0
#: Layer -> width, grey and dashes of its line; areas have their edge.
_STROKES: Mapping[str, tuple[float, float, tuple[float, ...]]] = MappingProxyType(
    {
        "road": (1.6, 0.45, ()),
        "access": (0.7, 0.45, (4, 2)),
        "river": (1.0, 0.3, (1.2, 1.6)),
        "wetland": (0.6, 0.4, (0.8, 2.0)),
        "other line": (0.8, 0.2, (7, 2, 1.5, 2)),
    }
)
_STROKE = (0.6, 0.45, (2.0, 2.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class StripLine:
    """Something that runs beside or across the line."""

    #: "road", "river", "other line", "access" and so on.
    layer: str
    name: str
    #: Distance along the line and offset from it, right +; two points at least.
    points: tuple[tuple[float, float], ...]

    def touches(self, start: float, end: float) -> bool:
        """Say whether some of it lies in a stretch."""
        along = [distance for distance, _ in self.points]
        return min(along) < end and max(along) > start


def draw_beside(
    lines: Sequence[StripLine],
    page: Surface,
    *,
    x: Callable[[float], float],
    middle: float,
    window: tuple[float, float, float],
) -> None:
    """Draw what runs beside or across the line, and name each thing under the band it lies in.

    Parameters
    ----------
    lines : sequence of StripLine
    page : Surface
    x : callable
        Distance along the line -> place on the page.
    middle : float
        Height of the line on the page; left of the line is up.
    window : (float, float, float)
        First and last distance, and how far beside the line, of what is drawn.
    """
    start, end, reach = window
    spans: dict[str, list[tuple[float, float]]] = {}
    for one in lines:
        clipped = shapely.clip_by_rect(shapely.LineString(one.points), start, -reach, end, reach)
        width, grey, dash = _STROKES.get(one.layer, _STROKE)
        for part in shapely.get_parts(clipped):
            places = [
                (x(distance), middle - offset / reach * _BAND)
                for distance, offset in shapely.get_coordinates(part).tolist()
            ]
            if len(places) > 1:
                page.path(places, width=width, grey=grey, dash=dash)
                along = [at for at, _ in places]
                spans.setdefault(one.name or one.layer, []).append((min(along), max(along)))
    names = [(at, name) for name, found in spans.items() for at in _name_places(found)]
    _write_names(sorted(names), page, middle - _BAND)


def _name_places(spans: Sequence[tuple[float, float]]) -> Iterator[float]:
    """Give where the name of a thing stands: amid its pieces, those far apart each by themselves."""
    first, last = sorted(spans)[0]
    for begin, end in sorted(spans):
        if end - first > _ONE_NAME:
            yield (first + last) / 2
            first, last = begin, end
        last = max(last, end)
    yield (first + last) / 2


def _write_names(names: Sequence[tuple[float, str]], page: Surface, foot: float) -> None:
    """Write names side by side; one that would meet another goes a row down."""
    ends: list[float] = []
    for x, name in names:
        wide = text_width(name, size=_NAME)
        left = min(max(x - wide / 2, page.left + 34.0), page.right - wide)
        row = next((row for row, end in enumerate(ends) if end + 6.0 < left), len(ends))
        ends[row:] = [left + wide, *ends[row + 1 :]]
        page.text(left, foot - 8.0 - 7.0 * row, name, size=_NAME, grey=0.2)
