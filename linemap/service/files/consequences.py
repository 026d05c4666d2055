"""What a change of the job would bring about: the job as it stands against the job as it would be.

Both are computed whole, so nothing that follows from a list is forgotten; a consequence is a code with the
places it shows at, and its sentence is made here alone.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np
import shapely

from linemap.answers.change import LonLat
from linemap.domain.design.renumbered import renumbered
from linemap.domain.design.revision import Change, compare
from linemap.domain.design.structure import Structures
from linemap.domain.finding.phrase import length_text
from linemap.service.files.consequence import Found, Key, place_of, placed
from linemap.service.files.consequences_of_work import of_lists, of_places, of_survey, of_work
from linemap.service.files.keep import is_elsewhere
from linemap.service.view.marks import marks_of
from linemap.service.view.view import JobView

_NOTHING: Mapping[Key, str] = MappingProxyType({})


def consequences(before: JobView, after: JobView, anew: Mapping[Key, str] = _NOTHING) -> Iterator[Found]:
    """Give what follows when a job goes from `before` to `after`; nothing when both are one.

    `before` names its structures as they are written in `after`; `anew` says how, of those that were written
    another way.
    """
    if before is after:
        return
    for (line, was), now in anew.items():
        yield placed(
            after, after.row_of[line, now], code="written anew", words=f"written so instead of {was}"
        )
    stands_as: dict[Key, Key] = {}
    yield from _of_structures(before, after, stands_as)
    yield from _of_centrelines(before, after)
    yield from _of_marks(before, after)
    yield from of_lists(before, after)
    yield from of_places(before, after, stands_as)
    yield from of_work(before, after, stands_as)
    yield from of_survey(before, after)


def _of_line(view: JobView, line: str) -> Structures:
    structures = view.figures.structures
    return structures.take(np.flatnonzero(structures.line == line))


def _of_structures(before: JobView, after: JobView, stands_as: dict[Key, Key]) -> Iterator[Found]:
    """Give what becomes of structures; note in `stands_as` what those that get another number are now."""
    for line in dict.fromkeys(line.name for view in (before, after) for line in view.figures.lines):
        rule = next(each for view in (after, before) for each in view.figures.lines if each.name == line)
        old, new = _of_line(before, line), _of_line(after, line)
        found = compare(old, new, unit=rule.unit, combined_factor=rule.combined_factor)
        followed = renumbered(old, new, rule.unit) if found else {}
        stands_as |= {(line, was): (line, now) for was, now in followed.items()}
        named = {*followed, *followed.values()}
        for was, now in followed.items():
            yield Found(
                code="renumbered",
                words=f"stands where {was} stood",
                line=line,
                structure=now,
                before=_where(before, (line, was)),
                after=_where(after, (line, now)),
            )
        for change in found:
            if change.change == "changed" or change.number not in named:
                yield _of_change(before, after, line, change)
        elsewhere = {change.number for change in found if is_elsewhere(change)}
        yield from _without_structure(before, after, line, followed, elsewhere)


def _of_change(before: JobView, after: JobView, line: str, change: Change) -> Found:
    key = (line, change.number)
    far = length_text(change.values["distance"], change.values["unit"]) if change.change == "moved" else ""
    return Found(
        code=change.change,
        words=f"moves {far}" if far else change.words,
        line=line,
        structure=change.number,
        before=_where(before, key),
        after=_where(after, key),
        size=float(change.values.get("distance", 0.0)),
        size_text=far,
    )


def _where(view: JobView, key: Key) -> LonLat | None:
    row = view.row_of.get(key)
    return None if row is None else place_of(view, row)


def _without_structure(
    before: JobView, after: JobView, line: str, followed: Mapping[str, str], elsewhere: Collection[str]
) -> Iterator[Found]:
    for key, events in before.events_by_structure.items():
        if key[0] != line or key not in before.row_of:
            continue
        there = key in after.row_of
        if not there or key[1] in followed or key[1] in elsewhere:
            count = f"{len(events)} record{'s' * (len(events) > 1)}"
            now = (
                "another place stands under that number"
                if there
                else "no structure has that number, kept as a case"
            )
            follows = key[1] in followed
            yield Found(
                code="records follow" if follows else "record without structure",
                words=f"{count}: now at {followed[key[1]]}" if follows else f"{count}: {now}",
                line=line,
                structure=key[1],
                before=_where(before, key),
                after=_where(after, key),
                size=len(events),
            )


def _of_centrelines(before: JobView, after: JobView) -> Iterator[Found]:
    was = {line.name: line for line in before.figures.lines}
    for name in [each for each in was if each not in {line.name for line in after.figures.lines}]:
        yield Found(code="centreline moved", words=f"{name}: taken out", line=name)
    for line in after.figures.lines:
        old = was.get(line.name)
        if old is None:
            continue
        one, other = (
            shapely.LineString(np.column_stack([each.centreline.easting, each.centreline.northing]))
            for each in (old, line)
        )
        if one.equals(other):
            continue
        far = float(shapely.hausdorff_distance(one, other)) / line.combined_factor
        shift = _shift(before, after, line.name)
        yield Found(
            code="centreline moved",
            words=f"{line.name}: by up to {length_text(far, line.unit.symbol)}{shift}",
            line=line.name,
            size=far,
        )


def _shift(before: JobView, after: JobView, line: str) -> str:
    """Say by how much stations of structures change."""
    rows = [
        (row, after.row_of[key])
        for key, row in before.row_of.items()
        if key[0] == line and key in after.row_of
    ]
    if not rows:
        return ""
    old, new = np.array(rows).T
    shift = np.abs(after.figures.station[new] - before.figures.station[old])
    if not (shift > 0.005).any():
        return ", no station changes"
    unit = next(each.unit for each in after.figures.lines if each.name == line)
    return f", stations by up to {length_text(float(np.nanmax(shift)), unit.symbol)}"


def _of_marks(before: JobView, after: JobView) -> Iterator[Found]:
    """Give the structures whose marks differ, of those that anything differs of that marks are made from."""
    for key, row in after.row_of.items():
        old = before.row_of.get(key)
        if old is None or not _may_differ(before, after, key, old, row):
            continue
        was, now = (marks_of(view, *key) for view in (before, after))
        if (was.poles, was.sentences) != (now.poles, now.sentences):
            said = next(
                (each for each in now.sentences if each not in was.sentences), "other drops or depths"
            )
            yield replace(placed(after, row, code="marks", words=said), before=place_of(before, old))


def _may_differ(before: JobView, after: JobView, key: Key, old: int, new: int) -> bool:
    one, other = before.figures.structures, after.figures.structures
    code, was = other.type_code[new], one.type_code[old]
    return bool(
        code != was
        or before.framing.get(code) != after.framing.get(code)
        or before.poles_by_structure.get(key) != after.poles_by_structure.get(key)
        or any(
            first != then and not (first != first and then != then)  # nan is not itself
            for first, then in (
                (one.spacing[old], other.spacing[new]),
                (one.elevation[old], other.elevation[new]),
            )
        )
    )
