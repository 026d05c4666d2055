"""The record of the field as one file, and the check that nothing in it was changed."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from linemap import __version__
from linemap.domain.record.chain import FIRST_LINK, Break, Linked, first_break
from linemap.errors import InputRefused, Problem
from linemap.store.changes import changes_in_order
from linemap.store.database import Database
from linemap.store.events import record_in_order
from linemap.store.job import load_job


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What the check of a record found: of its events, and of the accepted changes of the job."""

    #: Events up to the end, or to the break.
    count: int
    #: Newest link of the chain, or the last one that holds; "" = none.
    head: str
    #: None = every event follows from those before it.
    broken: Break | None
    #: Whether the link the caller had noted stands in either chain; None = none was given.
    noted_found: bool | None = None
    #: Accepted changes up to the end, or to the break, and their newest link.
    change_count: int = 0
    change_head: str = FIRST_LINK
    #: None = every change follows from those before it, and names links of the events.
    change_broken: Break | None = None


def verify_record(database: Database, *, noted: str = "") -> Verified:
    """Compute the chain of a job's events anew and compare.

    `noted` is a link noted earlier: the record up to it must still be the one it was.
    """
    with database.reading() as connection:
        return _verify(record_in_order(connection), changes_in_order(connection), noted)


def verify_export(path: Path, *, noted: str = "") -> Verified:
    """Compute the chain of an exported file anew and compare; the job is not needed.

    A file that cannot be read, or holds a line that is no event of an export, is refused.
    """
    try:
        with path.open(encoding="utf-8") as file:
            changes: list[Linked] = []
            return _verify(_events(file, path.name, changes), changes, noted)
    except (OSError, UnicodeDecodeError) as error:
        problem = Problem(file=path.name, reason=f"cannot be read: {error}", remedy="name an exported file")
        raise InputRefused(problem) from error


def export_record(database: Database, path: Path) -> int:
    """Write every event with its link, one JSON object a line, in order of receipt; return how many.

    Each line is ``{"seq": ..., "event": {...}, "hash": "..."}``. The hash is the SHA-256, in hexadecimal, of
    the hash of the line before ("" before the first) and the event as JSON with sorted names, without blanks,
    in UTF-8 without escapes. The first line names under "job" the job it is of, too, and the linemap. After
    the events come the accepted changes of the job, a chain of their own, with "change" instead of "event".
    """
    count = 0
    try:
        with database.reading() as connection, path.open("w", encoding="utf-8", newline="\n") as file:
            job = load_job(connection)
            made = {"identity": job.identity, "incarnation": job.incarnation, "software": __version__}
            for linked in record_in_order(connection):
                file.write(_line(linked, "event", {} if count else {"job": made}))
                count += 1
            for linked in changes_in_order(connection):
                file.write(_line(linked, "change", {}))
    except OSError as error:
        problem = Problem(
            file=str(path), reason=f"cannot be written: {error.strerror}", remedy="name another"
        )
        raise InputRefused(problem) from error
    return count


def _line(linked: Linked, what: str, more: Mapping[str, Any]) -> str:
    line = {"seq": linked.seq, what: linked.values, "hash": linked.link, **more}
    return json.dumps(line, ensure_ascii=False, separators=(",", ":"), sort_keys=True) + "\n"


def _verify(events: Iterable[Linked], changes: Iterable[Linked], noted: str) -> Verified:
    """Check both chains; the changes are gone through after the events."""
    record = _Watched(events, noted)
    broken = first_break(record)
    done = _Watched(changes, noted)
    unfounded = first_break(done) or done.not_among(record.links)
    return Verified(
        count=record.count - 1 if broken is not None else record.count,
        head=record.before if broken is not None else record.head,
        broken=broken,
        noted_found=record.found or done.found if noted else None,
        change_count=done.count - 1 if unfounded is not None else done.count,
        change_head=done.before if unfounded is not None else done.head,
        change_broken=unfounded,
    )


class _Watched:
    """A record that remembers its newest link and whether a noted one came by."""

    def __init__(self, record: Iterable[Linked], noted: str) -> None:
        self._record = record
        self._noted = noted.strip().lower()
        self.count = 0
        self.before = self.head = FIRST_LINK
        self.found = False
        self.links = {FIRST_LINK}
        self._named: list[tuple[str, Break]] = []

    def __iter__(self) -> Iterator[Linked]:
        for linked in self._record:
            self.count += 1
            self.before, self.head = self.head, linked.link
            self.found = self.found or linked.link == self._noted
            self.links.add(linked.link)
            if "event_hash" in linked.values:
                at = Break(self.count, linked.seq, str(linked.values.get("id", "")))
                self._named.append((str(linked.values["event_hash"]), at))
            yield linked

    def not_among(self, links: Collection[str]) -> Break | None:
        """Return the first change that names a link of the events which is not theirs; None = none does."""
        return next((at for named, at in self._named if named not in links), None)


def _events(file: Iterable[str], name: str, changes: list[Linked]) -> Iterator[Linked]:
    """Give the events of an exported file; the changes in it are put into `changes`."""
    for row, line in enumerate(file, start=1):
        if line.strip():
            what, linked = _linked(line, name, row)
            if what == "event":
                yield linked
            else:
                changes.append(linked)


def _linked(line: str, name: str, row: int) -> tuple[str, Linked]:
    try:
        found: Any = json.loads(line)
        what = "change" if "change" in found else "event"
        linked = Linked(int(found["seq"]), found[what], str(found["hash"]))
        if isinstance(linked.values, dict):
            return what, linked
    except (ValueError, KeyError, TypeError, RecursionError):
        pass
    problem = Problem(
        file=name, row=row, reason="is no event of an exported record", remedy="export the record again"
    )
    raise InputRefused(problem)
