"""The job before and after a change as a map shows both: lines, structures, and places that are held."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice
from typing import Literal

import numpy as np

from linemap.answers.change import LineShape, LonLat, Place, ProposalMap
from linemap.domain.crew.hold import Hold
from linemap.geometry.projection import Projection
from linemap.service.files.consequence import Found, place_of
from linemap.service.view.view import JobView

#: Structures that stay as they are, and places of each other sort, that are shown at most.
_MOST = 2000
_What = Literal["added", "removed", "moved", "renumbered"]
_CHANGES: Mapping[str, _What] = {
    "added": "added", "removed": "removed", "moved": "moved", "renumbered": "renumbered"
}  # fmt: skip


def map_of(before: JobView, after: JobView, found: list[Found]) -> ProposalMap | None:
    """Return both states of a job on one map; None when it has no line in either.

    `found` are the consequences: structures that move, come or go are taken from them.
    """
    views = [before, after]
    if not any(view.figures.lines for view in views):
        return None
    changed = [
        Place(
            name=each.structure,
            what="structure",
            change=_CHANGES[each.code],
            before=each.before,
            after=each.after,
        )
        for each in found
        if each.code in _CHANGES
    ]
    named = {place.name for place in changed}
    return ProposalMap(
        lines=[_shape(name, before, after) for name in _line_names(views)],
        places=[
            *_some([place for place in changed if place.change != "moved"]),
            *_some([place for place in changed if place.change == "moved"]),
            *islice(_held(before, after), _MOST),
            *islice(_unchanged(after, named), _MOST),
        ],
    )


def _some(places: list[Place]) -> list[Place]:
    """Return places, evenly taken from along the line where there are many."""
    return places[:: max(1, -(-len(places) // _MOST))]


def _line_names(views: list[JobView]) -> list[str]:
    return list(dict.fromkeys(line.name for view in views for line in view.figures.lines))


def _shape(name: str, before: JobView, after: JobView) -> LineShape:
    was, now = _course(before, name), _course(after, name)
    return LineShape(line=name, before=was, after=now, moved=bool(was and now) and was != now)


def _course(view: JobView, name: str) -> list[LonLat]:
    return [
        place
        for line in view.figures.lines
        if line.name == name
        for place in _places(view.projection, line.centreline.easting, line.centreline.northing)
    ]


def _places(projection: Projection, easting: np.ndarray, northing: np.ndarray) -> list[LonLat]:
    lon, lat = projection.to_lonlat(easting, northing)
    return list(zip(np.round(lon, 7).tolist(), np.round(lat, 7).tolist(), strict=True))


def _unchanged(view: JobView, named: set[str]) -> Iterator[Place]:
    """Give the structures that stay as they are, evenly taken from along the line where there are many."""
    step = max(1, len(view.row_of) // _MOST)
    for (_, number), row in islice(view.row_of.items(), 0, None, step):
        if number not in named:
            place = place_of(view, row)
            yield Place(name=number, what="structure", change="", before=place, after=place)


def _held(before: JobView, after: JobView) -> Iterator[Place]:
    """Give the structures under holds that come or end."""
    was, now = (_holds_of(view) for view in (before, after))
    for key in [*was, *(each for each in now if each not in was)]:
        if (key in was) != (key in now):
            yield Place(
                name=key[0],
                what="hold",
                change="added" if key in now else "removed",
                before=was.get(key),
                after=now.get(key),
            )


def _holds_of(view: JobView) -> dict[tuple[str, tuple[str, str]], LonLat]:
    held: list[tuple[Hold, int]] = [(hold, row) for row, holds in view.holds_by_row.items() for hold in holds]
    return {(hold.id, view.key(row)): place_of(view, row) for hold, row in held}
