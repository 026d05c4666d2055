"""A review of an edit: what it would do, worked out by doing it; and the edit carried out as it was shown.

All of it is done in a transaction that is then rolled back, and the job is computed as it would be: what is
shown is what accepting it does.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import orjson
from sqlalchemy import Connection

from linemap.answers.change import Consequence, NeededWord
from linemap.domain.record.change import Done, JobChange, What
from linemap.errors import Conflict, InputRefused, Problem, Severity
from linemap.service.files.consequence import Found, gathered
from linemap.service.files.consequences import consequences
from linemap.service.files.edit import (
    Applied,
    Signed,
    apply_undo,
    keep_change,
    require_words,
    taken_words,
)
from linemap.service.files.load import apply_load, read_files
from linemap.service.files.load_report import FilesRead, LoadedFile, LoadReport, LoadRequest, file_as_read
from linemap.service.job.load_stored import load_stored
from linemap.service.job.stored import Stored, written_as
from linemap.service.view.build import compute_stored
from linemap.service.view.view import JobView
from linemap.store.changes import drop_proposal
from linemap.store.database import Database
from linemap.store.events import since, since_known
from linemap.store.versions import load_versions

#: Told what is being done and the share of it that is done, 0 to 1.
Progress = Callable[[str, float], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """What is to be done: files to load, or a change to undo."""

    #: None = nothing is loaded.
    load: LoadRequest | None = None
    #: Identifier of the change to undo; "" = none.
    undo: str = ""

    @property
    def what(self) -> What:
        """Whether files are loaded or a change is undone."""
        return "undo" if self.load is None else "load"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reviewed:
    """What an edit would do, ready to be shown."""

    applied: Applied
    read: FilesRead
    #: Refusals that are of no one file.
    refused: tuple[Problem, ...]
    before: JobView
    #: The same as before when something is refused.
    after: JobView
    found: list[Found]
    consequences: Sequence[Consequence]
    needs: Sequence[NeededWord]
    #: Versions of the job it was made against.
    data_version: int
    base_version: int
    #: Day it was worked out for, where the job declares none.
    day: dt.date

    @property
    def stops(self) -> bool:
        """True when something is refused, so that there is nothing to accept."""
        return _stops(self.applied, self.refused)

    @property
    def digest(self) -> str:
        """Fingerprint of all that is shown."""
        shown = [[*map(str, self.refused)], self.consequences, self.needs, [*map(vars, self.applied.files)]]
        return hashlib.sha256(orjson.dumps(shown, default=str)).hexdigest()


def _stops(applied: Applied, refused: Sequence[Problem]) -> bool:
    problems = (problem for file in applied.files for problem in file.problems)
    return bool(refused) or any(each.severity is Severity.REFUSED for each in problems)


def _unseen(_step: str, _share: float) -> None:
    """Tell nobody: who accepts waits for the answer."""


class _RolledBack(Exception):  # noqa: N818 - ends a look, no error
    """Takes back what was done to be looked at."""


def read_edit(
    database: Database,
    edit: Edit,
    *,
    now: dt.datetime,
    progress: Progress = _unseen,
    cancelled: Callable[[], bool] = lambda: False,
) -> FilesRead:
    """Read the files of an edit, each in a child; a refusal is in what comes back. None for an undo."""
    if edit.load is None:
        return FilesRead()
    progress("reading the files", 0.0)
    return read_files(
        database,
        edit.load,
        now=now,
        progress=lambda done, of: progress("reading the files", 0.5 * done / max(of, 1)),
        cancelled=cancelled,
    )


def review(
    database: Database,
    edit: Edit,
    *,
    now: dt.datetime,
    served: Callable[[], JobView] | None = None,
    progress: Progress = _unseen,
    cancelled: Callable[[], bool] = lambda: False,
) -> Reviewed:
    """Say what an edit would do; nothing is stored. Reading ends when `cancelled`, asked often, says True.

    A view of the job as it is need not be made where one is `served` of the same version and day.

    Raises
    ------
    Cancelled
        When it did.
    NotFound, Conflict
        If the change to undo is not there, or cannot be undone now.
    """
    read = read_edit(database, edit, now=now, progress=progress, cancelled=cancelled)
    progress("putting them beside what is there", 0.5)
    looked: dict[str, Any] = {}
    try:
        with database.writing() as connection:
            looked["versions"] = load_versions(connection)
            received = since(connection, 0)
            looked["before"] = load_stored(connection, received=received)
            looked["applied"] = _apply(connection, edit, read, looks=True, now=now)
            looked["after"] = load_stored(connection, received=since_known(connection, received))
            raise _RolledBack
    except _RolledBack:
        refused: tuple[Problem, ...] = ()
    except InputRefused as refusal:
        refused = refusal.problems
        as_read = tuple(map(file_as_read, read.files))
        looked |= {"applied": Applied(files=as_read, done=Done())}
    progress("working out what follows", 0.6)
    stops = _stops(looked["applied"], refused)
    # a structure that is only written another way is the same structure
    earlier, anew = written_as(looked["before"], looked["before" if stops else "after"].structures)
    before = (None if anew else _served(served, earlier, now)) or _computed(earlier, now)
    progress("working out what follows", 0.75)
    after = before if stops else _computed(looked["after"], now)
    progress("comparing", 0.9)
    applied: Applied = looked["applied"]
    found = list(consequences(before, after, anew))
    return Reviewed(
        applied=applied,
        read=read,
        refused=refused,
        before=before,
        after=after,
        found=found,
        consequences=gathered(found),
        needs=[
            NeededWord(word=word, count=len(names), words=taken_words(word, names))
            for word, names in applied.taken.items()
        ],
        data_version=looked["versions"][0],
        base_version=looked["versions"][1],
        day=now.date(),
    )


def _served(served: Callable[[], JobView] | None, stored: Stored, now: dt.datetime) -> JobView | None:
    """Return the view of the job that is served already, if it is of what is stored and for the same day."""
    view = served() if served is not None else None
    record = stored.record
    if view is None or (view.data_version, view.asked_for) != (
        record.data_version,
        record.data_date or now.date(),
    ):
        return None
    return view


def _computed(stored: Stored, now: dt.datetime) -> JobView:
    return compute_stored(stored, today=now).view


def _apply(
    connection: Connection, edit: Edit, read: FilesRead, *, now: dt.datetime, looks: bool = False
) -> Applied:
    if edit.load is None or read.declared is None:
        return apply_undo(connection, edit.undo, now=now)
    return apply_load(connection, read.files, edit.load, read.declared, now=now, looks=looks)


class ChangedMeanwhile(Conflict):
    """The job is no longer what an edit was reviewed against; nothing is stored."""

    def __init__(self) -> None:
        super().__init__("the job was changed meanwhile; nothing is stored; look at it again")


class CarriedOut(NamedTuple):
    """An edit that was done, and the change it is kept as."""

    change: JobChange
    files: tuple[LoadedFile, ...]


def carry_out(
    database: Database,
    edit: Edit,
    read: FilesRead,
    signed: Signed,
    *,
    now: dt.datetime,
    base_version: int | None = None,
    seen: Collection[str] | None = None,
    proposal_id: str = "",
) -> CarriedOut:
    """Do an edit in one transaction, and keep it as a change. A proposal goes with it.

    Parameters
    ----------
    read : FilesRead
        The files as they were read for it.
    base_version : int, optional
        Version of the job that it was reviewed against; None = it was not.
    seen : collection of str, optional
        Words of what it takes away, as its reader saw them; None = nobody did.

    Raises
    ------
    ChangedMeanwhile
        If the job was changed since it was reviewed: review it again.
    InputRefused
        If a file is refused, or something is taken away without its word.
    """
    with database.writing() as connection:
        if base_version not in {None, load_versions(connection)[1]}:
            raise ChangedMeanwhile
        applied = _apply(connection, edit, read, now=now)
        if seen is not None and applied.taken.keys() - {*seen}:
            raise ChangedMeanwhile
        require_words(applied.taken, signed.removes)
        change = keep_change(connection, edit.what, applied, signed, now=now, undoes=edit.undo)
        drop_proposal(connection, proposal_id)
        return CarriedOut(change, applied.files)


def load_files(
    database: Database,
    request: LoadRequest,
    *,
    now: dt.datetime,
    reason: str = "",
    removes: Collection[str] = (),
) -> LoadReport:
    """Load files without a review: all of them, or none.

    If any is refused, or takes away what `removes` does not name, the job stays as it was (`InputRefused`).
    """
    edit, signed = Edit(load=request), Signed(who=request.loaded_by, reason=reason, removes=removes)
    done = carry_out(database, edit, read_edit(database, edit, now=now), signed, now=now)
    return LoadReport(files=done.files, data_version=database.versions()[0])
