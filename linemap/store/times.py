"""What of a job answers a question about another time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, select

from linemap.domain.kind.kind import Kind
from linemap.domain.kind.when import Answering, Asked, When
from linemap.store import schema
from linemap.store.changes import list_changes
from linemap.store.columns import in_zone
from linemap.store.files import list_files
from linemap.store.states import ListState, list_states


def answering(connection: Connection, when: When) -> Answering | None:
    """Return what answers as of a day and as known by a day; None = what is kept now does."""
    if when.is_now:
        return None
    states = list_states(connection)
    asked = Asked(when=when, begun=begun_on(states))
    first_at: dict[tuple[str, ...], dt.datetime] = {}
    for state in states:
        first_at.setdefault(_list_of(state), state.loaded_at)
    ever = [
        state
        for state in states
        if asked.holds(
            state.loaded_at.date(), state.true_from, first=state.loaded_at == first_at[_list_of(state)]
        )
    ]
    in_force = {_list_of(state): state.id for state in ever}
    files = list_files(connection)
    aside = {file.id for file in files if file.aside}
    for each in reversed(list_changes(connection)):
        if not asked.knows(each.change.at.date()):
            aside = aside.difference(each.change.done.aside).union(each.change.done.again)
    plan_at = next((file.loaded_at for file in files if file.kind == "plan"), None)
    # a plan made anew is no part of what came first; files of other growing lists are all of one list
    came = {
        file.id: (file.loaded_at.date(), file.kind != "plan" or file.loaded_at == plan_at) for file in files
    }
    return Answering(
        asked=asked,
        in_force=frozenset(in_force.values()),
        ever=frozenset(state.id for state in ever),
        aside=frozenset(aside),
        unknown=frozenset(file for file, (day, first) in came.items() if not asked.knows(day, first=first)),
        later=frozenset(file for file, (day, first) in came.items() if not asked.holds(day, first=first)),
    )


def _list_of(state: ListState) -> tuple[str, ...]:
    return state.kind, state.line, state.part


def begun_on(states: Iterable[ListState]) -> dt.date | None:
    """Return the day on which a job began: its first structure list came; None = it has none."""
    return next((state.loaded_at.date() for state in states if state.kind == "structures"), None)


def came_on(
    connection: Connection, kind: Kind[Any], *, then: Answering | None = None
) -> tuple[dt.date | None, ...]:
    """Return the day on which the file of each record of a list that grows came, in their order.

    None = it came in no file.
    """
    table = schema.metadata.tables[kind.table]
    query = select(schema.file.c.loaded_at, schema.file.c.loaded_offset_s)
    query = query.select_from(table.outerjoin(schema.file, table.c.file_id == schema.file.c.id))
    query = query.where(schema.counted(table, None if then is None else then.aside | then.unknown))
    return tuple(
        None if row.loaded_at is None else in_zone(row.loaded_at, row.loaded_offset_s).date()
        for row in connection.execute(query.order_by(*table.primary_key))
    )
