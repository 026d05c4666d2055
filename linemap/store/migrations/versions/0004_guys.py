"""Guys: the guy schedule of each line."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "guy",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("line", sa.Text(), nullable=False),
        sa.Column("structure", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("side", sa.Text(), nullable=False),
        sa.Column("pole", sa.Text(), nullable=False),
        sa.Column("lead", sa.Double(), nullable=True),
        sa.Column("height", sa.Double(), nullable=True),
        sa.Column("ratio", sa.Double(), nullable=True),
        sa.Column("azimuth_deg", sa.Double(), nullable=True),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("source_row", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_guy_file_id"),
        sa.PrimaryKeyConstraint("id", name="pk_guy"),
    )
    op.create_index("ix_guy_line", "guy", ["line"])
