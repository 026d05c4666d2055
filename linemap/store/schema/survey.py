"""What was measured, and what people decided about it."""

from __future__ import annotations

from sqlalchemy import JSON, Column, Date, Double, Integer, Table, UniqueConstraint

from linemap.store.append_only import let_only_grow
from linemap.store.schema.columns import (
    metadata,
    moments,
    number,
    of_file,
    optional_numbers,
    receipt_order,
    text,
    texts,
    whole,
)

__all__ = ["decision", "fact", "shot"]

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

#: Append-only, as `event`: what was seen or measured at structures.
fact = Table(
    "fact",
    metadata,
    receipt_order(),
    of_file(),
    *texts("line", "structure", "what", "pole", "pointed_by"),
    Column("length_ft", Double),
    *texts("pole_class", "face", "looking", "side"),
    *optional_numbers(
        "lower_height",
        "lower_along",
        "lower_across",
        "upper_height",
        "upper_along",
        "upper_across",
        "pole_height",
        "left_height",
        "right_height",
        "arm_length",
    ),
    text("who"),
    Column("day", Date, nullable=False),
    text("note"),
    whole("source_row"),
    sqlite_autoincrement=True,
)
let_only_grow(fact, "facts are only ever added; record what you see now as a new fact")

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
