"""Decisions on causes: a table that only grows, as that of the events."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

_REFUSAL = "decisions are only ever added; take a new decision that withdraws the old one"

# As for events: SQLite's INSERT OR REPLACE would remove the old row without firing a delete trigger.
_THERE = "WHEN EXISTS (SELECT 1 FROM decision WHERE id = NEW.id OR seq = NEW.seq)"
_SQLITE = tuple(
    f"CREATE TRIGGER decision_{verb.lower()} BEFORE {verb} ON decision {when} "
    f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
    for verb, when in (("UPDATE", ""), ("DELETE", ""), ("INSERT", _THERE))
)

# ENABLE ALWAYS: a session that plays a replica would skip ordinary triggers.
_POSTGRESQL = (
    f"""CREATE FUNCTION refuse_decision_change() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$""",
    """CREATE TRIGGER decision_refuse_change BEFORE UPDATE OR DELETE OR TRUNCATE ON decision
        FOR EACH STATEMENT EXECUTE FUNCTION refuse_decision_change()""",
    "ALTER TABLE decision ENABLE ALWAYS TRIGGER decision_refuse_change",
)


def upgrade() -> None:
    """Make the table and its triggers."""
    op.create_table(
        "decision",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("cause", sa.Text(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("line", sa.Text(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("at_offset_s", sa.Integer(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("correction", sa.JSON(), nullable=False),
        sa.CheckConstraint("seq > 0", name=op.f("ck_decision_seq")),
        sa.PrimaryKeyConstraint("seq", name="pk_decision"),
        sa.UniqueConstraint("id", name="uq_decision_id"),
        sqlite_autoincrement=True,
    )
    for statement in _POSTGRESQL if op.get_bind().dialect.name == "postgresql" else _SQLITE:
        op.execute(statement)
