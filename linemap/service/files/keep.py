"""Put what a file means into the job: which table keeps which kind, and what that changes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Unpack

import numpy as np
from sqlalchemy import Connection

from linemap.domain.design.line import StationEquation
from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.design.revision import Change
from linemap.domain.design.structure import Structures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.kind.compare import RecordChange
from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused
from linemap.io.design.pi_list import PiList
from linemap.kinds.registry import KINDS
from linemap.service.files.reading import ReaderContext
from linemap.service.job.declared import OF_LINES
from linemap.store.events import add_events
from linemap.store.lines import add_line, list_lines, load_lines, save_centreline, save_equations
from linemap.store.lists import keep_list
from linemap.store.states import Origin
from linemap.store.structures import save_poles, save_structures
from linemap.store.survey import add_shots

#: A structure that moves farther is another one under its number, by the sign of the unit. It is less than
#: half the shortest span of such lines. Common practice, no source.
_FAR = {"ft": 150.0, "m": 45.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class ListChange:
    """What a file changes at one record of a list."""

    kind: Kind
    #: Line of a list of lines; "" = of the job.
    line: str = ""
    #: Structure number, type code or name: what other lists name it by.
    name: str
    #: True when the record is no more; of a structure also when its number stands at another place.
    removed: bool
    words: str


def _save_equations(
    connection: Connection, line_id: int, equations: Sequence[StationEquation], **origin: Unpack[Origin]
) -> tuple[RecordChange, ...]:
    try:
        return save_equations(connection, line_id, equations, **origin)
    except ValueError as error:
        remedy = "list the equations in order along the line, with the start station they count from"
        name = equations[0].line
        raise InputRefused.of_file(origin["source_file"], str(error), remedy, value=name) from None


#: Kinds of lists of lines, and what stores the list of one line.
_SAVERS: Mapping[Kind, Callable[..., Iterable[Change | RecordChange]]] = {
    "equations": _save_equations,
    "structures": save_structures,
    "poles": save_poles,
}


class _Keeper:
    """Keeps the values of one file in an open transaction; says what each changes."""

    def __init__(
        self, connection: Connection, declared: ReaderContext, origin: Origin, *, ends: bool
    ) -> None:
        self.connection = connection
        self.declared = declared
        self.origin = origin
        self.ends = ends
        self.line_ids = {line.name.casefold(): line.id for line in list_lines(connection)}

    def pi_list(self, pi_list: PiList) -> Iterator[ListChange]:
        centrelines = pi_list.centrelines
        drawn = {line.name for line in load_lines(self.connection)}
        for name, centreline in centrelines.items():
            line_id = self.line_ids.get(name.casefold()) or self._add_line(name, only=len(centrelines) == 1)
            changes = save_centreline(self.connection, line_id, centreline, **self.origin)
            # one whose load was undone has no course to change
            yield from (change_of("centreline", each, line=name) for each in changes if name in drawn)
        yield from self.of_lines("equations", pi_list.equations)

    def of_lines(self, kind: Kind, records: Any) -> Iterator[ListChange]:
        """Keep each line's records, or rows of `Structures`, as its own list."""
        rows_of: dict[str, list[int]] = {}
        columns = isinstance(records, Structures)
        for row, name in enumerate(records.line if columns else [each.line for each in records]):
            rows_of.setdefault(name, []).append(row)
        for name, rows in rows_of.items():
            mine = records.take(np.array(rows)) if columns else [records[row] for row in rows]
            for change in _SAVERS[kind](self.connection, self._line_id(name), mine, **self.origin):
                yield change_of(kind, change, self.declared.naming, line=name)

    def others(self, kind: Kind, records: Sequence[Any]) -> Iterator[ListChange]:
        unit = self.declared.projection.unit
        if kind == "tolerances":
            Tolerances.from_entries(records, unit, file=self.origin["source_file"])
        own = KINDS[kind]
        for change in keep_list(self.connection, own, records, unit=unit, ends=self.ends, **self.origin):
            yield change_of(kind, change, self.declared.naming)

    def _add_line(self, name: str, *, only: bool) -> int:
        settings = self.declared.settings
        declared = {each: read(str(settings.get(each, ""))) for each, read in OF_LINES.items()}
        if not only:
            declared |= {"back_end": "", "ahead_end": ""}
        made = add_line(self.connection, name=name, crs=self.declared.projection.text, **declared)
        self.line_ids[name.casefold()] = made
        return made

    def _line_id(self, name: str) -> int:
        if name.casefold() in self.line_ids:
            return self.line_ids[name.casefold()]
        raise InputRefused.at(
            "line",
            name,
            "names a line that has no centreline in the job",
            "load its centreline first, or together with this file",
            file=self.origin["source_file"],
        )


def change_of(
    kind: Kind, change: Change | RecordChange, naming: Naming = UNNAMED, *, line: str = ""
) -> ListChange:
    """Return what changes at a record of a list, or at a structure or one of its poles."""
    if isinstance(change, RecordChange):
        field, called = change.field, naming.called((line, change.key[0]))
        removed = field is None and change.change == "removed"
        if field is not None and field.field == "pole":
            was, now = (called.get(str(each), each) for each in (field.old, field.new))
            change = replace(change, field=replace(field, old=was, new=now))
        return ListChange(kind=kind, line=line, name=change.key[0], removed=removed, words=change.words)
    gone = change.change == "removed" and "pole" not in change.values
    words = f"{change.number} {replace(change, called=naming.called((line, change.number))).words}"
    return ListChange(
        kind=kind, line=line, name=change.number, removed=gone or is_elsewhere(change), words=words
    )


def is_elsewhere(change: Change) -> bool:
    """Say whether a structure moves so far that it is another one under its number."""
    return change.change == "moved" and change.values["distance"] > _FAR[change.values["unit"]]


def keep(
    connection: Connection,
    kind: Kind,
    value: Any,
    declared: ReaderContext,
    *,
    file: tuple[int, str],
    label: str,
    now: dt.datetime,
    ends: bool = False,
    true_from: dt.date | None = None,
) -> tuple[ListChange, ...]:
    """Put what `understand` made of a file into the job; return what it changes against what was there.

    `file` is the identifier and name of the kept file, `label` what the owner calls this state of the list;
    `ends` says of a list kept by key that what the file does not name is over, `true_from` from which day a
    list is true; None = from the day it comes in.

    Raises
    ------
    InputRefused
        If a list names a line that has no centreline, or no such tolerance is known.
    Conflict
        If an event's identifier is taken by another event.
    """
    if kind == "shots":
        add_shots(connection, value, file_id=file[0])
        return ()
    if kind == "records":
        add_events(connection, value, file_id=file[0])
        return ()
    origin: Origin = {
        "file_id": file[0],
        "source_file": file[1],
        "label": label,
        "now": now,
        "true_from": true_from,
    }
    keeper = _Keeper(connection, declared, origin, ends=ends)
    if kind == "centreline":
        return tuple(keeper.pi_list(value))
    return tuple(keeper.of_lines(kind, value) if kind in _SAVERS else keeper.others(kind, value))
