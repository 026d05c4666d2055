"""The event table only grows: the database itself refuses to change, replace or remove an event."""

from __future__ import annotations

from alembic import op

revision = "0002"
down_revision = "0001"

_REFUSAL = "events are only ever added; record a correction as a new event"

# SQLite's INSERT OR REPLACE removes the old row without firing a delete trigger unless recursive_triggers is
# on, so the insert itself is refused when the row is there, by its identifier or by its number.
_THERE = "WHEN EXISTS (SELECT 1 FROM event WHERE id = NEW.id OR seq = NEW.seq)"
_SQLITE = tuple(
    f"CREATE TRIGGER event_{verb.lower()} BEFORE {verb} ON event {when} "
    f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
    for verb, when in (("UPDATE", ""), ("DELETE", ""), ("INSERT", _THERE))
)

# ENABLE ALWAYS: a session that plays a replica would skip ordinary triggers.
_POSTGRESQL = (
    f"""CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$""",
    """CREATE TRIGGER event_refuse_change BEFORE UPDATE OR DELETE OR TRUNCATE ON event
        FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()""",
    "ALTER TABLE event ENABLE ALWAYS TRIGGER event_refuse_change",
)


def upgrade() -> None:
    """Make the triggers."""
    for statement in _POSTGRESQL if op.get_bind().dialect.name == "postgresql" else _SQLITE:
        op.execute(statement)
