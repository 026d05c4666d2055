"""What the owner's lists say: lines, structures, poles, guys, framing, what lies around."""

from __future__ import annotations

from sqlalchemy import JSON, Boolean, Column, Double, Integer, Table, Text

from linemap.store.schema.columns import (
    flag,
    metadata,
    number,
    of_file,
    of_revision,
    optional_numbers,
    position,
    text,
    texts,
    whole,
)

__all__ = [
    "context_feature",
    "crossing",
    "equation",
    "framing",
    "guy",
    "line",
    "pole",
    "structure",
    "structure_change",
    "structure_type",
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

pole = Table(
    "pole",
    metadata,
    of_revision(),
    position(),
    *texts("structure", "letter"),
    Column("length_ft", Double),
    text("pole_class"),
    Column("ground_elevation", Double),
    Column("ground_wire", Boolean(create_constraint=False)),
    text("remarks"),
    whole("source_row"),
)

structure_type = Table(
    "structure_type",
    metadata,
    position(),
    of_file(),
    *texts("code", "words"),
    whole("pole_count"),
    Column("spacing", Double),
    whole("rule"),
    flag("section_break"),
    Column("blocks", Integer),
    number("weight"),
    Column("guyed", Boolean(create_constraint=False)),
)

#: The owner's framing table, a row a dimension of a type; `choice` holds what is no number.
framing = Table(
    "framing",
    metadata,
    position(),
    of_file(),
    *texts("code", "dimension"),
    Column("value", Double),
    *texts("choice", "drawing"),
    whole("source_row"),
)

guy = Table(
    "guy",
    metadata,
    Column("id", Integer, primary_key=True),
    of_file(),
    Column("line", Text, nullable=False, index=True),
    *texts("structure", "name", "kind", "side", "pole"),
    *optional_numbers("lead", "height", "ratio", "azimuth_deg"),
    text("remarks"),
    whole("source_row"),
)

crossing = Table(
    "crossing",
    metadata,
    position(),
    of_file(),
    *texts("line", "what", "owner", "station"),
    Column("true_distance", Double),
    *texts("back_structure", "ahead_structure"),
    Column("voltage_kv", Double),
    text("rule"),
    flag("energized"),
    whole("row"),
)

context_feature = Table(
    "context_feature",
    metadata,
    Column("id", Integer, primary_key=True),
    of_file(),
    Column("layer", Text, nullable=False, index=True),
    text("name"),
    flag("restricted"),
    # GeoJSON in WGS 84 longitude, latitude
    text("geometry"),
    Column("properties", JSON, nullable=False),
)
