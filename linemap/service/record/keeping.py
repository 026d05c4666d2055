"""Copies of a job to keep, bringing one back, and what phones and server find of each other afterwards."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from sqlalchemy import Connection, select

from linemap.answers.record import BackupMark, Compared, DeviceRecords, RecordMark
from linemap.errors import Conflict, InputRefused, Problem
from linemap.service.record.log import Verified, lost_since, newest_of_job, verify_record
from linemap.store import schema
from linemap.store.backup import (
    Backup,
    RecordHead,
    Witness,
    add_backup,
    add_witness,
    copy_file,
    dump_schema,
    load_dump,
    load_witnesses,
    make_one_file,
    missing_among,
    newest_backup,
    record_head,
    recorded_by,
)
from linemap.store.database import Database, open_job
from linemap.store.engine import Place
from linemap.store.job import load_job, renew_incarnation
from linemap.store.versions import load_data_version

#: What a dump of PostgreSQL begins with.
_DUMP = b"PGDMP"
_NOT_THERE = "NOT HERE ARE ITS {}: cut, exchanged, or brought back from a copy made before"
_NO_BACKUP = "No backup of this job is on record. Make one with: linemap backup JOB --to FILE"


def back_up(database: Database, to: Path, *, now: dt.datetime) -> tuple[Backup, Verified | None]:
    """Write a copy of a job as it stands at one moment, while others go on recording, and note it in the job.

    Returns
    -------
    Backup, Verified
        What was noted, and what came of computing the chains of the copy anew; None of a dump, which is
        what there is of a PostgreSQL job.

    Raises
    ------
    Conflict
        If the file is there already.
    JobUnreadable
        If the copy cannot be written; then nothing is noted and no file is left.
    """
    if to.exists():
        raise Conflict(f"{to} is there already; name a new file for each backup")
    part = to.with_name(f"{to.name}.part")
    try:
        made, verified = _dumped(database, part) if database.place.path is None else _copied(database, part)
        with part.open("rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        made = replace(made, at=now, name=to.name, sha256=sha256, size=part.stat().st_size)
        part.rename(to)
    except OSError as error:
        problem = Problem(file=str(to), reason=f"cannot be written: {error.strerror}", remedy="name another")
        raise InputRefused(problem) from error
    finally:
        part.unlink(missing_ok=True)
    with database.writing() as connection:
        add_backup(connection, made)
    return made, verified


def _copied(database: Database, part: Path) -> tuple[Backup, Verified]:
    """Copy a file, and give the copy a life of its own: whoever opens it does not continue this one."""
    path = database.place.path
    if path is None:
        raise ValueError(f"{database.place} is no file")
    part.unlink(missing_ok=True)
    copy_file(path, part)
    with open_job(part) as copy:
        with copy.reading() as connection:
            made = _standing(connection)
        verified = verify_record(copy)
        with copy.writing() as connection:
            renew_incarnation(connection)
    make_one_file(part)
    return made, verified


def _dumped(database: Database, part: Path) -> tuple[Backup, None]:
    with database.reading() as connection:
        made = _standing(connection)
        dump_schema(database.place, connection, part)
    return made, None


def _standing(connection: Connection) -> Backup:
    """Return what a copy of the job as it stands would hold."""
    head = record_head(connection)
    return Backup(
        at=dt.datetime.now(dt.UTC),
        incarnation=load_job(connection).incarnation,
        event_seq=head.seq,
        event_hash=head.link,
        version=load_data_version(connection),
        name="",
        sha256="",
        size=0,
    )


def bring_back(copy: Path, target: str) -> RecordHead:
    """Make a job of a copy that was kept, with a life of its own; return up to which event it reaches.

    Phones that come to it see that it is another life of their job, and send again what it lacks.

    Raises
    ------
    InputRefused
        If there is no such copy, or it is a dump and the job is to be a file, or the other way round.
    Conflict
        If there is a job at `target` already.
    """
    try:
        with copy.open("rb") as file:
            is_dump = file.read(len(_DUMP)) == _DUMP
    except OSError as error:
        problem = Problem(file=str(copy), reason=f"cannot be read: {error.strerror}", remedy="name a backup")
        raise InputRefused(problem) from error
    place = Place.from_text(target)
    if is_dump != place.is_postgresql:
        remedy = "name a postgresql:// database" if is_dump else "name a new file"
        wrong = "is a dump of PostgreSQL" if is_dump else "is a job in a file"
        raise InputRefused.at("--to", target, f"{copy.name} {wrong}", remedy)
    if place.path is not None:
        place.reserve()
    try:
        if place.path is None:
            load_dump(place, copy)
        else:
            copy_file(copy, place.path)
        with open_job(target) as database, database.writing() as connection:
            renew_incarnation(connection)
            return record_head(connection)
    except BaseException:
        place.give_back()
        raise


def record_mark(connection: Connection) -> tuple[RecordMark, BackupMark | None]:
    """Return how far the record reaches, and how far the newest copy of this life of the job."""
    head = record_head(connection)
    found = newest_backup(connection, load_job(connection).incarnation)
    mark = RecordMark(seq=head.seq, newest=newest_of_job(connection))
    if found is None:
        return mark, None
    at = found.at.isoformat(timespec="seconds")
    return mark, BackupMark(at=at, seq=found.event_seq, version=found.version)


def compare(
    database: Database,
    *,
    records: Sequence[str],
    photos: Sequence[str],
    seen: Witness | None,
    new_device: str = "",
) -> Compared:
    """Say which of the records and photos that a phone sent are not there, and whether what it saw still is.

    `seen` are the newest links the phone saw, kept for `log verify --phones`. `new_device` names a phone that
    finds nothing of its own: it is told what came from it.
    """
    with database.reading() as connection:
        head = record_head(connection)
        lost = () if seen is None else lost_since(connection, seen.newest)
        count, newest = recorded_by(connection, new_device) if new_device else (0, None)
        answer = Compared(
            incarnation=load_job(connection).incarnation,
            data_version=load_data_version(connection),
            record=RecordMark(seq=head.seq, newest=newest_of_job(connection)),
            lost=lost,
            missing=missing_among(connection, records, photos),
            from_device=DeviceRecords(count=count, newest=newest.isoformat()) if newest else None,
        )
    if seen is not None and seen.newest:
        with database.writing() as connection:
            before = [each.newest for each in load_witnesses(connection, device=seen.device)]
            standing = [each for each in before if not lost_since(connection, each)]
            add_witness(connection, seen, instead_of=standing)
    return answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Witnessed:
    """What a phone saw of the job, and which chains of it do not hold that any more; () = all do."""

    seen: Witness
    lost: tuple[str, ...]

    @property
    def words(self) -> str:
        """Say what the phone saw and what became of it, in one sentence."""
        seen = self.seen
        phone = f"{seen.device or 'a phone without a name'}{f' ({seen.person})' if seen.person else ''}"
        saw = f"{phone} saw {seen.newest} on {seen.seen_at.astimezone():%Y-%m-%d %H:%M}"
        return f"{saw}; {_NOT_THERE.format(' and '.join(self.lost)) if self.lost else 'all of it is here'}"


def witnessed(database: Database) -> tuple[Witnessed, ...]:
    """Return what each phone saw last of the job, and what it saw before that is not there any more."""
    with database.reading() as connection:
        return tuple(
            Witnessed(seen=each, lost=lost_since(connection, each.newest))
            for each in load_witnesses(connection)
        )


def keeping_words(database: Database) -> list[str]:
    """Say up to which event the record is in a copy, and which phones saw a record that is not this one."""
    with database.reading() as connection:
        found = newest_backup(connection, load_job(connection).incarnation)
        count = select(schema.event.c.seq).where(schema.event.c.seq > (found.event_seq if found else 0))
        since = len(connection.scalars(count).all())
    words = [_NO_BACKUP]
    if found is not None:
        when = f"{found.at:%Y-%m-%d %H:%M}"
        words = [
            f"The record up to event {found.event_seq:,} is in a backup made {when} ({found.name}); "
            f"{since:,} {'event' if since == 1 else 'events'} came since."
        ]
    return words + [f"{each.words}." for each in witnessed(database) if each.lost]
