"""States of lists: a new file of a list that is replaced or kept by key makes one; older ones are kept.

A state is of the whole list, of one line's, or of one part (layer). Older ones can be read by their
identifier, so that what a file takes away can be named and what was known on a day stays known.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, Required, TypedDict, Unpack

from sqlalchemy import ColumnElement, Connection, Row, func, insert, select, update

from linemap.domain.kind.kind import Code
from linemap.domain.kind.when import Answering
from linemap.errors import InputRefused, NotFound
from linemap.store.columns import record_of, with_clock
from linemap.store.database import bump
from linemap.store.schema import file, line, revision


class Origin(TypedDict, total=False):
    """Where a state of a list comes from."""

    #: File it was loaded from; left out = entered otherwise.
    file_id: int | None
    source_file: str
    #: What its owner calls it: "Rev C".
    label: str
    #: When it came in, with its time zone, and the day from which it is true; None = from then.
    now: Required[dt.datetime]
    true_from: dt.date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ListState:
    """One state of a list, or of one part of it."""

    #: By which `load_list` reads it.
    id: int
    kind: Code
    #: Line it is of; "" = of the job.
    line: str
    #: Part it is of, such as a layer; "" = it has no parts.
    part: str
    #: File it was loaded from; None = entered otherwise.
    file_id: int | None
    source_file: str
    #: Who loaded the file; "" = not known.
    loaded_by: str
    label: str
    #: With the time zone of the clock by which it came in.
    loaded_at: dt.datetime
    #: Day from which it is true; None = the day it came in.
    true_from: dt.date | None
    #: State whose records its file left as they were; None = it left none.
    carried_from: int | None
    is_current: bool


def line_of(connection: Connection, line_id: int) -> Row[Any]:
    """Return what is declared of a line, or say that there is none (`NotFound`)."""
    found = connection.execute(select(line).where(line.c.id == line_id)).first()
    if found is None:
        raise NotFound(f"the job has no line with the identifier {line_id}")
    return found


def current_state(
    connection: Connection, kind: Code, *, line_id: int | None = None, part: str = ""
) -> int | None:
    """Return the current state of a list, of a line (`NotFound`) or part of it; None = none yet."""
    if line_id is not None:
        line_of(connection, line_id)
    query = select(revision.c.id).where(revision.c.is_current)
    return connection.scalar(query.filter_by(kind=kind, part=part, line_id=line_id))


def check_true_from(true_from: dt.date | None, now: dt.datetime) -> None:
    """Refuse (`InputRefused`) what is to be true only from a day that has not come."""
    if true_from is not None and true_from > now.date():
        remedy = "leave it out, or say it when that day has come"
        raise InputRefused.at("--true-from", true_from.isoformat(), "lies ahead", remedy)


def new_state(
    connection: Connection,
    kind: Code,
    *,
    line_id: int | None = None,
    part: str = "",
    carried_from: int | None = None,
    **origin: Unpack[Origin],
) -> int:
    """Start the current state of a list, or of a line or part of it, and return its identifier.

    `carried_from` is the state of which records are carried over. `InputRefused` = it is to be true only from
    a day that has not come.
    """
    check_true_from(origin.get("true_from"), origin["now"])
    whose = {"kind": kind, "part": part, "line_id": line_id}
    connection.execute(update(revision).filter_by(**whose).values(is_current=False))
    query = insert(revision).values(
        **whose,
        file_id=origin.get("file_id"),
        source_file=origin.get("source_file", ""),
        label=origin.get("label", ""),
        **with_clock("loaded_at", origin["now"]),
        true_from=origin.get("true_from"),
        carried_from=carried_from,
        is_current=True,
    )
    made: int = connection.execute(query.returning(revision.c.id)).scalar_one()
    bump(connection)
    return made


def is_in_force(then: Answering | None) -> ColumnElement[bool]:
    """Return what holds of the states of lists in force now, or at another time."""
    return revision.c.is_current if then is None else revision.c.id.in_(sorted(then.in_force))


def list_states(connection: Connection, kind: Code | None = None) -> tuple[ListState, ...]:
    """Return the states of a list, or of all lists, in the order they were loaded."""
    table = revision.outerjoin(line, revision.c.line_id == line.c.id)
    table = table.outerjoin(file, revision.c.file_id == file.c.id)
    named = {
        "line": func.coalesce(line.c.name, "").label("line"),
        "loaded_by": func.coalesce(file.c.loaded_by, "").label("loaded_by"),
    }
    columns = [named[name] if name in named else revision.c[name] for name in ListState.__dataclass_fields__]
    query = select(*columns, revision.c.loaded_offset_s).select_from(table).order_by(revision.c.id)
    if kind is not None:
        query = query.where(revision.c.kind == kind)
    return tuple(record_of(ListState, row, "loaded_at") for row in connection.execute(query))
