"""How a migration gives a list states: a table that was replaced whole becomes one that keeps every state."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from alembic import op


def give_states(kind: str, table: str, columns: Sequence[sa.Column[Any]], *, part: str = "") -> None:
    """Make a table anew with the columns given, under revisions; its rows become the current state.

    Parameters
    ----------
    kind : str
        What files of the list are called.
    table : str
        Has the columns given, those of its key and "file_id".
    columns : sequence of Column
    part : str
        Column for each value of which there is a state of its own; "" = one state of all rows.
    """
    connection = op.get_bind()
    names = {column["name"] for column in sa.inspect(connection).get_columns(table)}
    key: sa.ColumnClause[int] = sa.column("seq" if "seq" in names else "id")
    old = sa.table(table, key, sa.column("file_id"), *(sa.column(each.name, each.type) for each in columns))
    rows = [dict(row._mapping) for row in connection.execute(sa.select(old).order_by(key))]
    op.drop_table(table)
    made = op.create_table(
        table,
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        *columns,
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name=f"fk_{table}_revision_id"),
        sa.PrimaryKeyConstraint("revision_id", "seq", name=f"pk_{table}"),
    )
    parts: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        parts.setdefault(row[part] if part else "", []).append(row)
    for name, mine in parts.items():
        revision = _revision(connection, kind, name, mine[0]["file_id"])
        named = [each.name for each in columns]
        op.bulk_insert(
            made,
            [
                {**{name: row[name] for name in named}, "revision_id": revision, "seq": seq}
                for seq, row in enumerate(mine)
            ],
        )


def _revision(connection: sa.Connection, kind: str, part: str, file_id: int | None) -> int:
    moment = sa.DateTime(timezone=True)
    file = sa.table("file", sa.column("id"), sa.column("name"), sa.column("loaded_at", moment))
    job = sa.table("job", sa.column("created_at", moment))
    found = connection.execute(sa.select(file).where(file.c.id == file_id)).first()
    loaded_at: dt.datetime | None = (
        found.loaded_at if found else connection.scalar(sa.select(job.c.created_at))
    )
    revision = sa.table(
        "revision",
        *map(sa.column, ("id", "kind", "part", "file_id", "source_file", "label")),
        sa.column("loaded_at", moment),
        sa.column("is_current", sa.Boolean()),
    )
    values = {
        "kind": kind,
        "part": part,
        "file_id": file_id,
        "source_file": found.name if found else "",
        "label": "",
        "loaded_at": loaded_at,
        "is_current": True,
    }
    return int(connection.execute(sa.insert(revision).values(**values).returning(revision.c.id)).scalar_one())
