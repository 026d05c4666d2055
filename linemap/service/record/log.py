"""The record of the field as one file, and the check that nothing in it was changed."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from linemap import __version__
from linemap.domain.record.event import FIRST_LINK, Break, Linked, first_break
from linemap.errors import InputRefused, Problem
from linemap.store.database import Database
from linemap.store.events import record_in_order
from linemap.store.job import load_job


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What the check of a record found."""

    #: Events up to the end, or to the break.
    count: int
    #: Newest link of the chain, or the last one that holds; "" = none.
    head: str
    #: None = every event follows from those before it.
    broken: Break | None
    #: Whether the link the caller had noted stands in the chain; None = none was given.
    noted_found: bool | None = None


def verify_record(database: Database, *, noted: str = "") -> Verified:
    """Compute the chain of a job's events anew and compare.

    `noted` is a link noted earlier: the record up to it must still be the one it was.
    """
    with database.reading() as connection:
        return _verify(record_in_order(connection), noted)


def verify_export(path: Path, *, noted: str = "") -> Verified:
    """Compute the chain of an exported file anew and compare; the job is not needed.

    A file that cannot be read, or holds a line that is no event of an export, is refused.
    """
    try:
        with path.open(encoding="utf-8") as file:
            return _verify(_lines(file, path.name), noted)
    except (OSError, UnicodeDecodeError) as error:
        problem = Problem(file=path.name, reason=f"cannot be read: {error}", remedy="name an exported file")
        raise InputRefused(problem) from error


def export_record(database: Database, path: Path) -> int:
    """Write every event with its link, one JSON object a line, in order of receipt; return how many.

    Each line is ``{"seq": ..., "event": {...}, "hash": "..."}``. The hash is the SHA-256, in hexadecimal, of
    the hash of the line before ("" before the first) and the event as JSON with sorted names, without blanks,
    in UTF-8 without escapes. The first line names under "job" the job it is of, too, and the linemap.
    """
    count = 0
    try:
        with database.reading() as connection, path.open("w", encoding="utf-8", newline="\n") as file:
            job = load_job(connection)
            made = {"identity": job.identity, "incarnation": job.incarnation, "software": __version__}
            for linked in record_in_order(connection):
                line = {"seq": linked.seq, "event": linked.values, "hash": linked.link}
                line |= {} if count else {"job": made}
                file.write(json.dumps(line, ensure_ascii=False, separators=(",", ":"), sort_keys=True) + "\n")
                count += 1
    except OSError as error:
        problem = Problem(
            file=str(path), reason=f"cannot be written: {error.strerror}", remedy="name another"
        )
        raise InputRefused(problem) from error
    return count


def _verify(record: Iterable[Linked], noted: str) -> Verified:
    watched = _Watched(record, noted)
    broken = first_break(watched)
    count = watched.count - 1 if broken is not None else watched.count
    head = watched.before if broken is not None else watched.head
    return Verified(count=count, head=head, broken=broken, noted_found=watched.found if noted else None)


class _Watched:
    """A record that remembers its newest link and whether a noted one came by."""

    def __init__(self, record: Iterable[Linked], noted: str) -> None:
        self._record = record
        self._noted = noted.strip().lower()
        self.count = 0
        self.before = self.head = FIRST_LINK
        self.found = False

    def __iter__(self) -> Iterator[Linked]:
        for linked in self._record:
            self.count += 1
            self.before, self.head = self.head, linked.link
            self.found = self.found or linked.link == self._noted
            yield linked


def _lines(file: Iterable[str], name: str) -> Iterator[Linked]:
    for row, line in enumerate(file, start=1):
        if line.strip():
            yield _linked(line, name, row)


def _linked(line: str, name: str, row: int) -> Linked:
    try:
        found: Any = json.loads(line)
        linked = Linked(int(found["seq"]), found["event"], str(found["hash"]))
        if isinstance(linked.values, dict):
            return linked
    except (ValueError, KeyError, TypeError, RecursionError):
        pass
    problem = Problem(
        file=name, row=row, reason="is no event of an exported record", remedy="export the record again"
    )
    raise InputRefused(problem)
