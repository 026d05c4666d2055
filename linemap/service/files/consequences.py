"""What a change of the job would bring about: the job as it stands against the job as it would be.

Both are computed whole, so nothing that follows from a list is forgotten; a consequence is a code with the
places it shows at, and its sentence is made here alone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import shapely

from linemap.answers.change import Consequence, Effect, LonLat, Weight
from linemap.domain.crew.next_structure import crews_of_steps
from linemap.domain.crew.refusal import Asked, Obstacle, Site, obstacles_of
from linemap.domain.design.revision import Change, compare
from linemap.domain.design.structure import Structures
from linemap.domain.finding.code import Severity
from linemap.domain.finding.phrase import length_text
from linemap.domain.kind.compare import compare_records
from linemap.domain.kind.kind import Keeps
from linemap.service.crew.crew_sites import done_by, sites_of, unneeded_steps
from linemap.service.view.lists import lists_of_view, records_of
from linemap.service.view.marks import marks_of
from linemap.service.view.view import JobView

#: Effects of one consequence that are told one by one.
_SHOWN = 200
#: Structures nearer than this to where another number stood are that one under a new number, metres.
_SAME_PLACE_M = 0.3
_Key = tuple[str, str]


class _Code(NamedTuple):
    weight: Weight
    #: What happens, of one and of several: "{count}" is how many.
    one: str
    several: str


def _of(weight: Weight, noun: str, one: str, several: str = "") -> _Code:
    return _Code(weight, f"1 {noun} {one}", f"{{count}} {noun}s {several or one}")


#: Every consequence there is, the gravest first.
_CODES: Mapping[str, _Code] = {
    "record without structure": _of("harm", "structure", "with records is no longer listed",
                                    "with records are no longer listed"),
    "held back no more": _of("harm", "record", "that holds people back ends", "that hold people back end"),
    "centreline moved": _of("harm", "centreline", "takes another course", "take another course"),
    "becomes workable": _of("look", "step", "becomes workable by the records",
                            "become workable by the records"),
    "stops being workable": _of("look", "step", "stops being workable", "stop being workable"),
    "moved": _of("look", "structure", "moves", "move"),
    "renumbered": _of("look", "structure", "gets another number", "get other numbers"),
    "removed": _of("look", "structure", "is taken out", "are taken out"),
    "verdict": _of("look", "verdict", "changes", "change"),
    "finding": _of("look", "finding", "is new", "are new"),
    "marks": _of("look", "structure", "is marked otherwise", "are marked otherwise"),
    "taken out": _of("look", "record of a list", "is taken out", "are taken out"),
    "changed": _of("note", "structure", "is described otherwise", "are described otherwise"),
    "list changed": _of("note", "record of a list", "reads otherwise", "read otherwise"),
    "added": _of("note", "structure", "is added", "are added"),
    "list added": _of("note", "record of a list", "is added", "are added"),
    "finding closed": _of("note", "finding", "is gone", "are gone"),
}  # fmt: skip
_ORDER = tuple(_CODES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One consequence at one place."""

    code: str
    words: str
    line: str = ""
    structure: str = ""
    before: LonLat | None = None
    after: LonLat | None = None
    #: The larger, the earlier it is told.
    size: float = 0.0


def gathered(found: Iterable[Found]) -> list[Consequence]:
    """Gather consequences by their codes, the gravest first, each with its largest effects first."""
    by_code: dict[str, list[Found]] = {}
    for each in found:
        by_code.setdefault(each.code, []).append(each)
    return [
        Consequence(
            code=code,
            weight=_CODES[code].weight,
            words=_words(code, by_code[code]),
            count=len(by_code[code]),
            effects=[
                Effect(
                    words=each.words,
                    line=each.line,
                    structure=each.structure,
                    before=each.before,
                    after=each.after,
                )
                for each in sorted(by_code[code], key=lambda one: -one.size)[:_SHOWN]
            ],
        )
        for code in _ORDER
        if code in by_code
    ]


def _words(code: str, found: Sequence[Found]) -> str:
    words = _CODES[code].one if len(found) == 1 else _CODES[code].several
    farthest = max(found, key=lambda one: one.size)
    tail = f", the farthest {farthest.words.removeprefix('moves ')}" if code == "moved" and found[1:] else ""
    return words.format(count=f"{len(found):,}") + tail


def consequences(before: JobView | None, after: JobView | None) -> Iterator[Found]:
    """Give what follows when a job goes from `before` to `after`; None = it has no line yet.

    Both are as their reader may see them: what is restricted is in neither.
    """
    if after is None:
        return
    if before is None:
        yield from (_placed(after, row, code="added", words="added") for row in after.row_of.values())
        return
    yield from _of_structures(before, after)
    yield from _of_centrelines(before, after)
    yield from _of_marks(before, after)
    yield from _of_lists(before, after)
    yield from _of_work(before, after)
    yield from _of_survey(before, after)


def place_of(view: JobView, row: int) -> LonLat:
    """Return longitude and latitude of the design centre of a row, degrees."""
    structures = view.figures.structures
    lon, lat = view.projection.to_lonlat(structures.easting[row], structures.northing[row])
    return (round(float(lon), 7), round(float(lat), 7))


def _placed(view: JobView, row: int, *, code: str, words: str) -> Found:
    line, number = view.key(row)
    return Found(code=code, words=words, line=line, structure=number, after=place_of(view, row))


def _of_line(view: JobView, line: str) -> Structures:
    structures = view.figures.structures
    return structures.take(np.flatnonzero(structures.line == line))


def _of_structures(before: JobView, after: JobView) -> Iterator[Found]:
    for line in dict.fromkeys(line.name for view in (before, after) for line in view.figures.lines):
        rule = next(each for view in (after, before) for each in view.figures.lines if each.name == line)
        old, new = _of_line(before, line), _of_line(after, line)
        found = compare(old, new, unit=rule.unit, combined_factor=rule.combined_factor)
        renumbered = dict(_renumbered(old, new, found, _SAME_PLACE_M / rule.unit.metres))
        named = {*renumbered, *renumbered.values()}
        for was, now in renumbered.items():
            yield Found(
                code="renumbered",
                words=f"{was} becomes {now}",
                line=line,
                structure=now,
                before=_where(before, (line, was)),
                after=_where(after, (line, now)),
            )
        for change in found:
            if change.change not in {"removed", "added"} or change.number not in named:
                yield _of_change(before, after, line, change)
        yield from _without_structure(before, after, line, renumbered)


def _of_change(before: JobView, after: JobView, line: str, change: Change) -> Found:
    key = (line, change.number)
    words = {"moved": change.words.replace("moved", "moves")}.get(change.change, change.words)
    return Found(
        code=change.change,
        words=words,
        line=line,
        structure=change.number,
        before=_where(before, key),
        after=_where(after, key),
        size=float(change.values.get("distance", 0.0)),
    )


def _where(view: JobView, key: _Key) -> LonLat | None:
    row = view.row_of.get(key)
    return None if row is None else place_of(view, row)


def _renumbered(
    old: Structures, new: Structures, found: Sequence[Change], near: float
) -> Iterator[tuple[str, str]]:
    """Give the numbers that went with those that came at the same place."""
    gone = [list(old.number).index(each.number) for each in found if each.change == "removed"]
    came = [list(new.number).index(each.number) for each in found if each.change == "added"]
    if not (gone and came):
        return
    tree = shapely.STRtree(list(map(shapely.Point, new.easting[came], new.northing[came])))
    places = shapely.points(old.easting[gone], old.northing[gone])
    for was, now in zip(*tree.query_nearest(places, max_distance=near, all_matches=False), strict=True):
        yield str(old.number[gone[was]]), str(new.number[came[now]])


def _without_structure(
    before: JobView, after: JobView, line: str, renumbered: Mapping[str, str]
) -> Iterator[Found]:
    for key, events in before.events_by_structure.items():
        if key[0] == line and key in before.row_of and key not in after.row_of:
            to = f"; its place is {renumbered[key[1]]} now" if key[1] in renumbered else ""
            count = f"{len(events)} record{'s' * (len(events) > 1)}"
            yield Found(
                code="record without structure",
                words=f"{count} at {key[1]} {'have' if len(events) > 1 else 'has'} no structure any more{to}",
                line=line,
                structure=key[1],
                before=_where(before, key),
                size=len(events),
            )


def _of_centrelines(before: JobView, after: JobView) -> Iterator[Found]:
    was = {line.name: line for line in before.figures.lines}
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
            yield replace(_placed(after, row, code="marks", words=said), before=place_of(before, old))


def _may_differ(before: JobView, after: JobView, key: _Key, old: int, new: int) -> bool:
    one, other = before.figures.structures, after.figures.structures
    code, was = str(other.type_code[new]), str(one.type_code[old])
    return (
        code != was
        or before.framing.get(code) != after.framing.get(code)
        or before.poles_by_structure.get(key) != after.poles_by_structure.get(key)
        or any(
            not np.array_equal(getattr(one, name)[old], getattr(other, name)[new], equal_nan=name != "rule")
            for name in ("spacing", "elevation")
        )
    )


def _of_lists(before: JobView, after: JobView) -> Iterator[Found]:
    codes = {"removed": "taken out", "added": "list added", "changed": "list changed"}
    unit = after.figures.lines[0].unit
    for _, kind in lists_of_view():
        if kind.code == "structures":
            continue
        old, new = records_of(before, kind), records_of(after, kind)
        if old is new or old == new:
            continue
        for found in compare_records(kind, old, new, unit=unit):
            code = (
                "held back no more"
                if found.change == "removed" and kind.keeps is Keeps.KEYED
                else codes[found.change]
            )
            yield Found(code=code, words=found.words)


def _of_work(before: JobView, after: JobView) -> Iterator[Found]:
    """Give the steps that become workable by the records, and those that stop being so."""
    was = {(site.line, site.number): site for site in sites_of(before)}
    asks = (_asker(before), _asker(after))
    all_differ = bool(before.tickets) != bool(after.tickets) or before.workflow != after.workflow
    unneeded = unneeded_steps(after)
    for site in sites_of(after):
        key = (site.line, site.number)
        old = was.get(key)
        if old is None or not (all_differ or _differ(old, site)):
            continue
        for step in after.workflow.order():
            if step.code in site.status.done or step.code in unneeded.get(key, ()):
                continue
            first = obstacles_of(old, asks[0](step.code)) if before.workflow.step(step.code) else ()
            then = obstacles_of(site, asks[1](step.code))
            if bool(first) != bool(then):
                yield _work(after, key, step.words, first, then)


def _asker(view: JobView) -> Callable[[str], Asked]:
    crews = crews_of_steps(list(done_by(view)))
    midnight = dt.datetime.combine(view.as_of, dt.time(), dt.UTC)

    def asked(step: str) -> Asked:
        return Asked(
            crew="",
            step=step,
            workflow=view.workflow,
            on=view.as_of,
            now=midnight,
            tickets_kept=bool(view.tickets),
            recorded_by=crews,
        )

    return asked


def _differ(one: Site, other: Site) -> bool:
    return any(
        getattr(one, name) != getattr(other, name)
        for name in ("stops", "holds", "tickets", "shortages", "material_known")
    ) or (one.status.done.keys() != other.status.done.keys())


def _work(after: JobView, key: _Key, step: str, first: Sequence[Obstacle], then: Sequence[Obstacle]) -> Found:
    if then:
        code, words = "stops being workable", f"{step}: {then[0].words}"
    else:
        code, words = "becomes workable", f"{step}: no longer {', '.join(each.short for each in first)}"
    return _placed(after, after.row_of[key], code=code, words=words)


def _of_survey(before: JobView, after: JobView) -> Iterator[Found]:
    """Give verdicts that change, findings that are new, and findings that are gone."""
    old_found, new_found = (
        {
            each.id: (row, each)
            for row in view.ledger.rows_on("answer").tolist()
            for each in view.ledger.on("answer", row)
            if each.severity >= Severity.WRONG
        }
        for view in (before, after)
    )
    for key, row in after.row_of.items():
        old = before.row_of.get(key)
        if old is None:
            continue
        was, now = (_verdict(view, at) for view, at in ((before, old), (after, row)))
        if was != now:
            yield _placed(after, row, code="verdict", words=f"{was} -> {now}")
    for name, (row, found) in new_found.items():
        if name not in old_found:
            yield replace(_placed(after, row, code="finding", words=found.words), size=float(found.severity))
    for name, (row, found) in old_found.items():
        if name not in new_found and before.key(row) in after.row_of:
            yield _placed(before, row, code="finding closed", words=found.words)


def _verdict(view: JobView, row: int) -> str:
    return f"{view.checks.verdict[row]}{', reversed' if view.checks.reversed[row] else ''}"
