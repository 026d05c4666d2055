"""Releases of holds."""

from __future__ import annotations

from sqlalchemy import JSON, Column, Table

from linemap.store.append_only import let_only_grow
from linemap.store.schema.columns import (
    metadata,
    moments,
    receipt_order,
    text,
    texts,
    whole,
)

__all__ = ["hold_release"]

#: Append-only, as `event`: who released which hold, and the hold as it stood then.
hold_release = Table(
    "hold_release",
    metadata,
    receipt_order(),
    text("hold_id"),
    Column("hold", JSON, nullable=False),
    *texts("who", "role", "device", "evidence"),
    *moments("at"),
    whole("at_offset_s"),
    *moments("recorded_at"),
    sqlite_autoincrement=True,
)
let_only_grow(hold_release, "releases of holds are only ever added; a hold that must stand again is set anew")
