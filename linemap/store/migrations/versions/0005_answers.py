"""What people said about the columns of files: a table that only grows, as that of the decisions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from linemap.store.migrations.append_only import let_only_grow

revision = "0005"
down_revision = "0004"

_REFUSAL = "answers are only ever added; give a new answer, which then stands"


def upgrade() -> None:
    """Make the table and its triggers."""
    op.create_table(
        "answer",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("shape", sa.Text(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("at_offset_s", sa.Integer(), nullable=False),
        sa.CheckConstraint("seq > 0", name=op.f("ck_answer_seq")),
        sa.PrimaryKeyConstraint("seq", name="pk_answer"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_answer_shape", "answer", ["shape"])
    let_only_grow("answer", _REFUSAL)
