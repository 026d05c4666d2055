"""Survey shots, and what people decided about causes: decisions are added once and never changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from sqlalchemy import Connection, insert, or_, select

from linemap.domain.causes.cause import Decision
from linemap.domain.kind.when import Answering
from linemap.domain.survey.shot import Shot
from linemap.errors import Conflict
from linemap.store import schema
from linemap.store.columns import insert_columns, record_of, with_clock
from linemap.store.database import bump

_COLUMNS = tuple(field.name for field in fields(Shot))


def add_shots(connection: Connection, shots: Iterable[Shot], *, file_id: int | None = None) -> int:
    """Add shots beside those already there, a second survey beside the first; return how many."""
    listed = list(shots)
    columns: dict[str, list[Any]] = {name: [getattr(shot, name) for shot in listed] for name in _COLUMNS}
    count = insert_columns(connection, schema.shot, columns, same={"file_id": file_id})
    if count:
        bump(connection)
    return count


def load_shots(connection: Connection, then: Answering | None = None) -> tuple[Shot, ...]:
    """Return the shots of all files that count, now or at another time, in the order they were added.

    One that says when it was observed counts from that day, another from the day its file came.
    """
    table = schema.shot
    query = select(*(table.c[name] for name in _COLUMNS)).order_by(table.c.id)
    query = query.where(schema.counted(table, None if then is None else then.aside | then.unknown))
    if then is not None:
        query = query.where(or_(table.c.observed_on != "", schema.counted(table, then.later)))
    shots = (Shot(**dict(zip(_COLUMNS, row, strict=True))) for row in connection.execute(query).all())
    return tuple(shot for shot in shots if then is None or _observed(shot, then))


def _observed(shot: Shot, then: Answering) -> bool:
    try:
        day = dt.date.fromisoformat(shot.observed_on)
    except ValueError:
        return True
    return then.asked.happened(day)


_FIELDS = tuple(field.name for field in fields(Decision))


def add_decision(connection: Connection, decision: Decision) -> bool:
    """Add a decision; False when it was there already with the same content.

    Raises
    ------
    Conflict
        If its identifier is taken by a decision with other content.
    """
    table = schema.decision
    there = connection.execute(select(table).where(table.c.id == decision.id)).one_or_none()
    values = _values(decision)
    if there is not None:
        if _values(record_of(Decision, there)) == values:
            return False
        raise Conflict(
            f'decision {decision.id} is already recorded as "{there.cause} {there.answer}: {there.subject}"; '
            "give the new decision an identifier of its own"
        )
    connection.execute(insert(table), [values])
    bump(connection)
    return True


def load_decisions(connection: Connection) -> tuple[Decision, ...]:
    """Return all decisions in the order of receipt, the ones that were undone included."""
    query = select(schema.decision).order_by(schema.decision.c.seq)
    return tuple(record_of(Decision, row) for row in connection.execute(query))


def _values(decision: Decision) -> dict[str, Any]:
    values = {name: getattr(decision, name) for name in _FIELDS}
    return {**values, **with_clock("at", decision.at), "correction": _listed(dict(decision.correction))}


def _listed(value: Any) -> Any:
    """Return a table as JSON gives it back: tuples become lists."""
    if isinstance(value, dict):
        return {name: _listed(each) for name, each in value.items()}
    return [_listed(each) for each in value] if isinstance(value, list | tuple) else value
