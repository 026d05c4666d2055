"""People, their devices, and the releases of holds; the releases only ever grow."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from linemap.store.migrations.append_only import let_only_grow

revision = "0012"
down_revision = "0010"

_REFUSAL = "releases of holds are only ever added; a hold that must stand again is set anew"


def _moment(name: str, *, nullable: bool = False) -> sa.Column[object]:
    return sa.Column(name, sa.DateTime(timezone=True), nullable=nullable)


def upgrade() -> None:
    """Make the tables and the triggers of the releases."""
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("folded", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("releases", sa.JSON(), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=True),
        _moment("added_at"),
        _moment("revoked_at", nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_person"),
        sa.UniqueConstraint("folded", name="uq_person_folded"),
    )
    _make_devices()
    _make_releases()
    let_only_grow("hold_release", _REFUSAL)


def _make_devices() -> None:
    op.create_table(
        "device",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("code_sha256", sa.Text(), nullable=True),
        _moment("code_expires_at", nullable=True),
        sa.Column("token_sha256", sa.Text(), nullable=True),
        _moment("expires_at", nullable=True),
        _moment("made_at"),
        _moment("signed_in_at", nullable=True),
        _moment("last_seen", nullable=True),
        _moment("revoked_at", nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name="fk_device_person_id"),
        sa.PrimaryKeyConstraint("id", name="pk_device"),
        sa.UniqueConstraint("code_sha256", name="uq_device_code_sha256"),
        sa.UniqueConstraint("token_sha256", name="uq_device_token_sha256"),
    )
    op.create_index("ix_device_person_id", "device", ["person_id"])
    op.create_table(
        "sign_in_attempt",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        _moment("at"),
        sa.PrimaryKeyConstraint("id", name="pk_sign_in_attempt"),
    )
    op.create_index("ix_sign_in_attempt_at", "sign_in_attempt", ["at"])


def _make_releases() -> None:
    op.create_table(
        "hold_release",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("hold_id", sa.Text(), nullable=False),
        sa.Column("hold", sa.JSON(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("evidence", sa.Text(), nullable=False),
        _moment("at"),
        sa.Column("at_offset_s", sa.Integer(), nullable=False),
        _moment("recorded_at"),
        sa.CheckConstraint("seq > 0", name=op.f("ck_hold_release_seq")),
        sa.PrimaryKeyConstraint("seq", name="pk_hold_release"),
        sqlite_autoincrement=True,
    )
