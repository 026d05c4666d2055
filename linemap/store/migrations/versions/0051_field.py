"""Records of more kinds than steps, and who stands behind each."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from linemap.store.schema.columns import only_grows

revision = "0051"
down_revision = "0050"


def upgrade() -> None:
    """Add what no job had: nothing that is there changes."""
    _say_more_of_events()
    _know_backups()
    _keep_times_of_holds()
    _know_crews()
    _keep_buffers_of_holds()
    _seal()


def _say_more_of_events() -> None:
    # a default needs no change of a row, so the record may go on refusing changes
    op.add_column("event", sa.Column("what", sa.Text(), nullable=False, server_default="step"))
    for name in ("part", "content", "signed_by", "signed_how", "role", "sent_by"):
        op.add_column("event", sa.Column(name, sa.Text(), nullable=False, server_default=""))


def _know_crews() -> None:
    """Let people have a crew of their own, and claims say who made them."""
    for table, name in (("person", "crew"), ("claim", "who")):
        op.add_column(table, sa.Column(name, sa.Text(), nullable=False, server_default=""))


def _know_backups() -> None:
    """Keep which copies were made of the job, and what phones saw of its record."""
    text, whole, moment = sa.Text(), sa.Integer(), sa.DateTime(timezone=True)
    op.create_table(
        "backup",
        sa.Column("seq", whole, sa.CheckConstraint("seq > 0", name="seq"), autoincrement=True),
        sa.Column("at", moment, nullable=False),
        sa.Column("at_offset_s", whole, nullable=False),
        *(sa.Column(name, text, nullable=False) for name in ("incarnation", "event_hash")),
        *(sa.Column(name, whole, nullable=False) for name in ("event_seq", "version")),
        *(sa.Column(name, text, nullable=False) for name in ("name", "sha256")),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_backup"),
        sqlite_autoincrement=True,
    )
    refusal = "backups are only ever added; make another one"
    for statement in only_grows("backup", refusal, dialect=op.get_bind().dialect.name):
        op.execute(statement)
    op.create_table(
        "witness",
        *(sa.Column(name, text, nullable=False) for name in ("device", "newest", "person")),
        *(sa.Column(name, moment, nullable=False) for name in ("seen_at", "reported_at")),
        sa.PrimaryKeyConstraint("device", "newest", name="pk_witness"),
    )


def _keep_times_of_holds() -> None:
    """Let holds keep the times of day their list gives; what was loaded before has whole days."""
    for name in ("from_time", "to_time"):
        op.add_column("hold", sa.Column(name, sa.Time(), nullable=True))


def _keep_buffers_of_holds() -> None:
    """Let holds keep where they stand and how far they reach; those before reach what they name."""
    for name in ("easting", "northing", "radius"):
        op.add_column("hold", sa.Column(name, sa.Double(), nullable=True))


def _seal() -> None:
    """Make the chain of what decides; what is there is sealed when the job has come up to date."""
    texts = ("of", "key", "hash", "why", "event_hash", "change_hash", "chain_hash")
    op.create_table(
        "seal",
        sa.Column("seq", sa.Integer(), sa.CheckConstraint("seq > 0", name="seq"), autoincrement=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("upto", sa.Integer(), nullable=False),
        sa.Column("rows", sa.JSON(), nullable=False),
        *(sa.Column(name, sa.Text(), nullable=False) for name in texts),
        sa.PrimaryKeyConstraint("seq", name="pk_seal"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_seal_of_key", "seal", ["of", "key"])
    for statement in only_grows("seal", "seals are only ever added", dialect=op.get_bind().dialect.name):
        op.execute(statement)
