"""What the owner's lists say: lines, structures, poles, guys, framing, what lies around."""

from __future__ import annotations

from sqlalchemy import JSON, Column, Double, Integer, Table, Text

from linemap.store.schema.columns import (
    flag,
    metadata,
    number,
    of_revision,
    position,
    text,
    texts,
    whole,
)

__all__ = [
    "equation",
    "line",
    "structure",
    "structure_change",
    "vertex",
]

line = Table(
    "line",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    *texts("back_end", "ahead_end", "crs"),
    Column("combined_factor", Double),
    number("start_station"),
    text("pole_a"),
    Column("settings", JSON, nullable=False),
)

vertex = Table(
    "vertex", metadata, of_revision(), position(), number("easting"), number("northing"), text("name")
)

equation = Table("equation", metadata, of_revision(), position(), number("back"), number("ahead"))

structure = Table(
    "structure",
    metadata,
    of_revision(),
    position(),
    text("number"),
    number("easting"),
    number("northing"),
    Column("elevation", Double),
    Column("spacing", Double),
    whole("pole_count"),
    whole("rule"),
    Column("explicit_azimuth", Double),
    flag("section_break"),
    *texts("type_code", "given_station", "remarks"),
    whole("source_row"),
)

#: What a revision changed against the one before it.
structure_change = Table(
    "structure_change", metadata, of_revision(), position(), text("number"), text("change"), text("words")
)
