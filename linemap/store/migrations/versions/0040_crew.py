"""What a crew must know before it goes: locate tickets, the yard's list, the punch list."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from linemap.store.migrations.append_only import let_only_grow

revision = "0040"
down_revision = "0030"

_REFUSAL = "punch entries are only ever added; write a new entry that closes or reopens the item"


def _texts(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text(), nullable=False) for name in names]


def _dates(*names: str) -> list[sa.Column[object]]:
    return [sa.Column(name, sa.Date(), nullable=True) for name in names]


def _of_file(table: str) -> list[sa.Column[int] | sa.ForeignKeyConstraint]:
    return [
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name=f"fk_{table}_file_id"),
    ]


def upgrade() -> None:
    """Make the tables and the triggers of the punch list."""
    op.create_table(
        "ticket",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        *_of_file("ticket"),
        *_texts("number", "line"),
        sa.Column("structures", sa.JSON(), nullable=False),
        *_texts("from_structure", "to_structure"),
        sa.Column("covers_anchors", sa.Boolean(create_constraint=False), nullable=False),
        *_dates("valid_from", "expires"),
        *_texts("life", "responses", "renewed_by"),
        sa.PrimaryKeyConstraint("seq", name="pk_ticket"),
    )
    op.create_table(
        "receipt",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        *_of_file("receipt"),
        *_texts("item", "line", "structure"),
        sa.Column("ordered", sa.Integer(), nullable=True),
        sa.Column("received", sa.Integer(), nullable=False),
        sa.Column("damaged", sa.Integer(), nullable=False),
        *_dates("received_on", "due"),
        *_texts("brand", "yard_row", "released_by", "remarks"),
        sa.Column("row", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_receipt"),
    )
    op.create_table(
        "punch_entry",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        *_of_file("punch_entry"),
        *_texts("item", "line", "structure", "part", "action"),
        sa.Column("day", sa.Date(), nullable=False),
        *_texts("text", "severity", "owner"),
        *_dates("due"),
        *_texts("who", "evidence"),
        sa.CheckConstraint("seq > 0", name=op.f("ck_punch_entry_seq")),
        sa.PrimaryKeyConstraint("seq", name="pk_punch_entry"),
        sqlite_autoincrement=True,
    )
    let_only_grow("punch_entry", _REFUSAL, function="refuse_punch_change")
