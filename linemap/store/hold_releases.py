"""Releases of holds: added, and never changed or taken out."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from typing import Any

from sqlalchemy import Connection, Row, insert, select

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.hold_release import HoldRelease
from linemap.domain.kind.kind import columns_of
from linemap.domain.record.person import Role
from linemap.kinds.crew import HOLDS
from linemap.store import schema
from linemap.store.database import bump

__all__ = ["add_release", "load_releases"]

_DAYS = tuple(column.name for column in columns_of(HOLDS) if column.type is dt.date)
_LISTS = tuple(column.name for column in columns_of(HOLDS) if column.type is tuple)


def add_release(connection: Connection, release: HoldRelease) -> None:
    """Add a release to the record."""
    offset = release.at.utcoffset() or dt.timedelta()
    values = {
        "hold_id": release.hold.id,
        "hold": _as_json(release.hold),
        "who": release.who,
        "role": release.role.value,
        "device": release.device,
        "evidence": release.evidence,
        "at": release.at,
        "at_offset_s": round(offset.total_seconds()),
        "recorded_at": release.recorded_at,
    }
    connection.execute(insert(schema.hold_release), [values])
    bump(connection)


def load_releases(connection: Connection) -> tuple[HoldRelease, ...]:
    """Return all releases in the order they were recorded."""
    query = select(schema.hold_release).order_by(schema.hold_release.c.seq)
    return tuple(_release(row) for row in connection.execute(query))


def _as_json(hold: Hold) -> dict[str, Any]:
    values = asdict(hold)
    days = {name: values[name].isoformat() if values[name] else None for name in _DAYS}
    return {**values, **{name: list(values[name]) for name in _LISTS}, **days}


def _release(row: Row[Any]) -> HoldRelease:
    values = dict(row.hold)
    values |= {name: tuple(values[name]) for name in _LISTS}
    values |= {name: dt.date.fromisoformat(values[name]) if values[name] else None for name in _DAYS}
    return HoldRelease(
        hold=Hold(**values),
        who=row.who,
        role=Role(row.role),
        device=row.device,
        evidence=row.evidence,
        at=row.at.astimezone(dt.timezone(dt.timedelta(seconds=row.at_offset_s))),
        recorded_at=row.recorded_at,
    )
