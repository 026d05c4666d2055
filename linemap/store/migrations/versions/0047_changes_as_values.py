"""What a revision changed is kept as values; a sentence of version 0.1.0 stays one, a move tells how far."""

from __future__ import annotations

import re
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0047"
down_revision = "0046"

_MOVED = re.compile(r"moved ([0-9.]+) (ft|m)")


def upgrade() -> None:
    """Make the table anew with the values of each change in the place of its words."""
    connection = op.get_bind()
    kept: list[sa.ColumnClause[Any]] = [
        sa.column(name) for name in ("revision_id", "seq", "number", "change")
    ]
    old = sa.table("structure_change", *kept, sa.column("words"))
    rows = connection.execute(sa.select(old).order_by(old.c.revision_id, old.c.seq)).all()
    op.drop_table("structure_change")
    made = op.create_table(
        "structure_change",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Text(), nullable=False),
        sa.Column("change", sa.Text(), nullable=False),
        sa.Column("details", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_structure_change_revision_id"),
        sa.PrimaryKeyConstraint("revision_id", "seq", name="pk_structure_change"),
    )
    op.bulk_insert(
        made,
        [
            {
                "revision_id": row.revision_id,
                "seq": row.seq,
                "number": row.number,
                "change": row.change,
                "details": _values(row.change, row.words),
            }
            for row in rows
        ],
    )


def _values(change: str, words: str) -> dict[str, Any]:
    moved = _MOVED.fullmatch(words) if change == "moved" else None
    if moved:
        return {"distance": float(moved[1]), "unit": moved[2]}
    # remarks are told on fewer pages than other fields
    return {"words": words, **({"field": "remarks"} if " remarks " in f" {words}" else {})}
