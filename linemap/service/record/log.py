"""The record of a job as one file, and the check that nothing that decides in it was changed.

Three chains hold it: of the events, of the accepted changes, and of the seals of whatever else decides.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from linemap import __version__
from linemap.domain.record.chain import FIRST_LINK, Break, Linked, first_break
from linemap.errors import InputRefused, Problem
from linemap.store.altered import Altered, find_altered, link_at, newest_links
from linemap.store.changes import changes_in_order
from linemap.store.database import Database
from linemap.store.events import record_in_order
from linemap.store.job import load_job
from linemap.store.seals import seals_in_order

_LINK = re.compile(r"\b[0-9a-f]{64}\b")
_NEWEST = re.compile(rf"\b(events|changes|seals) (\d{{1,18}}) ({_LINK.pattern})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What the check of a record found: of its events, the accepted changes of the job, and its seals."""

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
    #: Seals up to the end, or to the break, and their newest link.
    seal_count: int = 0
    seal_head: str = FIRST_LINK
    #: None = every seal follows from those before it, and names links of the events and of the changes.
    seal_broken: Break | None = None
    #: What decides and is not as it was sealed, the first of each kind; an exported file holds none of it.
    altered: tuple[Altered, ...] = ()
    #: When what was there already was sealed, and in whose words; "" = everything was when it came in.
    sealed_since: str = ""

    @property
    def holds(self) -> bool:
        """True when nothing was found that is not as it was recorded."""
        broken = (self.broken, self.change_broken, self.seal_broken)
        return not self.altered and self.noted_found is not False and all(at is None for at in broken)


def verify_record(database: Database, *, noted: str = "") -> Verified:
    """Compute the chains of a job anew and compare, and what decides with its seals.

    `noted` is a link noted earlier, or several as `newest_of_job` gives them: the record up to each must
    still be the one it was.
    """
    with database.reading() as connection:
        found = _verify(
            record_in_order(connection), changes_in_order(connection), seals_in_order(connection), noted
        )
        return replace(found, altered=tuple(find_altered(connection)))


def newest_of_job(connection: Connection) -> str:
    """Return what holds the whole record of a job, for whoever witnesses it: the newest link of each chain.

    Like "events 812 5d0f..., changes 3 81ab..., seals 40 9c33...", each with its number; "" = nothing is
    recorded. `lost_since` tells whether the job still is the one that said so, and `log verify --noted` too.
    """
    newest = newest_links(connection).items()
    return ", ".join(f"{name} {seq} {made}" for name, (seq, made) in newest)


def lost_since(connection: Connection, noted: str) -> tuple[str, ...]:
    """Return the chains that no longer hold what `newest_of_job` said once, as "events", "changes", "seals".

    () = the record goes on from there. What is no such text names nothing, and so loses nothing. It takes one
    look into each chain, however long they are.
    """
    return tuple(
        chain for chain, seq, made in _NEWEST.findall(noted) if link_at(connection, chain, int(seq)) != made
    )


def verify_export(path: Path, *, noted: str = "") -> Verified:
    """Compute the chain of an exported file anew and compare; the job is not needed.

    A file that cannot be read, or holds a line that is no event of an export, is refused.
    """
    try:
        with path.open(encoding="utf-8") as file:
            others: dict[str, list[Linked]] = {"change": [], "seal": []}
            events = _events(file, path.name, others)
            return _verify(events, others["change"], others["seal"], noted)
    except (OSError, UnicodeDecodeError) as error:
        problem = Problem(file=path.name, reason=f"cannot be read: {error}", remedy="name an exported file")
        raise InputRefused(problem) from error


def export_record(database: Database, path: Path) -> int:
    """Write every event with its link, one JSON object a line, in order of receipt; return how many.

    Each line is ``{"seq": ..., "event": {...}, "hash": "..."}``. The hash is the SHA-256, in hexadecimal, of
    the hash of the line before ("" before the first) and the event as JSON with sorted names, without blanks,
    in UTF-8 without escapes. The first line names under "job" the job it is of, too, and the linemap. After
    the events come the accepted changes of the job, a chain of their own, with "change" instead of "event",
    and the seals of everything else that decides, with "seal": of each row its name and digits of its hash.
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
            for linked in seals_in_order(connection):
                file.write(_line(linked, "seal", {}))
    except OSError as error:
        problem = Problem(
            file=str(path), reason=f"cannot be written: {error.strerror}", remedy="name another"
        )
        raise InputRefused(problem) from error
    return count


def _line(linked: Linked, what: str, more: Mapping[str, Any]) -> str:
    line = {"seq": linked.seq, what: linked.values, "hash": linked.link, **more}
    return json.dumps(line, ensure_ascii=False, separators=(",", ":"), sort_keys=True) + "\n"


def _verify(
    events: Iterable[Linked], changes: Iterable[Linked], seals: Iterable[Linked], noted: str
) -> Verified:
    """Check the chains one after the other: each names links of those before it."""
    record = _Watched(events)
    broken = first_break(record)
    done = _Watched(changes)
    unfounded = first_break(done) or done.not_among("event_hash", record.links)
    sealed = _Watched(seals)
    unsealed = (
        first_break(sealed)
        or sealed.not_among("event_hash", record.links)
        or sealed.not_among("change_hash", done.links)
    )
    every = record.links | done.links | sealed.links
    return Verified(
        count=record.count - 1 if broken is not None else record.count,
        head=record.before if broken is not None else record.head,
        broken=broken,
        noted_found=_noted_links(noted) <= every if noted.strip() else None,
        change_count=done.count - 1 if unfounded is not None else done.count,
        change_head=done.before if unfounded is not None else done.head,
        change_broken=unfounded,
        seal_count=sealed.count - 1 if unsealed is not None else sealed.count,
        seal_head=sealed.before if unsealed is not None else sealed.head,
        seal_broken=unsealed,
        sealed_since=sealed.since,
    )


def _noted_links(noted: str) -> set[str]:
    folded = noted.strip().lower()
    return {*_LINK.findall(folded)} or {folded}


def _readable(record: Iterable[Linked]) -> Iterator[Linked]:
    """Give what can be read; what no values can be made of stands as one that follows from nothing."""
    seq = 0
    try:
        for linked in record:
            seq = linked.seq
            yield linked
    except ValueError:
        yield Linked(seq + 1, {"id": "what can no longer be read"}, "")


class _Watched:
    """A chain that remembers its links, and which links of other chains it names."""

    def __init__(self, record: Iterable[Linked]) -> None:
        self._record = record
        self.count = 0
        self.before = self.head = FIRST_LINK
        self.links = {FIRST_LINK}
        self.since = ""
        self._named: list[tuple[str, str, Break]] = []

    def __iter__(self) -> Iterator[Linked]:
        for linked in _readable(self._record):
            self.count += 1
            self.before, self.head = self.head, linked.link
            self.links.add(linked.link)
            values = linked.values
            for name in ("event_hash", "change_hash"):
                if name in values:
                    at = Break(self.count, linked.seq, str(values.get("id", values.get("of", ""))))
                    self._named.append((name, str(values[name]), at))
            if "why" in values and not self.since:
                self.since = f"{values['at']}, {values['why']}"
            yield linked

    def not_among(self, chain: str, links: Collection[str]) -> Break | None:
        """Return the first that names a link of another chain which is not there; None = none does."""
        return next((at for name, named, at in self._named if name == chain and named not in links), None)


def _events(file: Iterable[str], name: str, others: Mapping[str, list[Linked]]) -> Iterator[Linked]:
    """Give the events of an exported file; changes and seals in it are put into `others`."""
    for row, line in enumerate(file, start=1):
        if line.strip():
            what, linked = _linked(line, name, row)
            if what == "event":
                yield linked
            else:
                others[what].append(linked)


def _linked(line: str, name: str, row: int) -> tuple[str, Linked]:
    try:
        found: Any = json.loads(line)
        what = next((each for each in ("change", "seal") if each in found), "event")
        linked = Linked(int(found["seq"]), found[what], str(found["hash"]))
        if isinstance(linked.values, dict):
            return what, linked
    except (ValueError, KeyError, TypeError, RecursionError):
        pass
    problem = Problem(
        file=name, row=row, reason="is no event of an exported record", remedy="export the record again"
    )
    raise InputRefused(problem)
