"""Plans: frozen baselines of planned against actual; and which types of structure have guys."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0030"
down_revision = "0020"


def upgrade() -> None:
    """Make the table and the column."""
    op.add_column("structure_type", sa.Column("guyed", sa.Boolean(create_constraint=False), nullable=True))
    op.create_table(
        "plan",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("line", sa.Text(), nullable=False),
        sa.Column("step", sa.Text(), nullable=False),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("frozen_on", sa.Date(), nullable=True),
        sa.Column("weeks", sa.JSON(), nullable=False),
        sa.Column("planned", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_plan_file_id"),
        sa.PrimaryKeyConstraint("seq", name="pk_plan"),
        sa.UniqueConstraint("line", "step", "revision", name="uq_plan_line_step_revision"),
    )
