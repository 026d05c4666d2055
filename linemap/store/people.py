"""People, and their devices.

Codes and tokens come in as SHA-256 and are never known here in the clear.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

from sqlalchemy import Connection, Row, Select, insert, or_, select, update

from linemap.domain.record.person import Person, Role, same_words
from linemap.domain.record.signing import SignIn
from linemap.store import schema
from linemap.store.database import bump

_PERSON, _DEVICE = schema.person, schema.device


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceRecord:
    """One phone, or one browser signed in with a password."""

    id: int
    label: str
    #: "link" for a device signed in by a link, "password" for a browser.
    kind: str
    made_at: dt.datetime
    #: When its link was used or its password given; None = the link waits.
    signed_in_at: dt.datetime | None
    #: None = until revoked.
    expires_at: dt.datetime | None
    last_seen: dt.datetime | None
    revoked_at: dt.datetime | None


_FIELDS = tuple(field.name for field in fields(DeviceRecord))


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonRecord:
    """One person with all devices they ever had."""

    id: int
    name: str
    role: Role
    releases: tuple[str, ...]
    #: The crew they claim structures for; "" = none is set.
    crew: str
    #: argon2 text, None = no password.
    password_hash: str | None
    revoked_at: dt.datetime | None
    devices: tuple[DeviceRecord, ...] = ()


def save_person(
    connection: Connection,
    *,
    name: str,
    role: Role,
    releases: Sequence[str] = (),
    crew: str = "",
    password_hash: str | None = None,
    now: dt.datetime,
) -> int:
    """Add a person, or change the role of one who is there; return their identifier.

    Somebody who was revoked is let in again, with new devices only. What is not given (offices, a crew, a
    password) stays as it was.
    """
    there = _record(connection, select(_PERSON).where(_PERSON.c.folded == same_words(name)))
    if there is None:
        values = {
            "name": " ".join(name.split()),
            "folded": same_words(name),
            "role": role.value,
            "releases": list(releases),
            "crew": crew,
            "password_hash": password_hash,
            "added_at": now,
        }
        made = connection.execute(insert(_PERSON), [values]).inserted_primary_key
        bump(connection)
        return int(made[0]) if made is not None else 0
    changes = {
        "role": role.value,
        "releases": list(releases) or list(there.releases),
        "crew": crew or there.crew,
        "password_hash": password_hash or there.password_hash,
        "revoked_at": None,
    }
    connection.execute(update(_PERSON).where(_PERSON.c.id == there.id).values(changes))
    bump(connection)
    return there.id


def add_device(
    connection: Connection,
    person_id: int,
    *,
    label: str,
    code: tuple[str, dt.datetime] | None = None,
    token: tuple[str, dt.datetime | None] | None = None,
    now: dt.datetime,
) -> int:
    """Add a device that waits for its one-time code, or one that is signed in; return its identifier.

    `code` and `token` are given as SHA-256 in hexadecimal and until when each may be used; a token without
    that lets in until it is revoked. `label` is what the person calls the device: "truck phone".
    """
    code_hash, code_until = code or (None, None)
    token_hash, until = token or (None, None)
    values = {
        "person_id": person_id,
        "label": label,
        "kind": "password" if token else "link",
        "code_sha256": code_hash,
        "code_expires_at": code_until,
        "token_sha256": token_hash,
        "expires_at": until,
        "made_at": now,
        "signed_in_at": now if token else None,
        "last_seen": now if token else None,
    }
    made = connection.execute(insert(_DEVICE), [values]).inserted_primary_key
    return int(made[0]) if made is not None else 0


def redeem_code(connection: Connection, *, code: str, token: str, now: dt.datetime) -> bool:
    """Give the device of a code its token, once; False when the code is unknown, used, too old or revoked."""
    good = (
        (_DEVICE.c.code_sha256 == code)
        & (_DEVICE.c.code_expires_at > now)
        & _DEVICE.c.revoked_at.is_(None)
        & _DEVICE.c.token_sha256.is_(None)
        & _DEVICE.c.person_id.in_(select(_PERSON.c.id).where(_PERSON.c.revoked_at.is_(None)))
    )
    values = {"token_sha256": token, "code_sha256": None, "signed_in_at": now, "last_seen": now}
    return connection.execute(update(_DEVICE).where(good).values(values)).rowcount == 1


def find_by_token(
    connection: Connection, token: str, *, now: dt.datetime
) -> tuple[Person, DeviceRecord] | None:
    """Return who a token belongs to and on which device; None when it is unknown, revoked or too old."""
    query = (
        select(
            _PERSON.c.name,
            _PERSON.c.role,
            _PERSON.c.releases,
            _PERSON.c.crew,
            _DEVICE.c.token_sha256,
            *_device_columns(),
        )
        .join_from(_DEVICE, _PERSON)
        .where(
            _DEVICE.c.token_sha256 == token,
            _DEVICE.c.revoked_at.is_(None),
            _PERSON.c.revoked_at.is_(None),
            or_(_DEVICE.c.expires_at.is_(None), _DEVICE.c.expires_at > now),
        )
    )
    row = connection.execute(query).one_or_none()
    if row is None:
        return None
    person = Person(
        name=row.name,
        role=Role(row.role),
        releases=tuple(row.releases),
        device=row.device_label,
        crew=row.crew,
        since=row.device_signed_in_at,
        mark=_mark(row.device_id, row.token_sha256),
    )
    return person, _device(row)


def find_sign_in(connection: Connection, mark: str) -> SignIn | None:
    """Return the sign-in of a mark, ended ones too; None = the job never gave that mark."""
    number = mark.partition("-")[0]
    if not (number.isascii() and number.isdigit() and len(number) < _LONGEST_NUMBER):
        return None
    query = select(_PERSON, _DEVICE.c.token_sha256, *_device_columns()).join_from(_DEVICE, _PERSON)
    row = connection.execute(query.where(_DEVICE.c.id == int(number))).one_or_none()
    if row is None or row.token_sha256 is None or _mark(row.device_id, row.token_sha256) != mark:
        return None
    ends = (row.revoked_at, row.device_revoked_at, row.device_expires_at)
    return SignIn(
        name=row.name,
        role=Role(row.role),
        device=row.device_label,
        since=row.device_signed_in_at,
        until=min((end for end in ends if end is not None), default=None),
    )


def _mark(device_id: int, token_sha256: str) -> str:
    """Return what records made under a sign-in carry: it tells whose they are, and lets nobody in."""
    made = hashlib.sha256(f"record made under {token_sha256}".encode()).hexdigest()
    return f"{device_id}-{made[:32]}"


#: No identifier of a device has so many digits.
_LONGEST_NUMBER = 18


def find_person(connection: Connection, name: str) -> PersonRecord | None:
    """Return a person by name, however it is spelled in blanks and case, without devices; None = nobody.

    Somebody revoked is not found.
    """
    wanted = (_PERSON.c.folded == same_words(name)) & _PERSON.c.revoked_at.is_(None)
    return _record(connection, select(_PERSON).where(wanted))


def any_people(connection: Connection) -> bool:
    """Say whether anybody was ever added: from then on the job asks who it is."""
    return connection.execute(select(_PERSON.c.id).limit(1)).first() is not None


def load_people(connection: Connection) -> tuple[PersonRecord, ...]:
    """Return everybody with all devices, revoked ones included, in the order they were added."""
    devices: dict[int, list[DeviceRecord]] = {}
    query = select(_DEVICE.c.person_id, *_device_columns()).order_by(_DEVICE.c.id)
    for row in connection.execute(query):
        devices.setdefault(row.person_id, []).append(_device(row))
    rows = connection.execute(select(_PERSON).order_by(_PERSON.c.id))
    return tuple(_person(row, tuple(devices.get(row.id, ()))) for row in rows)


def mark_seen(connection: Connection, device_id: int, *, now: dt.datetime) -> None:
    """Keep when a device was last seen."""
    connection.execute(update(_DEVICE).where(_DEVICE.c.id == device_id).values(last_seen=now))


def revoke_person(connection: Connection, person_id: int, *, now: dt.datetime) -> None:
    """Let a person in no longer, on no device, with no password."""
    connection.execute(
        update(_PERSON).where(_PERSON.c.id == person_id).values(revoked_at=now, password_hash=None)
    )
    connection.execute(
        update(_DEVICE)
        .where(_DEVICE.c.person_id == person_id, _DEVICE.c.revoked_at.is_(None))
        .values(revoked_at=now)
    )
    bump(connection)


def revoke_device(connection: Connection, device_id: int, *, now: dt.datetime) -> None:
    """Let one device in no longer."""
    connection.execute(
        update(_DEVICE)
        .where(_DEVICE.c.id == device_id, _DEVICE.c.revoked_at.is_(None))
        .values(revoked_at=now)
    )


def _device_columns() -> tuple[Any, ...]:
    return tuple(_DEVICE.c[name].label(f"device_{name}") for name in _FIELDS)


def _device(row: Row[Any]) -> DeviceRecord:
    return DeviceRecord(**{name: getattr(row, f"device_{name}") for name in _FIELDS})


def _record(connection: Connection, query: Select[Any]) -> PersonRecord | None:
    row = connection.execute(query).one_or_none()
    return None if row is None else _person(row, ())


def _person(row: Row[Any], devices: tuple[DeviceRecord, ...]) -> PersonRecord:
    return PersonRecord(
        id=row.id,
        name=row.name,
        role=Role(row.role),
        releases=tuple(row.releases),
        crew=row.crew,
        password_hash=row.password_hash,
        revoked_at=row.revoked_at,
        devices=devices,
    )
