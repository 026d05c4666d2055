"""The event table only grows: the database itself refuses to change, replace or remove an event."""

from __future__ import annotations

from linemap.store.migrations.append_only import let_only_grow

revision = "0002"
down_revision = "0001"

_REFUSAL = "events are only ever added; record a correction as a new event"


def upgrade() -> None:
    """Make the triggers."""
    let_only_grow("event", _REFUSAL, key=("id", "seq"), function="refuse_change")
