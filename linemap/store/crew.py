"""Claims, briefings and releases of holds: added, each exactly once, and never changed or taken out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

from sqlalchemy import Connection, Row, Table, insert, select

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.hold_release import HoldRelease
from linemap.domain.kind.kind import columns_of
from linemap.domain.record.claim import SUBJECTS, Briefed, Claim
from linemap.domain.record.person import Role
from linemap.errors import Conflict
from linemap.kinds.registry import HOLDS
from linemap.store import schema
from linemap.store.columns import record_of, with_clock
from linemap.store.database import bump, bump_record

_CLAIM = tuple(field.name for field in fields(Claim))
_BRIEFED = tuple(field.name for field in fields(Briefed) if field.name not in SUBJECTS)


def add_claim(connection: Connection, claim: Claim) -> bool:
    """Add a claim; False when it was there already. When it was received is no part of what it says.

    Raises
    ------
    Conflict
        If its identifier is taken by a claim that says something else.
    """
    there = _row(connection, schema.claim, claim.id)
    if there is not None:
        known = Claim(**{name: there[name] for name in _CLAIM})
        known = replace(known, received_at=claim.received_at, who=claim.who, device=claim.device)
        _check_same("claim", claim.id, known == claim)
        return False
    connection.execute(insert(schema.claim), [{name: getattr(claim, name) for name in _CLAIM}])
    bump_record(connection)
    return True


def add_briefing(connection: Connection, briefed: Briefed) -> bool:
    """Add a briefing; False when it was there already. When it was received is no part of what it says.

    Raises
    ------
    Conflict
        If its identifier is taken by a briefing that says something else.
    """
    there = _row(connection, schema.briefing, briefed.id)
    if there is not None:
        known = replace(_briefed(there), received_at=briefed.received_at)
        _check_same("briefing", briefed.id, known == briefed)
        return False
    subjects = {name: getattr(briefed, name) for name in SUBJECTS}
    values = {name: getattr(briefed, name) for name in _BRIEFED}
    connection.execute(insert(schema.briefing), [{**values, "subjects": subjects}])
    bump_record(connection)
    return True


def load_claims(connection: Connection) -> tuple[Claim, ...]:
    """Return all claims in the order of receipt, those that have ended included."""
    query = select(*(schema.claim.c[name] for name in _CLAIM)).order_by(schema.claim.c.seq)
    return tuple(Claim(**row._mapping) for row in connection.execute(query))


def load_briefings(connection: Connection) -> tuple[Briefed, ...]:
    """Return all briefings in the order of receipt."""
    query = select(schema.briefing).order_by(schema.briefing.c.seq)
    return tuple(_briefed(dict(row._mapping)) for row in connection.execute(query))


def _row(connection: Connection, table: Table, identifier: str) -> Mapping[str, Any] | None:
    found = connection.execute(select(table).where(table.c.id == identifier)).one_or_none()
    return None if found is None else dict(found._mapping)


def _briefed(row: Mapping[str, Any]) -> Briefed:
    return Briefed(**{name: row[name] for name in _BRIEFED}, **row["subjects"])


def _check_same(what: str, identifier: str, same: bool) -> None:
    if not same:
        raise Conflict(
            f"{what} {identifier} is already recorded and says something else; give the new {what} an "
            "identifier of its own"
        )


_DAYS = tuple(column.name for column in columns_of(HOLDS) if column.type is dt.date)
_LISTS = tuple(column.name for column in columns_of(HOLDS) if column.type is tuple)


def add_release(connection: Connection, release: HoldRelease) -> None:
    """Add a release to the record."""
    values = {
        "hold_id": release.hold.id,
        "hold": _as_json(release.hold),
        "who": release.who,
        "role": release.role.value,
        "device": release.device,
        "evidence": release.evidence,
        **with_clock("at", release.at),
        "recorded_at": release.recorded_at,
    }
    connection.execute(insert(schema.hold_release), [values])
    bump(connection)


def load_releases(connection: Connection) -> tuple[HoldRelease, ...]:
    """Return all releases in the order they were recorded."""
    query = select(schema.hold_release).order_by(schema.hold_release.c.seq)
    return tuple(_release(row) for row in connection.execute(query))


def _as_json(hold: Hold) -> dict[str, Any]:
    values = {column.name: getattr(hold, column.name) for column in columns_of(HOLDS)}
    days = {name: values[name].isoformat() if values[name] else None for name in _DAYS}
    return {**values, **{name: list(values[name]) for name in _LISTS}, **days}


def _release(row: Row[Any]) -> HoldRelease:
    values = dict(row.hold)
    values |= {name: tuple(values[name]) for name in _LISTS}
    values |= {name: dt.date.fromisoformat(values[name]) if values[name] else None for name in _DAYS}
    return record_of(HoldRelease, row, hold=Hold(**values), role=Role(row.role))
