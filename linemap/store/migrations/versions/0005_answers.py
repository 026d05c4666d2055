"""What people said about the columns of files: a table that only grows, as that of the decisions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"

_REFUSAL = "answers are only ever added; give a new answer, which then stands"

# As for events: SQLite's INSERT OR REPLACE would remove the old row without firing a delete trigger.
_THERE = "WHEN EXISTS (SELECT 1 FROM answer WHERE seq = NEW.seq)"
_SQLITE = tuple(
    f"CREATE TRIGGER answer_{verb.lower()} BEFORE {verb} ON answer {when} "
    f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
    for verb, when in (("UPDATE", ""), ("DELETE", ""), ("INSERT", _THERE))
)

# ENABLE ALWAYS: a session that plays a replica would skip ordinary triggers.
_POSTGRESQL = (
    f"""CREATE FUNCTION refuse_answer_change() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$""",
    """CREATE TRIGGER answer_refuse_change BEFORE UPDATE OR DELETE OR TRUNCATE ON answer
        FOR EACH STATEMENT EXECUTE FUNCTION refuse_answer_change()""",
    "ALTER TABLE answer ENABLE ALWAYS TRIGGER answer_refuse_change",
)


def upgrade() -> None:
    """Make the table and its triggers."""
    op.create_table(
        "answer",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("shape", sa.Text(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("at_offset_s", sa.Integer(), nullable=False),
        sa.CheckConstraint("seq > 0", name=op.f("ck_answer_seq")),
        sa.PrimaryKeyConstraint("seq", name="pk_answer"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_answer_shape", "answer", ["shape"])
    for statement in _POSTGRESQL if op.get_bind().dialect.name == "postgresql" else _SQLITE:
        op.execute(statement)
