"""What a crew must know before it goes: releases of holds, plans."""

from __future__ import annotations

from sqlalchemy import JSON, Column, Date, Integer, Table, UniqueConstraint

from linemap.store.append_only import let_only_grow
from linemap.store.schema.columns import (
    metadata,
    moments,
    of_file,
    receipt_order,
    text,
    texts,
    whole,
)

__all__ = ["hold_release", "plan"]

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

#: Frozen plans: one row a baseline, never changed; weeks and counts stand in order.
plan = Table(
    "plan",
    metadata,
    Column("seq", Integer, primary_key=True),
    of_file(),
    *texts("line", "step", "revision"),
    Column("frozen_on", Date),
    Column("weeks", JSON, nullable=False),
    Column("planned", JSON, nullable=False),
    UniqueConstraint("line", "step", "revision"),
)
