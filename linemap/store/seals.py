"""What decides is sealed: each row of the tables below stands in one chain beside that of the events.

Whatever a transaction writes into these tables is sealed at its end, by `seal_written`, so no use case can
forget it: a seal holds the SHA-256 of each row and the link before it, and names the newest links of the
events and of the accepted changes. Rows that are only ever added, or belong to a state of a list, are sealed
by the batch, past the newest sealed one; rows that may change are sealed anew whenever they did, and the
newest seal of each counts. Bytes of files and photos are sealed by their SHA-256, which stands in the row.

Who may write the whole database could seal it anew: note the newest links elsewhere (`newest_links`).
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, NamedTuple

import orjson
from sqlalchemy import JSON, Boolean, Column, ColumnElement, Connection, Row, Table, insert, select

from linemap.domain.kind.kind import Keeps, kept_of
from linemap.domain.record.chain import FIRST_LINK, Linked, link
from linemap.kinds.registry import KINDS
from linemap.store import schema
from linemap.store.columns import written_tables

#: Digits of a row's hash that a seal keeps of it, to tell which one was altered; all of them make its hash.
DIGITS = 8
_ORDERED = orjson.OPT_SORT_KEYS | orjson.OPT_UTC_Z
_SEAL = schema.seal


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sealed:
    """One table whose rows decide something."""

    table: Table
    #: One row of it, for people.
    noun: str
    #: Columns that tell people which row it is.
    named: tuple[str, ...]
    #: Column whose numbers only grow from row to row, or from state to state; "" = rows may change.
    grows: str = ""
    #: Columns that are no part of what decides: bytes, and what changes by itself.
    without: tuple[str, ...] = ()
    #: Of rows that may change: those that are whole. None = all.
    whole: ColumnElement[bool] | None = None
    #: Gives the SHA-256 of the bytes that belong to a row, by its key; the row says it under "sha256".
    bytes_of: Callable[[Connection, Any], str] | None = None

    @property
    def columns(self) -> list[Column[Any]]:
        """Columns that are sealed."""
        return [column for column in self.table.c if column.name not in self.without]

    @property
    def key(self) -> Column[Any]:
        """Column by which rows are sealed: of rows that may change their own key."""
        return self.table.c[self.grows or "id"]


def _file_bytes(connection: Connection, key: Any) -> str:
    content = connection.scalar(select(schema.file.c.content).where(schema.file.c.id == key))
    return hashlib.sha256(content or b"").hexdigest()


def _photo_bytes(connection: Connection, key: Any) -> str:
    table, found = schema.photo_part, hashlib.sha256()
    for content in connection.scalars(
        select(table.c.content).where(table.c.photo_id == key).order_by(table.c.start)
    ):
        found.update(content)
    return found.hexdigest()


def _declared() -> Iterator[Sealed]:
    for kind in KINDS.values():
        columns = {column.name: column.column for column in kept_of(kind)}
        named = tuple(columns[name] for name in kind.key if name in columns)
        grows = "seq" if kind.keeps is Keeps.GROWS else "revision_id"
        yield Sealed(table=schema.metadata.tables[kind.table], noun=kind.noun, named=named, grows=grows)


#: Table -> how its rows are sealed. `event` and `job_change` have chains of their own.
SEALED: Mapping[str, Sealed] = MappingProxyType(
    {
        each.table.name: each
        for each in (
            *_declared(),
            Sealed(table=schema.structure, noun="structure", named=("number",), grows="revision_id"),
            Sealed(
                table=schema.structure_change,
                noun="change of a structure",
                named=("number", "change"),
                grows="revision_id",
            ),
            Sealed(table=schema.shot, noun="shot", named=("point", "description"), grows="id"),
            Sealed(table=schema.hold_release, noun="release of hold", named=("hold_id",), grows="seq"),
            Sealed(table=schema.decision, noun="decision", named=("cause", "subject"), grows="seq"),
            Sealed(table=schema.answer, noun="answer about columns", named=("shape",), grows="seq"),
            Sealed(table=schema.declaration, noun="declaration", named=("who", "at"), grows="seq"),
            Sealed(table=schema.claim, noun="claim", named=("structure", "crew"), grows="seq"),
            Sealed(
                table=schema.briefing, noun="briefing", named=("structure", "person_in_charge"), grows="seq"
            ),
            Sealed(table=schema.backup, noun="backup", named=("name",), grows="seq"),
            Sealed(
                table=schema.photo,
                noun="photo",
                named=("id",),
                whole=schema.photo.c.sha256 != "",
                bytes_of=_photo_bytes,
            ),
            Sealed(
                table=schema.file, noun="file", named=("name",), without=("content",), bytes_of=_file_bytes
            ),
            Sealed(table=schema.revision, noun="state of a list", named=("kind", "part", "label")),
            Sealed(table=schema.line, noun="line", named=("name",)),
            Sealed(table=schema.person, noun="person", named=("name",)),
            Sealed(table=schema.device, noun="device", named=("label",), without=("last_seen",)),
            Sealed(
                table=schema.job,
                noun="settings of the job",
                named=("name",),
                without=("incarnation", "data_version", "base_version"),
            ),
        )
    }
)


class SealedRow(NamedTuple):
    """A row as it stands: its key, what it is called, its hash."""

    key: Any
    name: str
    digest: str


def seal_written(connection: Connection, *, now: dt.datetime, why: str = "") -> None:
    """Seal what this transaction has written so far, of all tables that are sealed.

    `why` is said with the seals where they are no part of somebody's work.
    """
    written = {*written_tables(connection)}
    written_tables(connection).clear()
    fresh = [seal for name, each in SEALED.items() if name in written for seal in _fresh(connection, each)]
    if not fresh:
        return
    newest = connection.scalar(_newest(_SEAL))
    known = {"at": now.astimezone(dt.UTC), "why": why}
    known |= {
        "event_hash": connection.scalar(_newest(schema.event)) or FIRST_LINK,
        "change_hash": connection.scalar(_newest(schema.job_change)) or FIRST_LINK,
    }
    rows, before = [], newest or FIRST_LINK
    for each in fresh:
        values = {**each, **known}
        before = link(before, _values(values))
        rows.append({**values, "chain_hash": before})
    connection.execute(insert(_SEAL), rows)


def seal_everything(connection: Connection, *, now: dt.datetime, why: str) -> None:
    """Seal what stands in the job and is not sealed yet: from now on it cannot change unseen."""
    written_tables(connection).update(SEALED)
    seal_written(connection, now=now, why=why)


def seals_in_order(connection: Connection) -> Iterator[Linked]:
    """Yield every seal with its link as it is written, in the order they were made."""
    for row in connection.execute(select(_SEAL).order_by(_SEAL.c.seq)):
        yield Linked(row.seq, _values(row._mapping), row.chain_hash)


def _newest(table: Table) -> Any:
    return select(table.c.chain_hash).order_by(table.c.seq.desc()).limit(1)


def _values(row: Any) -> dict[str, Any]:
    """Return a seal as JSON values, which its link is made of; what it does not say is left out."""
    kept = ("of", "key", "upto", "rows", "hash", "why", "event_hash", "change_hash")
    values = {name: row[name] for name in kept if row[name]}
    return {**values, "at": row["at"].isoformat()}


def _fresh(connection: Connection, sealed: Sealed) -> Iterator[dict[str, Any]]:
    """Give what is not sealed yet of a table, as values of seals."""
    if sealed.grows:
        rows = list(rows_of(connection, sealed, after=_sealed_up_to(connection, sealed)))
        if rows:
            yield _sealing(sealed, rows, upto=max(row.key for row in rows))
        return
    before = {} if sealed.whole is not None else seals_by_key(connection, sealed)
    for row in rows_of(connection, sealed, unsealed=sealed.whole is not None):
        if str(row.key) not in before or before[str(row.key)].hash != hash_of([row]):
            yield _sealing(sealed, [row], key=str(row.key))


def _sealing(sealed: Sealed, rows: Sequence[SealedRow], *, key: str = "", upto: int = 0) -> dict[str, Any]:
    told = [f"{row.digest[:DIGITS]} {row.name}" for row in rows]
    return {"of": sealed.table.name, "key": key, "upto": upto, "rows": told, "hash": hash_of(rows)}


def hash_of(rows: Iterable[SealedRow]) -> str:
    """Return the SHA-256 of the hashes of rows in their order, hexadecimal."""
    return hashlib.sha256("".join(row.digest for row in rows).encode()).hexdigest()


def _sealed_up_to(connection: Connection, sealed: Sealed) -> int:
    mine = select(_SEAL.c.upto).where(_SEAL.c.of == sealed.table.name)
    return int(connection.scalar(mine.order_by(_SEAL.c.seq.desc()).limit(1)) or 0)


def seals_by_key(connection: Connection, sealed: Sealed) -> dict[str, Row[Any]]:
    """Return the newest seal of each row that may change."""
    query = select(_SEAL).where(_SEAL.c.of == sealed.table.name).order_by(_SEAL.c.seq)
    return {row.key: row for row in connection.execute(query)}


def rows_of(
    connection: Connection, sealed: Sealed, *, after: int = 0, unsealed: bool = False
) -> Iterator[SealedRow]:
    """Give the rows of a table in their order: those after a key, or those that no seal knows."""
    query = select(*sealed.columns).order_by(*sealed.table.primary_key)
    if sealed.grows:
        query = query.where(sealed.key > after)
    if sealed.whole is not None:
        query = query.where(sealed.whole)
    if unsealed:
        mine = select(_SEAL.c.seq).where(_SEAL.c.of == sealed.table.name, _SEAL.c.key == sealed.key)
        query = query.where(~mine.exists())
    names = [f"{column.name}" for column in sealed.columns]  # plain texts, which orjson asks for
    nothings = list(zip(names, map(_nothings, sealed.columns), strict=True))
    at, named = names.index(sealed.key.name), [names.index(name) for name in sealed.named]
    with connection.execute(query.execution_options(yield_per=5000)) as found:
        for row in found:
            said = {
                name: value
                for (name, nothing), value in zip(nothings, row, strict=True)
                if value is not None and value not in nothing
            }
            digest = hashlib.sha256(orjson.dumps(said, option=_ORDERED)).hexdigest()
            name = " ".join(str(row[place]) for place in named if row[place] not in (None, ""))
            yield SealedRow(row[at], " ".join(name.split()), digest)


def _nothings(column: Column[Any]) -> tuple[Any, ...]:
    """Return what a column that is never NULL holds where nothing is said.

    That is left out of what is hashed, as NULL is: a column that comes with a later version, at its default,
    leaves old seals true.
    """
    if column.nullable:
        return ()
    if isinstance(column.type, JSON):
        return ([], {})
    return (False,) if isinstance(column.type, Boolean) else ("",)
