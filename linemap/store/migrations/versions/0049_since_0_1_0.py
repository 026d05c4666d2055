"""What changed since 0.1.0: lists have states, records readings, the job an identity, loads a review."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable, Mapping
from typing import Any

import sqlalchemy as sa
from alembic import op

from linemap.store.schema.columns import only_grows

revision = "0049"
down_revision = "0041"

_Columns = list[sa.Column[Any]]
_Rows = list[dict[str, Any]]
_MOMENT = sa.DateTime(timezone=True)
_FLAG, _TEXT, _JSON, _DATE = sa.Boolean(create_constraint=False), sa.Text(), sa.JSON(), sa.Date()
_COUNT = sa.Integer()
_NUMBER: sa.Double[float] = sa.Double()
_MOVED = re.compile(r"moved ([0-9.]+) (ft|m)")
_READ_IN = re.compile(r"(.*) \((metre|international foot|US survey foot)\)")


def upgrade() -> None:
    """Bring the tables of 0.1.0 to what they are; nothing that a person wrote is lost."""
    # a default needs no change of a row, so the record may go on refusing changes
    op.add_column("event", sa.Column("readings", sa.JSON(), nullable=False, server_default=sa.text("'[]'")))
    _widen_revision()
    _give_states()
    _keep_tolerances()
    _part_headings()
    _make_plans_grow()
    _give_identity()
    _keep_changes_as_values()
    _place_problems()
    _review_changes()


def _of(kind: sa.types.TypeEngine[Any], names: str) -> _Columns:
    return [sa.Column(name, kind, nullable=False) for name in names.split()]


def _maybe(kind: sa.types.TypeEngine[Any], names: str) -> _Columns:
    return [sa.Column(name, kind, nullable=True) for name in names.split()]


def _taken(table: str, columns: Iterable[sa.Column[Any]], *more: str) -> _Rows:
    """Take the rows out of a table in their order, by the columns given, and the table away."""
    connection = op.get_bind()
    there = {column["name"] for column in sa.inspect(connection).get_columns(table)}
    key: sa.ColumnClause[int] = sa.column("seq" if "seq" in there else "id")
    read = [sa.column(each.name, each.type) for each in columns if each.name in there - {key.name}]
    old = sa.table(table, key, *read, *map(sa.column, more))
    rows = [dict(row._mapping) for row in connection.execute(sa.select(old).order_by(key))]
    op.drop_table(table)
    return rows


def _make(table: str, columns: _Columns, rows: _Rows, *, key: tuple[str, ...] = ("id",), **more: Any) -> None:
    """Make a table and fill it; columns that end in "_id" point to the table so called."""
    names = [column.name for column in columns]
    points = [name for name in names if name in {"revision_id", "file_id", "line_id", "proposal_id"}]
    made = op.create_table(
        table,
        *columns,
        *(sa.ForeignKeyConstraint([name], [f"{name[:-3]}.id"], name=f"fk_{table}_{name}") for name in points),
        sa.PrimaryKeyConstraint(*key, name=f"pk_{table}"),
        **more,
    )
    op.bulk_insert(made, [{name: row[name] for name in names if name in row} for row in rows])


def _widen_revision() -> None:
    if op.get_bind().dialect.name == "postgresql":
        op.alter_column("revision", "line_id", nullable=True)
        op.add_column("revision", sa.Column("part", sa.Text(), nullable=False, server_default=""))
        op.alter_column("revision", "part", server_default=None)
        op.add_column("revision", sa.Column("true_from", _DATE))
        op.add_column("revision", _clock())
        op.add_column("revision", sa.Column("carried_from", _COUNT))
    else:
        _make_revision_anew()
    of_job = sa.text("is_current AND line_id IS NULL")
    _index("ix_revision_current_of_job", "kind", "part", where=of_job)


def _clock() -> sa.Column[int]:
    """Return the column of what the clock was ahead of UTC by which something came in: it was not kept."""
    return sa.Column("loaded_offset_s", _COUNT, nullable=False, server_default=sa.text("0"))


def _make_revision_anew() -> None:
    """SQLite lets no column become nullable; rows that point here are looked at when all is done."""
    op.execute("PRAGMA defer_foreign_keys = ON")
    columns = [
        *_of(_COUNT, "id"),
        *_maybe(_COUNT, "line_id"),
        *_of(_TEXT, "kind part"),
        *_maybe(_COUNT, "file_id"),
        *_of(_TEXT, "source_file label"),
        *_of(_MOMENT, "loaded_at"),
        _clock(),
        *_maybe(_DATE, "true_from"),
        *_maybe(_COUNT, "carried_from"),
        *_of(_FLAG, "is_current"),
    ]
    rows = _taken("revision", columns)
    _make("revision", columns, [{**row, "part": ""} for row in rows])
    _index("ix_revision_current", "line_id", "kind", where=sa.text("is_current"))


def _index(name: str, *columns: str, where: sa.TextClause) -> None:
    op.create_index(name, "revision", list(columns), unique=True, sqlite_where=where, postgresql_where=where)


def _give_states() -> None:
    """Let every list that was replaced whole keep its states: what is there is the current one."""
    hold = _of(_TEXT, "id line from_structure to_structure condition reason set_by release_by")
    hold += [*_of(_JSON, "structures activities"), *_of(_FLAG, "restricted")]
    _states("holds", "hold", hold + _maybe(_DATE, "from_date to_date released_on"))
    ticket = _of(_TEXT, "number line from_structure to_structure life responses renewed_by")
    ticket += [*_of(_JSON, "structures"), *_of(_FLAG, "covers_anchors")]
    _states("tickets", "ticket", ticket + _maybe(_DATE, "valid_from expires"))
    receipt = _of(_TEXT, "item line structure brand yard_row released_by remarks")
    receipt += [*_of(_COUNT, "received damaged row"), *_maybe(_COUNT, "ordered")]
    _states("receipts", "receipt", receipt + _maybe(_DATE, "received_on due"))
    kind = [*_of(_TEXT, "code words"), *_of(_COUNT, "pole_count rule"), *_of(_FLAG, "section_break")]
    kind += [*_of(_NUMBER, "weight"), *_maybe(_NUMBER, "spacing"), *_maybe(_COUNT, "blocks")]
    _states("types", "structure_type", kind + _maybe(_FLAG, "guyed"))
    framing = [*_of(_TEXT, "code dimension choice drawing"), *_of(_COUNT, "source_row")]
    _states("framing", "framing", framing + _maybe(_NUMBER, "value"))
    guy = [*_of(_TEXT, "line structure name kind side pole remarks"), *_of(_COUNT, "source_row")]
    _states("guys", "guy", guy + _maybe(_NUMBER, "lead height ratio azimuth_deg"), part="line")
    feature = [*_of(_TEXT, "layer name geometry"), *_of(_FLAG, "restricted"), *_of(_JSON, "properties")]
    _states("context", "context_feature", feature, part="layer")
    crossing = _of(_TEXT, "line what owner station back_structure ahead_structure rule")
    crossing += [*_of(_FLAG, "energized"), *_of(_COUNT, "row")]
    _states("crossings", "crossing", crossing + _maybe(_NUMBER, "true_distance voltage_kv"))


def _states(kind: str, table: str, columns: _Columns, *, part: str = "") -> None:
    """Make the table of a list anew under revisions, one of all rows or one of each value of `part`."""
    parts: dict[str, _Rows] = {}
    for row in _taken(table, columns, "file_id"):
        parts.setdefault(row[part] if part else "", []).append(row)
    _make_list(kind, table, columns, parts)


def _make_list(kind: str, table: str, columns: _Columns, parts: Mapping[str, _Rows]) -> None:
    rows = []
    for name, mine in parts.items():
        made = {"revision_id": _revision(kind, name, mine[0]["file_id"])}
        rows += [{**row, **made, "seq": seq} for seq, row in enumerate(mine)]
    seq = sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False)
    _make(table, [*_of(_COUNT, "revision_id"), seq, *columns], rows, key=("revision_id", "seq"))


def _revision(kind: str, part: str, file_id: int | None) -> int:
    connection = op.get_bind()
    file = sa.table("file", *map(sa.column, ("id", "name")), sa.column("loaded_at", _MOMENT))
    job = sa.table("job", sa.column("created_at", _MOMENT))
    found = connection.execute(sa.select(file).where(file.c.id == file_id)).first()
    values = {
        "kind": kind,
        "part": part,
        "file_id": file_id,
        "source_file": found.name if found else "",
        "label": "",
        "loaded_at": found.loaded_at if found else connection.scalar(sa.select(job.c.created_at)),
        "is_current": True,
    }
    table = sa.table(
        "revision",
        *map(sa.column, ("id", "kind", "part", "file_id", "source_file", "label")),
        sa.column("loaded_at", _MOMENT),
        sa.column("is_current", sa.Boolean()),
    )
    return int(connection.execute(sa.insert(table).values(**values).returning(table.c.id)).scalar_one())


def _keep_tolerances() -> None:
    """Make a list of the tolerances that were settings; those without a unit are in their own."""
    connection = op.get_bind()
    job = sa.table("job", sa.column("settings", sa.JSON()))
    file = sa.table("file", sa.column("id"), sa.column("kind"))
    settings = dict(connection.execute(sa.select(job.c.settings)).scalar_one())
    given = settings.pop("tolerances", None) or {}
    loaded = connection.scalar(sa.select(sa.func.max(file.c.id)).where(file.c.kind == "tolerances"))
    rows = [
        {"name": name, "unit": "", "source": "", "source_row": 0, "file_id": loaded}
        | (dict(value) if isinstance(value, dict) else {"value": value})
        for name, value in given.items()
    ]
    columns = [
        *_of(_TEXT, "name"),
        *_of(_NUMBER, "value"),
        *_of(_TEXT, "unit source"),
        *_of(_COUNT, "source_row"),
    ]
    _make_list("tolerances", "tolerance", columns, {"": rows} if rows else {})
    connection.execute(sa.update(job).values(settings=settings))


def _part_headings() -> None:
    """Keep heading and unit of the columns of a file apart."""
    connection = op.get_bind()
    file = sa.table("file", sa.column("id"), sa.column("mapping", sa.JSON()))
    for row in connection.execute(sa.select(file)).all():
        parted = {name: _parted(str(heading)) for name, heading in row.mapping.items()}
        connection.execute(sa.update(file).where(file.c.id == row.id).values(mapping=parted))


def _parted(heading: str) -> dict[str, str]:
    found = _READ_IN.fullmatch(heading)
    return {"heading": found[1], "unit": found[2]} if found else {"heading": heading, "unit": ""}


def _make_plans_grow() -> None:
    """Let the database refuse to change what was frozen."""
    columns = [
        *_of(_TEXT, "line step revision"),
        *_maybe(_DATE, "frozen_on"),
        *_of(_JSON, "weeks planned"),
    ]
    rows = _taken("plan", columns, "file_id")
    kept = [{name: value for name, value in row.items() if name != "seq"} for row in rows]
    refusal = "plans are frozen; give a new plan a revision of its own"
    _make_growing("plan", [*_maybe(_COUNT, "file_id"), *columns], kept, refusal=refusal)


def _make_growing(table: str, columns: _Columns, rows: _Rows, *, refusal: str) -> None:
    seq: sa.Column[Any] = sa.Column(
        "seq", sa.Integer(), sa.CheckConstraint("seq > 0", name="seq"), autoincrement=True
    )
    _make(table, [seq, *columns], rows, key=("seq",), sqlite_autoincrement=True)
    for statement in only_grows(table, refusal, dialect=op.get_bind().dialect.name):
        op.execute(statement)


def _give_identity() -> None:
    """Give the job an identity of its own, and one of this life of it."""
    columns = [
        sa.Column("id", sa.Integer(), sa.CheckConstraint("id = 1", name="one"), autoincrement=False),
        *_of(_TEXT, "name identity incarnation"),
        *_of(_MOMENT, "created_at"),
        *_of(_COUNT, "data_version base_version"),
        *_of(_JSON, "settings"),
    ]
    (row,) = _taken("job", columns)
    own = {"identity": str(uuid.uuid4()), "incarnation": str(uuid.uuid4())}
    _make("job", columns, [{**row, **own}])


def _keep_changes_as_values() -> None:
    """Keep what a revision changed as values; a sentence of 0.1.0 stays one, a move tells how far."""
    seq: sa.Column[Any] = sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False)
    columns = [*_of(_COUNT, "revision_id"), seq, *_of(_TEXT, "number change"), *_of(_JSON, "details")]
    rows = _taken("structure_change", columns, "words")
    valued = [{**row, "details": _values(row["change"], row["words"])} for row in rows]
    _make("structure_change", columns, valued, key=("revision_id", "seq"))


def _values(change: str, words: str) -> dict[str, Any]:
    moved = _MOVED.fullmatch(words) if change == "moved" else None
    if moved:
        return {"distance": float(moved[1]), "unit": moved[2]}
    # remarks are told on fewer pages than other fields
    return {"words": words, **({"field": "remarks"} if " remarks " in f" {words}" else {})}


def _place_problems() -> None:
    """Let what was wrong in a file name the structure its row names; of older files that is not known."""
    seq = sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False)
    columns = [*_of(_COUNT, "file_id"), seq, *_maybe(_COUNT, "source_row")]
    columns += _of(_TEXT, "heading value reason remedy severity line structure")
    rows = _taken("problem", columns)
    _make("problem", columns, [{**row, "line": "", "structure": ""} for row in rows], key=("file_id", "seq"))


def _review_changes() -> None:
    """Keep what somebody accepted or declared, and what waits for a review; of 0.1.0 nothing is known."""
    op.add_column("file", sa.Column("aside", _FLAG, nullable=False, server_default=sa.false()))
    op.add_column("file", _clock())
    at = [*_of(_MOMENT, "at"), *_of(_COUNT, "at_offset_s")]
    accepted = [*_of(_TEXT, "id what undoes who reason"), *at]
    accepted += [*_of(_JSON, "summary"), *_of(_TEXT, "event_hash chain_hash")]
    refusal = "changes are only ever added; undo one by a new change"
    _make_growing("job_change", accepted, [], refusal=refusal)
    declared = [*at, *_of(_TEXT, "who"), *_maybe(_DATE, "true_from"), *_of(_JSON, "settings lines")]
    _make_growing("declaration", declared, [], refusal="declarations are only ever added; declare it anew")
    waiting = [*_of(_TEXT, "id what who state step"), *_of(_NUMBER, "share"), *_of(_MOMENT, "made_at")]
    _make("proposal", [*waiting, *_of(_JSON, "request answer")], [])
    seq = sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False)
    file = [*_of(_TEXT, "proposal_id"), seq, *_of(_TEXT, "name"), *_of(_COUNT, "size")]
    content = sa.Column("content", sa.LargeBinary(), nullable=False)
    _make("proposal_file", [*file, content], [], key=("proposal_id", "seq"))
