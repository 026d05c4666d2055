"""What in a job is not as it was sealed: of each table the first row changed, taken out or put in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import takewhile
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

from sqlalchemy import Connection, Row, Table, select

from linemap.store import schema
from linemap.store.seals import DIGITS, SEALED, Sealed, SealedRow, hash_of, rows_of, seals_by_key

_SEAL = schema.seal


class Altered(NamedTuple):
    """A row that is not as it was sealed."""

    #: What it is, for people: "hold".
    noun: str
    #: Which one, by what its list tells records apart by; "" = it has no name.
    name: str
    how: Literal["changed", "gone", "added"]
    #: Number of the seal that says so; 0 = no seal knows it, or the row can no longer be read.
    seal: int


def find_altered(connection: Connection) -> Iterator[Altered]:
    """Give the first row of each table that is not as it was sealed, in the order of `SEALED`."""
    for each in SEALED.values():
        look = _altered_batches if each.grows else _altered_rows
        try:
            found = next(look(connection, each), None)
        except (ValueError, TypeError):  # a forged value that is none of its column
            found = Altered(each.noun, "", "changed", 0)
        if found is not None:
            yield found


def newest_links(connection: Connection) -> dict[str, tuple[int, str]]:
    """Return what tells the whole record: the newest link of each chain, with its number.

    By "events", "changes" and "seals"; a chain without links is left out.
    """
    found = {}
    for name, table in _CHAINS.items():
        query = select(table.c.seq, table.c.chain_hash).order_by(table.c.seq.desc()).limit(1)
        row = connection.execute(query).one_or_none()
        if row is not None:
            found[name] = (int(row.seq), str(row.chain_hash))
    return found


def link_at(connection: Connection, chain: str, seq: int) -> str | None:
    """Return the link of a chain at a number; None = there is none."""
    table = _CHAINS[chain]
    found: str | None = connection.scalar(select(table.c.chain_hash).where(table.c.seq == seq))
    return found


#: The chains of a job.
_CHAINS: Mapping[str, Table] = MappingProxyType(
    {"events": schema.event, "changes": schema.job_change, "seals": _SEAL}
)


def _altered_batches(connection: Connection, sealed: Sealed) -> Iterator[Altered]:
    rows = _Ahead(rows_of(connection, sealed))
    query = select(_SEAL).where(_SEAL.c.of == sealed.table.name).order_by(_SEAL.c.seq)
    for seal in connection.execute(query):
        mine = rows.up_to(seal.upto)
        if hash_of(mine) != seal.hash:
            yield _first_difference(sealed, seal, mine)
    for row in rows.up_to(None):
        yield Altered(sealed.noun, row.name, "added", 0)


class _Ahead:
    """Rows in the order of their keys, taken in portions."""

    def __init__(self, rows: Iterator[SealedRow]) -> None:
        self._rows = rows
        self._next = next(rows, None)

    def up_to(self, key: int | None) -> list[SealedRow]:
        """Take the rows up to a key; None = all that are left."""
        taken = []
        while self._next is not None and (key is None or self._next.key <= key):
            taken.append(self._next)
            self._next = next(self._rows, None)
        return taken


def _first_difference(sealed: Sealed, seal: Row[Any], rows: Sequence[SealedRow]) -> Altered:
    """Tell which row of a batch is not as it was sealed."""
    was, now = [told[:DIGITS] for told in seal.rows], [row.digest[:DIGITS] for row in rows]
    at = len(list(takewhile(lambda pair: pair[0] == pair[1], zip(was, now, strict=False))))
    known = seal.rows[at][DIGITS + 1 :] if at < len(was) else ""
    if now[at : at + 1] == was[at + 1 : at + 2] and len(now) < len(was):
        return Altered(sealed.noun, known, "gone", seal.seq)
    if was[at : at + 1] == now[at + 1 : at + 2] and len(now) > len(was):
        return Altered(sealed.noun, rows[at].name, "added", seal.seq)
    return Altered(sealed.noun, known, "changed", seal.seq)


def _altered_rows(connection: Connection, sealed: Sealed) -> Iterator[Altered]:
    seals = seals_by_key(connection, sealed)
    for row in rows_of(connection, sealed):
        seal = seals.pop(str(row.key), None)
        if seal is None:
            yield Altered(sealed.noun, row.name, "added", 0)
        elif hash_of([row]) != seal.hash:
            yield Altered(sealed.noun, seal.rows[0][DIGITS + 1 :], "changed", seal.seq)
        elif sealed.bytes_of is not None and not _has_its_bytes(connection, sealed, row.key):
            yield Altered(sealed.noun, row.name, "changed", seal.seq)
    for seal in seals.values():
        yield Altered(sealed.noun, seal.rows[0][DIGITS + 1 :], "gone", seal.seq)


def _has_its_bytes(connection: Connection, sealed: Sealed, key: Any) -> bool:
    if sealed.bytes_of is None:
        return True
    said = connection.scalar(select(sealed.table.c.sha256).where(sealed.key == key))
    try:
        return bool(sealed.bytes_of(connection, key) == said)
    except TypeError:  # SQLite keeps a text where bytes belong, if somebody puts it there
        return False
