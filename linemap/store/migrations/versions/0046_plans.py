"""Plans are a list that only grows, as facts are: the database refuses to change what was frozen."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from linemap.store.append_only import only_grows

revision = "0046"
down_revision = "0045"


def upgrade() -> None:
    """Make the table anew; what was planned stays as it was, in its order."""
    connection = op.get_bind()
    columns: list[sa.Column[Any]] = [
        *(sa.Column(name, sa.Text(), nullable=False) for name in ("line", "step", "revision")),
        sa.Column("frozen_on", sa.Date(), nullable=True),
        *(sa.Column(name, sa.JSON(), nullable=False) for name in ("weeks", "planned")),
    ]
    same = (sa.column(each.name, each.type) for each in columns)
    old = sa.table("plan", sa.column("seq"), sa.column("file_id"), *same)
    rows = connection.execute(sa.select(old).order_by(old.c.seq)).all()
    op.drop_table("plan")
    made = op.create_table(
        "plan",
        sa.Column("seq", sa.Integer(), sa.CheckConstraint("seq > 0", name="seq"), autoincrement=True),
        sa.Column("file_id", sa.Integer(), nullable=True),
        *columns,
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_plan_file_id"),
        sa.PrimaryKeyConstraint("seq", name="pk_plan"),
        sqlite_autoincrement=True,
    )
    kept = [dict(row._mapping) for row in rows]
    op.bulk_insert(made, [{name: row[name] for name in row if name != "seq"} for row in kept])
    refusal = "plans are frozen; give a new plan a revision of its own"
    for statement in only_grows("plan", refusal, dialect=connection.dialect.name):
        op.execute(statement)
