"""What is shown of proposals: files as read, what follows, what the button does; and accepted changes."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from typing import Any

from pydantic import TypeAdapter

from linemap.answers.change import ChangeEntry, ChangeList, Choices, NotNamed, Proposal
from linemap.domain.kind.kind import Code as Kind
from linemap.domain.record.change import undone_by
from linemap.kinds.registry import DECLARED
from linemap.service.files.change_map import map_of
from linemap.service.files.edit import Applied, kept_by, undo_words
from linemap.service.files.load_report import read_answer
from linemap.service.files.review import Edit, Reviewed
from linemap.store.changes import Waiting, list_changes, list_proposals
from linemap.store.database import Database
from linemap.store.job import load_job
from linemap.store.states import list_states

#: Names of records that are told one by one.
_NAMED = 50


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
        "button": "" if reviewed.stops else _button(edit, reviewed.applied),
        "digest": reviewed.digest,
        "data_version": reviewed.data_version,
        "day": str(reviewed.day),
    }


def _ends(edit: Edit, kind: Kind) -> bool:
    return edit.load is not None and kind in edit.load.ends


#: What becomes of what is taken away, by its word, where it is not taken out.
_VERBS = {"centreline": "replace", "holds": "end", "tickets": "end", "receipts": "end"}


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
        f"{_VERBS.get(word, 'take out')} {len(names):,} {word}"
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
    noun, several = DECLARED[kind].noun, DECLARED[kind].several
    return f"{count:,} {noun if count == 1 and (several or ' ' not in noun) else several or kind}"


def answer_as_reviewed(waiting: Waiting, edit: Edit, reviewed: Reviewed) -> Proposal:
    """Return a proposal as it was read now."""
    return replace(answer_of(waiting), step="", share=1.0, **proposed(edit, reviewed))


def answer_of(waiting: Waiting) -> Proposal:
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
        day="",
    )
    if not waiting.answer:
        return replace(empty, state="reading" if waiting.state == "reading" else "waiting")
    return _proposals().validate_python(waiting.answer)


@cache
def _proposals() -> TypeAdapter[Proposal]:
    return TypeAdapter(Proposal)


def changes_answer(database: Database) -> ChangeList:
    """Return all accepted changes, the latest first, and what waits for somebody."""
    with database.reading() as connection:
        changes = [each.change for each in list_changes(connection)]
        undone = undone_by(changes)
        states = list_states(connection)
        waiting = [answer_of(each) for each in list_proposals(connection)]
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
            kept_by=kept_by(each, changes, states),
        )
        for each in reversed(changes)
    ]
    return ChangeList(data_version=version, changes=entries, waiting=waiting)
