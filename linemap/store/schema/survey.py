"""What was measured, and what people decided about it."""

from __future__ import annotations

from sqlalchemy import JSON, Column, Double, Integer, Table, UniqueConstraint

from linemap.store.append_only import let_only_grow
from linemap.store.schema.columns import (
    metadata,
    moments,
    number,
    of_file,
    receipt_order,
    text,
    texts,
    whole,
)

__all__ = ["decision", "shot"]

shot = Table(
    "shot",
    metadata,
    Column("id", Integer, primary_key=True),
    of_file(),
    text("point"),
    number("easting"),
    number("northing"),
    Column("elevation", Double),
    *texts("description", "structure", "pole", "item", "line"),
    Column("sigma", Double),
    *texts("observed_on", "file"),
    whole("row"),
    text("note"),
)

#: Append-only, as `event`: what people decided about causes found in the survey.
decision = Table(
    "decision",
    metadata,
    receipt_order(),
    *texts("id", "cause", "subject", "line", "answer", "who"),
    *moments("at"),
    whole("at_offset_s"),
    text("note"),
    Column("correction", JSON, nullable=False),
    UniqueConstraint("id"),
    sqlite_autoincrement=True,
)
let_only_grow(
    decision,
    "decisions are only ever added; take a new decision that withdraws the old one",
    key=("id", "seq"),
)
