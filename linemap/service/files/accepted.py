"""The accepted changes of a job, and what waits to become one."""

from __future__ import annotations

from linemap.answers.change import ChangeEntry, ChangeList
from linemap.domain.record.change import undone_by
from linemap.service.files.edit import kept_by
from linemap.service.files.proposal_answer import answer_of
from linemap.store.changes import list_changes, list_proposals
from linemap.store.database import Database
from linemap.store.job import load_job


def changes_answer(database: Database) -> ChangeList:
    """Return all accepted changes, the latest first, and what waits for somebody."""
    with database.reading() as connection:
        changes = [each.change for each in list_changes(connection)]
        undone = undone_by(changes)
        reasons = {each.id: kept_by(connection, each, changes) for each in changes}
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
            kept_by=reasons[each.id],
        )
        for each in reversed(changes)
    ]
    return ChangeList(data_version=version, changes=entries, waiting=waiting)
