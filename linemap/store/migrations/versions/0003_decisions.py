"""Decisions on causes: a table that only grows, as that of the events."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from linemap.store.migrations.append_only import let_only_grow

revision = "0003"
down_revision = "0002"

_REFUSAL = "decisions are only ever added; take a new decision that withdraws the old one"


def upgrade() -> None:
    """Make the table and its triggers."""
    op.create_table(
        "decision",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("cause", sa.Text(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("line", sa.Text(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("at_offset_s", sa.Integer(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("correction", sa.JSON(), nullable=False),
        sa.CheckConstraint("seq > 0", name=op.f("ck_decision_seq")),
        sa.PrimaryKeyConstraint("seq", name="pk_decision"),
        sa.UniqueConstraint("id", name="uq_decision_id"),
        sqlite_autoincrement=True,
    )
    let_only_grow("decision", _REFUSAL, key=("id", "seq"))
