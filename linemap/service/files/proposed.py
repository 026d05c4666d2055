"""What an edit of a job would do, worked out by doing it, and the edit carried out as it was shown.

All of it is done in a transaction that is then rolled back, and the job is computed as it would be: what is
shown is what accepting it does.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

import orjson
from sqlalchemy import Connection

from linemap.answers.change import Consequence, NeededWord, NotNamed
from linemap.domain.kind.kind import Code as Kind
from linemap.domain.record.change import Done, What
from linemap.errors import InputRefused, Problem, Severity
from linemap.kinds.registry import DECLARED
from linemap.service.files.change_map import map_of
from linemap.service.files.consequence import Found, gathered
from linemap.service.files.consequences import consequences
from linemap.service.files.edit import (
    Applied,
    apply_undo,
    keep_change,
    require_words,
    taken_words,
    undo_words,
)
from linemap.service.files.load import apply_load, read_files
from linemap.service.files.load_report import FilesRead, LoadRequest, file_as_read, read_answer
from linemap.service.job.stored import Stored, load_stored, written_as
from linemap.service.view.build import compute_stored
from linemap.service.view.view import JobView
from linemap.store.changes import drop_proposal
from linemap.store.database import Database
from linemap.store.versions import load_versions

#: Told what is being done and the share of it that is done, 0 to 1.
Progress = Callable[[str, float], None]
#: Names of records that are told one by one.
_NAMED = 50


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


def review(
    database: Database,
    edit: Edit,
    *,
    now: dt.datetime,
    progress: Progress = _unseen,
    cancelled: Callable[[], bool] = lambda: False,
) -> Reviewed:
    """Say what an edit would do; nothing is stored. Reading ends when `cancelled`, asked often, says True.

    Raises
    ------
    Cancelled
        When it did.
    NotFound, Conflict
        If the change to undo is not there, or cannot be undone now.
    """
    progress("reading the files", 0.0)
    read = FilesRead()
    if edit.load is not None:
        files, declared = read_files(
            database,
            edit.load,
            now=now,
            progress=lambda done, of: progress("reading the files", 0.5 * done / max(of, 1)),
            cancelled=cancelled,
        )
        read = FilesRead(files=files, declared=declared)
    progress("putting them beside what is there", 0.5)
    looked: dict[str, Any] = {}
    try:
        with database.writing() as connection:
            looked["versions"] = load_versions(connection)
            looked["before"] = load_stored(connection)
            looked["applied"] = _apply(connection, edit, read, dry_run=True, now=now)
            looked["after"] = load_stored(connection)
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
    before = _computed(earlier, now)
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
    )


def _computed(stored: Stored, now: dt.datetime) -> JobView:
    return compute_stored(stored, today=now.date()).view


def _apply(
    connection: Connection, edit: Edit, read: FilesRead, *, dry_run: bool, now: dt.datetime
) -> Applied:
    if edit.load is None or read.declared is None:
        return apply_undo(connection, edit.undo, now=now)
    request = replace(edit.load, dry_run=dry_run)
    return apply_load(connection, read.files, request, read.declared, now=now)


def carry_out(
    database: Database,
    edit: Edit,
    reviewed: Reviewed,
    *,
    who: str,
    reason: str,
    removes: Collection[str],
    now: dt.datetime,
    proposal_id: str = "",
) -> str:
    """Do what was reviewed, in one transaction, and keep it as a change; return its identifier.

    A proposal it was kept as goes with it. "" = nothing was stored, because the job was changed meanwhile:
    review it again.

    Raises
    ------
    InputRefused
        If a file is refused, or something is taken away without its word among `removes`.
    """
    try:
        with database.writing() as connection:
            if load_versions(connection)[1] != reviewed.base_version:
                raise _RolledBack
            applied = _apply(connection, edit, reviewed.read, dry_run=False, now=now)
            if applied.taken.keys() - reviewed.applied.taken.keys():
                raise _RolledBack
            require_words(applied.taken, removes)
            change = keep_change(
                connection, edit.what, applied, who=who, reason=reason, now=now, undoes=edit.undo
            )
            drop_proposal(connection, proposal_id)
            return change.id
    except _RolledBack:
        return ""


def proposed(edit: Edit, reviewed: Reviewed) -> dict[str, Any]:
    """Return what is shown of an edit, by the fields of `Proposal`."""
    return {
        "state": "refused" if reviewed.stops else "ready",
        "files": [read_answer(file, reviewed.read) for file in reviewed.applied.files],
        "refused": [*map(str, reviewed.refused)],
        "consequences": reviewed.consequences,
        "needs": reviewed.needs,
        "not_named": [
            NotNamed(kind=kind, count=len(names), names=names[:_NAMED], ends=_ends(edit, kind))
            for kind, names in reviewed.applied.not_named.items()
        ],
        "map": map_of(reviewed.before, reviewed.after, reviewed.found),
        "button": _button(edit, reviewed.applied),
        "digest": reviewed.digest,
        "data_version": reviewed.data_version,
    }


def _ends(edit: Edit, kind: Kind) -> bool:
    return edit.load is not None and kind in edit.load.ends


def _button(edit: Edit, applied: Applied) -> str:
    """Say what accepting does: "Load 12 holds, end 0"."""
    if applied.undid is not None:
        return undo_words(applied.undid, "Undo")
    rows: Counter[Kind] = Counter()
    for file in applied.done.files:
        rows[file.kind] += file.rows
    parts = []
    for kind, count in rows.items():
        parts.append(_counted(kind, count))
        if kind in applied.not_named:
            parts.append(f"end {len(applied.not_named[kind]) if _ends(edit, kind) else 0:,}")
    parts += [
        f"{'replace' if word == 'centreline' else 'take out'} {len(names):,} {word}"
        for word, names in applied.taken.items()
        if word not in applied.not_named
    ]
    if applied.done.again:
        parts.append(f"{len(applied.done.again)} files again")
    return "Load " + (", ".join(parts) or "nothing new")


def _counted(kind: Kind, count: int) -> str:
    """Count the rows of a list: "1 hold", "12 holds", "7 points of the centreline"."""
    if kind == "centreline":
        return f"{count:,} points of the centreline"
    noun = DECLARED[kind].noun
    return f"{count:,} {noun if count == 1 and ' ' not in noun else kind}"
