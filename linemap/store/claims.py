"""Claims and briefings: added, each exactly once, and never changed or taken out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

from sqlalchemy import Connection, Table, insert, select

from linemap.domain.record.briefed import SUBJECTS, Briefed
from linemap.domain.record.claim import Claim
from linemap.errors import Conflict
from linemap.store import schema
from linemap.store.database import bump_record

__all__ = ["add_briefing", "add_claim", "load_briefings", "load_claims"]

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
        _check_same("claim", claim.id, replace(known, received_at=claim.received_at) == claim)
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
