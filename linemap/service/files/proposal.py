"""A change of the job as something to look at first: proposed, reviewed, accepted or dropped, undone.

A proposal is made by doing all of it in a transaction that is then rolled back, and computing the job as it
would be: what it shows is what accepting it does. It is accepted only as it was shown. When the job was
changed meanwhile it is made anew, and what differs is shown before anything is stored.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import orjson
from pydantic import TypeAdapter
from sqlalchemy import Connection

from linemap.answers.change import (
    Accepted,
    ChangeEntry,
    ChangeList,
    Choices,
    Consequence,
    NeededWord,
    NotNamed,
    Proposal,
)
from linemap.domain.kind.kind import Code as Kind
from linemap.domain.record.change import Done, What, undone_by
from linemap.errors import Conflict, InputRefused, LinemapError, NotFound, Problem, Severity
from linemap.kinds.registry import DECLARED
from linemap.service.files.change_map import map_of
from linemap.service.files.consequences import Found, consequences, gathered
from linemap.service.files.edit import Applied, apply_undo, keep_change, kept_by, require_words, taken_words
from linemap.service.files.load import apply_load, read_files
from linemap.service.files.load_report import LoadRequest, file_as_read
from linemap.service.files.proposed_file import FilesRead, read_answer
from linemap.service.job.stored import Stored, load_stored
from linemap.service.view.build import compute_stored
from linemap.service.view.view import JobView
from linemap.store import changes as kept
from linemap.store.database import Database
from linemap.store.job import load_job
from linemap.store.versions import load_versions

#: Told what is being done and the share of it that is done, 0 to 1.
Progress = Callable[[str, float], None]
#: How often an accepted proposal is made anew while others change the job.
_TRIES = 3
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
    refused: tuple[str, ...]
    before: JobView | None
    after: JobView | None
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
        shown = [self.refused, self.consequences, self.needs, [*map(vars, self.applied.files)]]
        return hashlib.sha256(orjson.dumps(shown, default=str)).hexdigest()


def _stops(applied: Applied, refused: Sequence[str]) -> bool:
    problems = (problem for file in applied.files for problem in file.problems)
    return bool(refused) or any(each.severity is Severity.REFUSED for each in problems)


def _unseen(_step: str, _share: float) -> None:
    """Tell nobody: who accepts waits for the answer."""


class _RolledBack(Exception):  # noqa: N818 - ends a look, no error
    """Takes back what was done to be looked at."""


def review(database: Database, edit: Edit, *, now: dt.datetime, progress: Progress) -> Reviewed:
    """Say what an edit would do; nothing is stored.

    Raises
    ------
    NotFound, Conflict
        If the change to undo is not there, or cannot be undone now.
    """
    progress("reading the files", 0.0)
    read = FilesRead()
    if edit.load is not None:
        files, declared = read_files(database, edit.load, now=now)
        read = FilesRead(files=files, declared=declared)
    progress("putting them beside what is there", 0.5)
    looked: dict[str, Any] = {}
    try:
        with database.writing() as connection:
            looked["versions"] = load_versions(connection)
            looked["before"] = _stored(connection)
            looked["applied"] = _apply(connection, edit, read, dry_run=True, now=now)
            looked["after"] = _stored(connection)
            raise _RolledBack
    except _RolledBack:
        refused: tuple[str, ...] = ()
    except InputRefused as refusal:
        refused = tuple(map(str, refusal.problems))
        as_read = tuple(map(file_as_read, read.files))
        looked |= {"applied": Applied(files=as_read, done=Done()), "after": None}
    progress("working out what follows", 0.6)
    before = _computed(looked["before"], now)
    progress("working out what follows", 0.75)
    after = None if _stops(looked["applied"], refused) else _computed(looked["after"], now)
    progress("comparing", 0.9)
    applied: Applied = looked["applied"]
    found = list(consequences(before, after))
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


def _stored(connection: Connection) -> Stored | None:
    try:
        return load_stored(connection)
    except NotFound:
        return None


def _computed(stored: Stored | None, now: dt.datetime) -> JobView | None:
    return None if stored is None else compute_stored(stored, today=now.date()).view


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
) -> str:
    """Do what was reviewed, in one transaction, and keep it as a change; return its identifier.

    "" = nothing was stored, because the job was changed meanwhile: review it again.

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
            return change.id
    except _RolledBack:
        return ""


def begin(database: Database, *, who: str, now: dt.datetime, undoes: str = "") -> str:
    """Make a proposal that waits for its files, or one that undoes a change; return its identifier."""
    proposal_id = str(uuid.uuid4())
    with database.writing() as connection:
        kept.add_proposal(
            connection,
            kept.Waiting(
                id=proposal_id,
                what="undo" if undoes else "load",
                who=who,
                state="waiting",
                made_at=now,
                request={"undoes": undoes, "choices": asdict(Choices())},
                answer={},
            ),
        )
    return proposal_id


def begin_undo(database: Database, change_id: str, *, who: str, now: dt.datetime) -> str:
    """Make a proposal that undoes a change.

    `NotFound` = there is none; `Conflict` = it cannot be undone now.
    """
    with database.reading() as connection:
        changes = [each.change for each in kept.list_changes(connection)]
        change = next((each for each in changes if each.id == change_id), None)
        if change is None:
            raise NotFound("the job has no such change; the page of files lists them")
        reason = kept_by(connection, change, changes)
    if reason:
        raise Conflict(reason)
    return begin(database, who=who, now=now, undoes=change_id)


def add_proposal_file(database: Database, proposal_id: str, name: str, content: bytes) -> None:
    """Put a file into a proposal; one of the same name takes the place of the one before."""
    with database.writing() as connection:
        kept.find_proposal(connection, proposal_id)
        kept.add_proposal_file(connection, proposal_id, name, content)
        kept.change_proposal(connection, proposal_id, state="waiting", answer={})


def drop_proposal(database: Database, proposal_id: str) -> None:
    """Drop a proposal with its files; a reading of it that goes on ends by itself."""
    with database.writing() as connection:
        kept.drop_proposal(connection, proposal_id)


def load_proposal(database: Database, proposal_id: str) -> Proposal:
    """Return a proposal as it stands: read, being read, or waiting (`NotFound` = accepted or dropped)."""
    with database.reading() as connection:
        return _answer(kept.find_proposal(connection, proposal_id))


def read_proposal(database: Database, proposal_id: str, choices: Choices, *, now: dt.datetime) -> Proposal:
    """Read the files of a proposal as `choices` say, or look at the undo; keep what was found and return it.

    `NotFound` = it was dropped, perhaps while it was read.
    """

    def progress(step: str, share: float) -> None:
        with database.writing() as connection:
            if not kept.change_proposal(connection, proposal_id, step=step, share=share):
                raise NotFound("the proposal was dropped")

    with database.writing() as connection:
        waiting = kept.find_proposal(connection, proposal_id)
        request = {**waiting.request, "choices": asdict(choices)}
        kept.change_proposal(connection, proposal_id, state="reading", request=request, answer={})
    waiting = replace(waiting, request=request)
    try:
        with _edit(database, waiting) as edit:
            found = _shown(waiting, edit, review(database, edit, now=now, progress=progress))
    except NotFound:
        raise
    except LinemapError as error:
        found = replace(_answer(waiting), state="refused", refused=str(error).splitlines())
    return _keep(database, found)


def accept(
    database: Database,
    proposal_id: str,
    *,
    digest: str,
    who: str,
    reason: str,
    removes: Collection[str],
    now: dt.datetime,
) -> Accepted:
    """Do what a proposal shows, if it is still what its reader saw; else show it as it is now.

    Raises
    ------
    NotFound
        If it was accepted or dropped.
    InputRefused
        If it is refused, something is taken away without its word among `removes`, or nobody is named.
    Conflict
        If it is still being read, or others keep changing the job.
    """
    with database.reading() as connection:
        waiting = kept.find_proposal(connection, proposal_id)
    shown = _answer(waiting)
    _check_ready(shown, who)
    with _edit(database, waiting) as edit:
        for _ in range(_TRIES):
            reviewed = review(database, edit, now=now, progress=_unseen)
            now_shown = _shown(waiting, edit, reviewed)
            if now_shown.digest != digest:
                return Accepted(
                    change="",
                    words=[],
                    data_version=reviewed.data_version,
                    proposal=_keep(database, now_shown),
                )
            change = carry_out(database, edit, reviewed, who=who, reason=reason, removes=removes, now=now)
            if change:
                break
        else:
            raise Conflict("others keep changing the job; try again in a moment")
    with database.writing() as connection:
        kept.drop_proposal(connection, proposal_id)
        version = load_job(connection).data_version
    return Accepted(change=change, words=reviewed.applied.done.words, data_version=version, proposal=None)


def _check_ready(shown: Proposal, who: str) -> None:
    if shown.state in {"waiting", "reading"}:
        raise Conflict("the files are still being read; wait until they are")
    if shown.state == "refused":
        raise InputRefused(
            Problem(
                file="",
                reason="the files are refused as they are",
                remedy="correct them, or choose otherwise",
            )
        )
    if not who.strip():
        raise InputRefused.at("by", "", "nobody is named who accepts it", "write your name")


def changes_answer(database: Database) -> ChangeList:
    """Return all accepted changes, the latest first, and what waits for somebody."""
    with database.reading() as connection:
        changes = [each.change for each in kept.list_changes(connection)]
        undone = undone_by(changes)
        reasons = {each.id: kept_by(connection, each, changes) for each in changes}
        waiting = [_answer(each) for each in kept.list_proposals(connection)]
        version = load_job(connection).data_version
    entries = [
        ChangeEntry(
            id=each.id,
            what=each.what,
            who=each.who,
            at=each.at.isoformat(timespec="seconds"),
            reason=each.reason,
            files=[file.name for file in each.done.files],
            words=each.done.words,
            undoes=each.undoes,
            undone_by=undone.get(each.id, ""),
            kept_by=reasons[each.id],
        )
        for each in reversed(changes)
    ]
    return ChangeList(data_version=version, changes=entries, waiting=waiting)


@contextmanager
def _edit(database: Database, waiting: kept.Waiting) -> Iterator[Edit]:
    """Give what a proposal is to do; its files lie in a folder that goes away after."""
    if waiting.what == "undo":
        yield Edit(undo=waiting.request["undoes"])
        return
    with database.reading() as connection:
        files = kept.proposal_files(connection, waiting.id)
    if not files:
        raise InputRefused(Problem(file="", reason="no file has come", remedy="choose files to load"))
    with TemporaryDirectory(prefix="linemap-") as folder:
        paths = []
        for name, content in files:
            path = Path(folder) / (Path(name).name or "file")
            path.write_bytes(content)
            paths.append(path)
        yield Edit(load=_request(tuple(paths), waiting))


def _request(paths: tuple[Path, ...], waiting: kept.Waiting) -> LoadRequest:
    return LoadRequest(paths=paths, loaded_by=waiting.who, **said_by(Choices(**waiting.request["choices"])))


def said_by(choices: Choices) -> Mapping[str, Any]:
    """Return the choices of a person as `LoadRequest` takes them, those that say nothing left out."""
    said: dict[str, Any] = {
        "kind": choices.kind,
        "label": choices.label,
        "shot_order": choices.shot_order,
        "date_order": choices.date_order,
        "ends": frozenset(choices.ends),
        "true_from": dt.date.fromisoformat(choices.true_from) if choices.true_from else None,
    }
    return {name: value for name, value in said.items() if value}


def _shown(waiting: kept.Waiting, edit: Edit, reviewed: Reviewed) -> Proposal:
    return replace(
        _answer(waiting),
        state="refused" if reviewed.stops else "ready",
        step="",
        share=1.0,
        files=[read_answer(file, reviewed.read) for file in reviewed.applied.files],
        refused=reviewed.refused,
        consequences=reviewed.consequences,
        needs=reviewed.needs,
        not_named=[
            NotNamed(kind=kind, count=len(names), names=names[:_NAMED], ends=_ends(edit, kind))
            for kind, names in reviewed.applied.not_named.items()
        ],
        map=map_of(reviewed.before, reviewed.after, reviewed.found),
        button=_button(edit, reviewed.applied),
        digest=reviewed.digest,
        data_version=reviewed.data_version,
    )


def _ends(edit: Edit, kind: Kind) -> bool:
    return edit.load is not None and kind in edit.load.ends


def _button(edit: Edit, applied: Applied) -> str:
    """Say what accepting does: "Load 12 holds, end 0"."""
    if edit.load is None:
        return "Undo it" if not applied.done.words else applied.done.words[0].replace("undoes", "Undo", 1)
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
    return "Load " + ", ".join(parts)


def _counted(kind: Kind, count: int) -> str:
    """Count the rows of a list: "1 hold", "12 holds", "7 points of the centreline"."""
    if kind == "centreline":
        return f"{count:,} points of the centreline"
    noun = DECLARED[kind].noun
    return f"{count:,} {noun if count == 1 and ' ' not in noun else kind}"


def _answer(waiting: kept.Waiting) -> Proposal:
    """Return what is kept of a proposal; while nothing is read, without files and consequences."""
    empty = Proposal(
        id=waiting.id,
        what="undo" if waiting.what == "undo" else "load",
        state="waiting",
        step=waiting.step,
        share=waiting.share,
        who=waiting.who,
        made_at=waiting.made_at.isoformat(timespec="seconds"),
        choices=Choices(**waiting.request["choices"]),
        files=[],
        refused=[],
        consequences=[],
        needs=[],
        not_named=[],
        map=None,
        button="",
        digest="",
        data_version=0,
    )
    if not waiting.answer:
        return replace(empty, state="reading" if waiting.state == "reading" else "waiting")
    return _proposals().validate_python(waiting.answer)


@cache
def _proposals() -> TypeAdapter[Proposal]:
    return TypeAdapter(Proposal)


def _keep(database: Database, found: Proposal) -> Proposal:
    with database.writing() as connection:
        answer = orjson.loads(orjson.dumps(found))
        if not kept.change_proposal(
            connection, found.id, state=found.state, step="", share=1.0, answer=answer
        ):
            raise NotFound("the proposal was dropped")
    return _proposals().validate_python(answer)
