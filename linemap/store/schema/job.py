"""What a job is: what was loaded into it, and who may sign in, from where."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Column,
    ColumnElement,
    Date,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    Table,
    Text,
    or_,
    select,
    true,
)

from linemap.store.columns import Moment
from linemap.store.schema.columns import (
    flag,
    let_only_grow,
    metadata,
    moments,
    number,
    of_file,
    position,
    receipt_order,
    text,
    texts,
    whole,
    with_offset,
)

#: One row: the job itself. `identity` is its own for good, a copy's too; `incarnation` is made anew when the
#: job is brought back from a kept copy. `data_version` grows by one with every transaction that changed
#: something; `base_version` is the data version of the last change to anything but the record of the field.
job = Table(
    "job",
    metadata,
    Column("id", Integer, CheckConstraint("id = 1", name="one"), primary_key=True, autoincrement=False),
    text("name"),
    *texts("identity", "incarnation"),
    *moments("created_at"),
    whole("data_version"),
    whole("base_version"),
    Column("settings", JSON, nullable=False),
)

#: Every file ever loaded, byte for byte, with how its columns were understood. `aside`: the load was undone,
#: and rows of lists that only grow that came from it count no more.
file = Table(
    "file",
    metadata,
    Column("id", Integer, primary_key=True),
    text("name"),
    Column("sha256", Text, nullable=False, index=True),
    whole("size"),
    text("kind"),
    Column("content", LargeBinary, nullable=False),
    *with_offset("loaded_at"),
    text("loaded_by"),
    Column("mapping", JSON, nullable=False),
    flag("aside"),
)


def counted(table: Table, without: Collection[int] | None = None) -> ColumnElement[bool]:
    """Return what holds of rows of a list that only grows whose file counts.

    `without` are the files that do not; None = those that were set aside.
    """
    if without is not None and not without:
        return true()
    left_out = select(file.c.id).where(file.c.aside) if without is None else sorted(without)
    return or_(table.c.file_id.is_(None), table.c.file_id.not_in(left_out))


problem = Table(
    "problem",
    metadata,
    Column("file_id", ForeignKey("file.id"), primary_key=True),
    position(),
    Column("source_row", Integer),
    *texts("heading", "value", "reason", "remedy", "severity", "line", "structure"),
)

#: One state of one list, of one line or (without one) of the job. Older ones are kept; one is current, of
#: lists whose files bring some parts only (lines, layers) one of each part. It came in at `loaded_at`, by a
#: clock so many seconds ahead of UTC, and is true from the day `true_from`; NULL = from the day it came in.
#: `carried_from` is the state whose records its file left as they were; NULL = it left none.
revision = Table(
    "revision",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("line_id", ForeignKey("line.id")),
    *texts("kind", "part"),
    of_file(),
    *texts("source_file", "label"),
    *with_offset("loaded_at"),
    Column("true_from", Date),
    Column("carried_from", Integer),
    flag("is_current"),
)
Index(
    "ix_revision_current",
    revision.c.line_id,
    revision.c.kind,
    unique=True,
    sqlite_where=revision.c.is_current,
    postgresql_where=revision.c.is_current,
)

Index(
    "ix_revision_current_of_job",
    revision.c.kind,
    revision.c.part,
    unique=True,
    sqlite_where=revision.c.is_current & revision.c.line_id.is_(None),
    postgresql_where=revision.c.is_current & revision.c.line_id.is_(None),
)

#: Append-only, as `event`: what people said about the columns of files of one shape; the newest stands.
answer = Table(
    "answer",
    metadata,
    receipt_order(),
    Column("shape", Text, nullable=False, index=True),
    Column("content", JSON, nullable=False),
    text("who"),
    *with_offset("at"),
    sqlite_autoincrement=True,
)
let_only_grow(answer, "answers are only ever added; give a new answer, which then stands")

#: Append-only, as `event`: what somebody accepted: files loaded, a change undone, something declared.
#: `summary` says what it made of what, `event_hash` is the newest link of the record then, `chain_hash` the
#: SHA-256 of the link before and of this change: `linemap.domain.record.change`.
job_change = Table(
    "job_change",
    metadata,
    receipt_order(),
    *texts("id", "what", "undoes", "who", "reason"),
    *with_offset("at"),
    Column("summary", JSON, nullable=False),
    *texts("event_hash", "chain_hash"),
    sqlite_autoincrement=True,
)
let_only_grow(job_change, "changes are only ever added; undo one by a new change")

#: Append-only, as `event`: all settings of the job as they stood after each declaration, and by its name what
#: each line kept of them. The first is what was declared when somebody first declared something anew.
declaration = Table(
    "declaration",
    metadata,
    receipt_order(),
    *with_offset("at"),
    text("who"),
    Column("true_from", Date),
    Column("settings", JSON, nullable=False),
    Column("lines", JSON, nullable=False),
    sqlite_autoincrement=True,
)
let_only_grow(declaration, "declarations are only ever added; declare it anew")

#: What waits for somebody's review, with its files; taken out when it is accepted or dropped.
proposal = Table(
    "proposal",
    metadata,
    Column("id", Text, primary_key=True),
    *texts("what", "who", "state", "step"),
    number("share"),
    *moments("made_at"),
    Column("request", JSON, nullable=False),
    Column("answer", JSON, nullable=False),
)
proposal_file = Table(
    "proposal_file",
    metadata,
    Column("proposal_id", ForeignKey("proposal.id"), primary_key=True),
    position(),
    text("name"),
    whole("size"),
    Column("content", LargeBinary, nullable=False),
)


#: Who may sign in. A person is never taken out: records name them. `folded` is the name as compared, `crew`
#: the one they claim structures for; "" = none is set.
person = Table(
    "person",
    metadata,
    Column("id", Integer, primary_key=True),
    text("name"),
    Column("folded", Text, nullable=False, unique=True),
    text("role"),
    Column("releases", JSON, nullable=False),
    Column("password_hash", Text),
    *moments("added_at"),
    Column("revoked_at", Moment),
    Column("crew", Text, nullable=False, server_default=""),
)

#: One phone, or one browser signed in with a password. Codes and tokens are kept only as SHA-256.
device = Table(
    "device",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("person_id", ForeignKey("person.id"), nullable=False, index=True),
    *texts("label", "kind"),
    Column("code_sha256", Text, unique=True),
    Column("code_expires_at", Moment),
    Column("token_sha256", Text, unique=True),
    Column("expires_at", Moment),
    *moments("made_at"),
    Column("signed_in_at", Moment),
    Column("last_seen", Moment),
    Column("revoked_at", Moment),
)

#: Sign-ins that failed or are under way, by person and by address; old ones are taken out.
sign_in_attempt = Table(
    "sign_in_attempt",
    metadata,
    Column("id", Integer, primary_key=True),
    *texts("person", "address"),
    Column("at", Moment, nullable=False, index=True),
)
