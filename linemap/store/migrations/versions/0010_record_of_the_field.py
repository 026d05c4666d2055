"""What phones record: more of each event, a chain of hashes, claims, briefings, photos."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from typing import Any

import sqlalchemy as sa
from alembic import op

from linemap.store.migrations.append_only import let_only_grow, sqlite_refusal

revision = "0010"
down_revision = "0005"

_REFUSALS = {
    "event": "events are only ever added; record a correction as a new event",
    "claim": "claims are only ever added; make a new claim",
    "briefing": "briefings are only ever added; record another briefing",
}
_TEXTS = ("id", "line", "structure", "pole", "step", "crew", "actor", "device", "note", "file")


def upgrade() -> None:
    """Widen the events, chain those that are there, make the other tables."""
    postgresql = op.get_bind().dialect.name == "postgresql"
    _widen_job()
    _widen_event()
    op.execute(
        "ALTER TABLE event DISABLE TRIGGER event_refuse_change" if postgresql else "DROP TRIGGER event_update"
    )
    _chain_events()
    op.execute(
        "ALTER TABLE event ENABLE ALWAYS TRIGGER event_refuse_change"
        if postgresql
        else sqlite_refusal("event", "UPDATE", _REFUSALS["event"])
    )
    _make_claims()
    _make_briefings()
    _make_photos()
    for table in ("claim", "briefing"):
        let_only_grow(table, _REFUSALS[table], key=("id", "seq"))


def _widen_job() -> None:
    op.add_column("job", sa.Column("base_version", sa.Integer(), nullable=False, server_default="0"))
    op.execute("UPDATE job SET base_version = data_version")


def _widen_event() -> None:
    for name in ("longitude", "latitude", "accuracy_m", "wind_speed_mph", "wind_gust_mph", "skew_s"):
        op.add_column("event", sa.Column(name, sa.Double(), nullable=True))
    for name in ("revision_seen", "supersedes", "brand_seen", "chain_hash"):
        op.add_column("event", sa.Column(name, sa.Text(), nullable=False, server_default=""))
    op.add_column("event", sa.Column("photos", sa.JSON(), nullable=False, server_default="[]"))
    given = sa.text("supersedes <> ''")
    op.create_index(
        "ix_event_supersedes", "event", ["supersedes"], sqlite_where=given, postgresql_where=given
    )


def _chain_events() -> None:
    """Give each event its link, as the domain's chain makes it from what events could say until now."""
    event = sa.table(
        "event",
        *(sa.column(name) for name in ("seq", *_TEXTS, "result", "happened_offset_s", "row", "chain_hash")),
        *(sa.column(name, sa.DateTime(timezone=True)) for name in ("happened_at", "received_at")),
    )
    connection = op.get_bind()
    previous = ""
    links = []
    for row in connection.execute(sa.select(event).order_by(event.c.seq)):
        said = json.dumps(_said(row), ensure_ascii=False, separators=(",", ":"), sort_keys=True)
        previous = hashlib.sha256((previous + said).encode()).hexdigest()
        links.append({"at": row.seq, "hash": previous})
    if links:
        change = sa.update(event).where(event.c.seq == sa.bindparam("at"))
        connection.execute(change.values(chain_hash=sa.bindparam("hash")), links)


def _said(row: Any) -> dict[str, Any]:
    zone = dt.timezone(dt.timedelta(seconds=row.happened_offset_s))
    said = {name: getattr(row, name) for name in _TEXTS if getattr(row, name)}
    # the line has no default, so it is said even when it is blank
    said["line"] = row.line
    said["happened_at"] = _utc(row.happened_at).astimezone(zone).isoformat()
    said["received_at"] = _utc(row.received_at).isoformat()
    if row.result != "done":
        said["result"] = row.result
    if row.row:
        said["row"] = row.row
    return said


def _utc(moment: dt.datetime) -> dt.datetime:
    return moment.replace(tzinfo=dt.UTC) if moment.tzinfo is None else moment.astimezone(dt.UTC)


def _key(table: str) -> list[Any]:
    return [
        sa.CheckConstraint("seq > 0", name=op.f(f"ck_{table}_seq")),
        sa.PrimaryKeyConstraint("seq", name=f"pk_{table}"),
        sa.UniqueConstraint("id", name=f"uq_{table}_id"),
    ]


def _seq() -> sa.Column[int]:
    return sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False)


def _columns(kind: type[sa.Text] | type[sa.Integer], *names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, kind(), nullable=False) for name in names]


def _moments(*names: str) -> list[sa.Column[Any]]:
    return [sa.Column(name, sa.DateTime(timezone=True), nullable=False) for name in names]


def _make_claims() -> None:
    op.create_table(
        "claim",
        _seq(),
        *_columns(sa.Text, "id", "line", "structure", "crew", "device"),
        *_moments("made_at", "expires_at", "received_at"),
        *_key("claim"),
        sqlite_autoincrement=True,
    )


def _make_briefings() -> None:
    op.create_table(
        "briefing",
        _seq(),
        *_columns(sa.Text, "id", "line", "structure", "person_in_charge"),
        *_moments("at", "received_at"),
        sa.Column("subjects", sa.JSON(), nullable=False),
        *_key("briefing"),
        sqlite_autoincrement=True,
    )


def _make_photos() -> None:
    op.create_table(
        "photo",
        *_columns(sa.Text, "id", "event_id"),
        *_columns(sa.Integer, "total", "received"),
        *_columns(sa.Text, "media_type", "sha256"),
        *_moments("begun_at"),
        sa.PrimaryKeyConstraint("id", name="pk_photo"),
    )
    op.create_index("ix_photo_event_id", "photo", ["event_id"])
    op.create_table(
        "photo_part",
        *_columns(sa.Text, "photo_id"),
        sa.Column("start", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("photo_id", "start", name="pk_photo_part"),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name="fk_photo_part_photo_id"),
    )
