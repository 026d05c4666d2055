"""A job has an identity of its own, and one of this life of it; an older one gets both now."""

from __future__ import annotations

import uuid
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0045"
down_revision = "0044"


def upgrade() -> None:
    """Make the table of the one row anew: SQLite adds no column that must be filled and has no default."""
    connection = op.get_bind()
    moment = sa.DateTime(timezone=True)
    plain: list[sa.ColumnClause[Any]] = [
        sa.column(name) for name in ("id", "name", "data_version", "base_version")
    ]
    old = sa.table("job", *plain, sa.column("created_at", moment), sa.column("settings", sa.JSON()))
    (row,) = connection.execute(sa.select(old)).all()
    op.drop_table("job")
    made = op.create_table(
        "job",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("name", "identity", "incarnation")),
        sa.Column("created_at", moment, nullable=False),
        *(sa.Column(name, sa.Integer(), nullable=False) for name in ("data_version", "base_version")),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.CheckConstraint("id = 1", name="one"),
        sa.PrimaryKeyConstraint("id", name="pk_job"),
    )
    own = {"identity": str(uuid.uuid4()), "incarnation": str(uuid.uuid4())}
    op.bulk_insert(made, [{**row._mapping, **own}])
