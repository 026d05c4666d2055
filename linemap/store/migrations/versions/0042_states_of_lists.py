"""Lists of the whole job have states, as those of a line: holds, tickets and the yard's list."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from linemap.store.migrations.states import give_states

revision = "0042"
down_revision = "0041"


def upgrade() -> None:
    """Let revisions be of the job, and give these lists theirs."""
    _widen_revision()
    give_states(
        "holds",
        "hold",
        [
            *_texts("id", "line"),
            sa.Column("structures", sa.JSON(), nullable=False),
            *_texts("from_structure", "to_structure"),
            sa.Column("activities", sa.JSON(), nullable=False),
            *_dates("from_date", "to_date"),
            *_texts("condition", "reason"),
            sa.Column("restricted", sa.Boolean(create_constraint=False), nullable=False),
            *_texts("set_by", "release_by"),
            *_dates("released_on"),
        ],
    )
    give_states(
        "tickets",
        "ticket",
        [
            *_texts("number", "line"),
            sa.Column("structures", sa.JSON(), nullable=False),
            *_texts("from_structure", "to_structure"),
            sa.Column("covers_anchors", sa.Boolean(create_constraint=False), nullable=False),
            *_dates("valid_from", "expires"),
            *_texts("life", "responses", "renewed_by"),
        ],
    )
    give_states(
        "receipts",
        "receipt",
        [
            *_texts("item", "line", "structure"),
            sa.Column("ordered", sa.Integer(), nullable=True),
            *_counts("received", "damaged"),
            *_dates("received_on", "due"),
            *_texts("brand", "yard_row", "released_by", "remarks"),
            *_counts("row"),
        ],
    )


def _texts(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Text(), nullable=False) for name in names]


def _counts(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Integer(), nullable=False) for name in names]


def _dates(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.Date(), nullable=True) for name in names]


def _widen_revision() -> None:
    if op.get_bind().dialect.name == "postgresql":
        op.alter_column("revision", "line_id", nullable=True)
        op.add_column("revision", sa.Column("part", sa.Text(), nullable=False, server_default=""))
        op.alter_column("revision", "part", server_default=None)
    else:
        _make_revision_anew()
    of_job = sa.text("is_current AND line_id IS NULL")
    op.create_index(
        "ix_revision_current_of_job",
        "revision",
        ["kind", "part"],
        unique=True,
        sqlite_where=of_job,
        postgresql_where=of_job,
    )


def _make_revision_anew() -> None:
    """SQLite lets no column become nullable; rows that point here are looked at when all is done."""
    op.execute("PRAGMA defer_foreign_keys = ON")
    op.execute("CREATE TABLE older_revision AS SELECT * FROM revision")
    op.drop_table("revision")
    op.create_table(
        "revision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("line_id", sa.Integer(), nullable=True),
        *_texts("kind", "part"),
        sa.Column("file_id", sa.Integer(), nullable=True),
        *_texts("source_file", "label"),
        sa.Column("loaded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("is_current", sa.Boolean(create_constraint=False), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_revision_file_id"),
        sa.ForeignKeyConstraint(["line_id"], ["line.id"], name="fk_revision_line_id"),
        sa.PrimaryKeyConstraint("id", name="pk_revision"),
    )
    op.execute(
        "INSERT INTO revision SELECT id, line_id, kind, '', file_id, source_file, label, loaded_at, "
        "is_current FROM older_revision"
    )
    op.drop_table("older_revision")
    op.create_index(
        "ix_revision_current",
        "revision",
        ["line_id", "kind"],
        unique=True,
        sqlite_where=sa.text("is_current"),
    )
