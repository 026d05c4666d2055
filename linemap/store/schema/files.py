"""What a job is, and what was loaded into it."""

from __future__ import annotations

from sqlalchemy import JSON, CheckConstraint, Column, ForeignKey, Index, Integer, LargeBinary, Table, Text

from linemap.store.append_only import let_only_grow
from linemap.store.schema.columns import (
    flag,
    metadata,
    moments,
    of_file,
    position,
    receipt_order,
    text,
    texts,
    whole,
)

__all__ = ["answer", "file", "job", "problem", "revision"]

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

#: Every file ever loaded, byte for byte, with how its columns were understood.
file = Table(
    "file",
    metadata,
    Column("id", Integer, primary_key=True),
    text("name"),
    Column("sha256", Text, nullable=False, index=True),
    whole("size"),
    text("kind"),
    Column("content", LargeBinary, nullable=False),
    *moments("loaded_at"),
    text("loaded_by"),
    Column("mapping", JSON, nullable=False),
)

problem = Table(
    "problem",
    metadata,
    Column("file_id", ForeignKey("file.id"), primary_key=True),
    position(),
    Column("source_row", Integer),
    *texts("heading", "value", "reason", "remedy", "severity"),
)

#: One state of one list, of one line or (without one) of the job. Older ones are kept; one is current, of
#: lists whose files bring some parts only (lines, layers) one of each part.
revision = Table(
    "revision",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("line_id", ForeignKey("line.id")),
    *texts("kind", "part"),
    of_file(),
    *texts("source_file", "label"),
    *moments("loaded_at"),
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
    *moments("at"),
    whole("at_offset_s"),
    sqlite_autoincrement=True,
)
let_only_grow(answer, "answers are only ever added; give a new answer, which then stands")
