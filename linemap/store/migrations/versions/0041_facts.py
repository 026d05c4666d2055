"""Facts seen or measured at structures: a table that only grows, as that of the events."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from linemap.store.migrations.append_only import let_only_grow

revision = "0041"
down_revision = "0040"

_REFUSAL = "facts are only ever added; record what you see now as a new fact"


def _texts(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text(), nullable=False) for name in names]


def _numbers(*names: str) -> list[sa.Column[float]]:
    return [sa.Column(name, sa.Double(), nullable=True) for name in names]


def upgrade() -> None:
    """Make the table and its triggers."""
    op.create_table(
        "fact",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        *_texts("line", "structure", "what", "pole", "pointed_by"),
        *_numbers("length_ft"),
        *_texts("pole_class", "face", "looking", "side"),
        *_numbers("lower_height", "lower_along", "lower_across"),
        *_numbers("upper_height", "upper_along", "upper_across"),
        *_numbers("pole_height", "left_height", "right_height", "arm_length"),
        *_texts("who"),
        sa.Column("day", sa.Date(), nullable=False),
        *_texts("note"),
        sa.Column("source_row", sa.Integer(), nullable=False),
        sa.CheckConstraint("seq > 0", name=op.f("ck_fact_seq")),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_fact_file_id"),
        sa.PrimaryKeyConstraint("seq", name="pk_fact"),
        sqlite_autoincrement=True,
    )
    let_only_grow("fact", _REFUSAL)
