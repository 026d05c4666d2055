"""Framing tables: the dimensions of each structure type with their drawings."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0012"


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "framing",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("dimension", sa.Text(), nullable=False),
        sa.Column("value", sa.Double(), nullable=True),
        sa.Column("choice", sa.Text(), nullable=False),
        sa.Column("drawing", sa.Text(), nullable=False),
        sa.Column("source_row", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_framing_file_id"),
        sa.PrimaryKeyConstraint("seq", name="pk_framing"),
    )
