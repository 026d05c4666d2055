"""Accepted changes of the job, kept for good, and proposals that wait for somebody's review."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select, update

from linemap.domain.record.chain import FIRST_LINK, Linked, link
from linemap.domain.record.change import Done, JobChange, LinkedChange
from linemap.errors import NotFound
from linemap.store import schema
from linemap.store.columns import record_of, with_clock
from linemap.store.database import bump


def add_change(connection: Connection, change: JobChange) -> str:
    """Keep an accepted change at the end of the chain of all; return its link."""
    table = schema.job_change
    before = connection.scalar(select(table.c.chain_hash).order_by(table.c.seq.desc()).limit(1))
    made = link(FIRST_LINK if before is None else before, change.values())
    values = asdict(change)
    done = {"summary": values.pop("done"), "chain_hash": made}
    connection.execute(insert(table), [{**values, **with_clock("at", change.at), **done}])
    bump(connection)
    return made


def list_changes(connection: Connection) -> tuple[LinkedChange, ...]:
    """Return all accepted changes with their links, in the order they were accepted."""
    query = select(schema.job_change).order_by(schema.job_change.c.seq)
    return tuple(
        LinkedChange(row.seq, record_of(JobChange, row, done=Done.from_dict(row.summary)), row.chain_hash)
        for row in connection.execute(query)
    )


def changes_in_order(connection: Connection) -> Iterator[Linked]:
    """Yield every accepted change with its link as it is written, in the order they were accepted."""
    for each in list_changes(connection):
        yield Linked(each.seq, each.change.values(), each.link)


def newest_state(connection: Connection) -> int:
    """Return the identifier of the newest state of any list; 0 = there is none."""
    return int(connection.scalar(select(func.max(schema.revision.c.id))) or 0)


def states_after(connection: Connection, newest: int) -> tuple[tuple[int, int | None], ...]:
    """Return (state, the one before it of its line and part) of all states made after another."""
    table, earlier = schema.revision, schema.revision.alias()
    same = (
        (earlier.c.kind == table.c.kind)
        & (earlier.c.part == table.c.part)
        & (earlier.c.line_id.is_not_distinct_from(table.c.line_id))
        & (earlier.c.id < table.c.id)
    )
    before = select(func.max(earlier.c.id)).where(same).scalar_subquery()
    query = select(table.c.id, before).where(table.c.id > newest).order_by(table.c.id)
    return tuple((row[0], row[1]) for row in connection.execute(query))


def set_aside(connection: Connection, files: Iterable[int], *, aside: bool) -> None:
    """Let the rows of files count no more, or again; they stay where they are."""
    table = schema.file
    connection.execute(update(table).where(table.c.id.in_(list(files))).values(aside=aside))
    bump(connection)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A proposal as it is kept: what was asked, how far it is, and what was answered."""

    id: str
    what: str
    who: str
    #: "waiting" for files, "reading", "ready", "refused".
    state: str
    #: What is being done, and the share of it that is done, 0 to 1.
    step: str = ""
    share: float = 0.0
    made_at: dt.datetime
    request: Mapping[str, Any]
    #: The answer shown; {} = not read yet.
    answer: Mapping[str, Any]


def add_proposal(connection: Connection, waiting: Waiting) -> None:
    """Keep a new proposal."""
    connection.execute(insert(schema.proposal), [asdict(waiting)])


def change_proposal(connection: Connection, proposal_id: str, **values: Any) -> bool:
    """Change what is kept of a proposal; False when it is not there, or no more."""
    table = schema.proposal
    query = update(table).where(table.c.id == proposal_id).values(**values)
    return connection.execute(query).rowcount == 1


def find_proposal(connection: Connection, proposal_id: str) -> Waiting:
    """Return a proposal; `NotFound` = it is not there, or no more."""
    row = connection.execute(select(schema.proposal).where(schema.proposal.c.id == proposal_id)).one_or_none()
    if row is None:
        raise NotFound("there is no such proposal: it was accepted or dropped; load the files again")
    return Waiting(**row._mapping)


def list_proposals(connection: Connection) -> tuple[Waiting, ...]:
    """Return the proposals that wait, the oldest first."""
    rows = connection.execute(select(schema.proposal).order_by(schema.proposal.c.made_at))
    return tuple(Waiting(**row._mapping) for row in rows)


def add_proposal_file(connection: Connection, proposal_id: str, name: str, content: bytes) -> None:
    """Keep a file of a proposal; one of the same name takes the place of the one before."""
    table = schema.proposal_file
    mine = table.c.proposal_id == proposal_id
    connection.execute(delete(table).where(mine, table.c.name == name))
    last = connection.scalar(select(func.max(table.c.seq)).where(mine))
    values = {"proposal_id": proposal_id, "seq": 0 if last is None else last + 1, "name": name}
    connection.execute(insert(table), [{**values, "size": len(content), "content": content}])


def proposal_files(connection: Connection, proposal_id: str) -> Sequence[tuple[str, bytes]]:
    """Return name and content of the files of a proposal, in the order they came."""
    table = schema.proposal_file
    query = select(table.c.name, table.c.content).where(table.c.proposal_id == proposal_id)
    return [(row.name, bytes(row.content)) for row in connection.execute(query.order_by(table.c.seq))]


def drop_proposal(connection: Connection, proposal_id: str) -> None:
    """Take a proposal out with its files; nothing happens when it is gone already."""
    table = schema.proposal_file
    connection.execute(delete(table).where(table.c.proposal_id == proposal_id))
    connection.execute(delete(schema.proposal).where(schema.proposal.c.id == proposal_id))
