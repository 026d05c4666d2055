"""The tables of a job."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("loaded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("loaded_by", sa.Text(), nullable=False),
        sa.Column("mapping", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_file"),
    )
    op.create_index("ix_file_sha256", "file", ["sha256"])
    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("data_version", sa.Integer(), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_job_one")),
        sa.PrimaryKeyConstraint("id", name="pk_job"),
    )
    op.create_table(
        "line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("back_end", sa.Text(), nullable=False),
        sa.Column("ahead_end", sa.Text(), nullable=False),
        sa.Column("crs", sa.Text(), nullable=False),
        sa.Column("combined_factor", sa.Double(), nullable=True),
        sa.Column("start_station", sa.Double(), nullable=False),
        sa.Column("pole_a", sa.Text(), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_line"),
        sa.UniqueConstraint("name", name="uq_line_name"),
    )
    op.create_table(
        "event",
        sa.Column("seq", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("line", sa.Text(), nullable=False),
        sa.Column("structure", sa.Text(), nullable=False),
        sa.Column("pole", sa.Text(), nullable=False),
        sa.Column("step", sa.Text(), nullable=False),
        sa.Column("result", sa.Text(), nullable=False),
        sa.Column("happened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("happened_offset_s", sa.Integer(), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("crew", sa.Text(), nullable=False),
        sa.Column("actor", sa.Text(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("row", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_event_file_id"),
        sa.CheckConstraint("seq > 0", name=op.f("ck_event_seq")),
        sa.PrimaryKeyConstraint("seq", name="pk_event"),
        sa.UniqueConstraint("id", name="uq_event_id"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_event_line_structure", "event", ["line", "structure"])
    op.create_table(
        "hold",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("line", sa.Text(), nullable=False),
        sa.Column("structures", sa.JSON(), nullable=False),
        sa.Column("from_structure", sa.Text(), nullable=False),
        sa.Column("to_structure", sa.Text(), nullable=False),
        sa.Column("activities", sa.JSON(), nullable=False),
        sa.Column("from_date", sa.Date(), nullable=True),
        sa.Column("to_date", sa.Date(), nullable=True),
        sa.Column("condition", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("restricted", sa.Boolean(), nullable=False),
        sa.Column("set_by", sa.Text(), nullable=False),
        sa.Column("release_by", sa.Text(), nullable=False),
        sa.Column("released_on", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_hold_file_id"),
        sa.PrimaryKeyConstraint("seq", name="pk_hold"),
    )
    op.create_table(
        "problem",
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("source_row", sa.Integer(), nullable=True),
        sa.Column("heading", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("remedy", sa.Text(), nullable=False),
        sa.Column("severity", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_problem_file_id"),
        sa.PrimaryKeyConstraint("file_id", "seq", name="pk_problem"),
    )
    op.create_table(
        "revision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("line_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("source_file", sa.Text(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("loaded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("is_current", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_revision_file_id"),
        sa.ForeignKeyConstraint(["line_id"], ["line.id"], name="fk_revision_line_id"),
        sa.PrimaryKeyConstraint("id", name="pk_revision"),
    )
    op.create_index(
        "ix_revision_current",
        "revision",
        ["line_id", "kind"],
        unique=True,
        sqlite_where=sa.text("is_current"),
        postgresql_where=sa.text("is_current"),
    )
    op.create_table(
        "shot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("point", sa.Text(), nullable=False),
        sa.Column("easting", sa.Double(), nullable=False),
        sa.Column("northing", sa.Double(), nullable=False),
        sa.Column("elevation", sa.Double(), nullable=True),
        sa.Column("description", sa.Text(), nullable=False),
        sa.Column("structure", sa.Text(), nullable=False),
        sa.Column("pole", sa.Text(), nullable=False),
        sa.Column("item", sa.Text(), nullable=False),
        sa.Column("line", sa.Text(), nullable=False),
        sa.Column("sigma", sa.Double(), nullable=True),
        sa.Column("observed_on", sa.Text(), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("row", sa.Integer(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["file.id"], name="fk_shot_file_id"),
        sa.PrimaryKeyConstraint("id", name="pk_shot"),
    )
    op.create_table(
        "equation",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("back", sa.Double(), nullable=False),
        sa.Column("ahead", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_equation_revision_id"),
        sa.PrimaryKeyConstraint("revision_id", "seq", name="pk_equation"),
    )
    op.create_table(
        "pole",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("structure", sa.Text(), nullable=False),
        sa.Column("letter", sa.Text(), nullable=False),
        sa.Column("length_ft", sa.Double(), nullable=True),
        sa.Column("pole_class", sa.Text(), nullable=False),
        sa.Column("ground_elevation", sa.Double(), nullable=True),
        sa.Column("ground_wire", sa.Boolean(), nullable=True),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("source_row", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_pole_revision_id"),
        sa.PrimaryKeyConstraint("revision_id", "seq", name="pk_pole"),
    )
    op.create_table(
        "structure",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Text(), nullable=False),
        sa.Column("easting", sa.Double(), nullable=False),
        sa.Column("northing", sa.Double(), nullable=False),
        sa.Column("elevation", sa.Double(), nullable=True),
        sa.Column("spacing", sa.Double(), nullable=True),
        sa.Column("pole_count", sa.Integer(), nullable=False),
        sa.Column("rule", sa.Integer(), nullable=False),
        sa.Column("explicit_azimuth", sa.Double(), nullable=True),
        sa.Column("section_break", sa.Boolean(), nullable=False),
        sa.Column("type_code", sa.Text(), nullable=False),
        sa.Column("given_station", sa.Text(), nullable=False),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("source_row", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_structure_revision_id"),
        sa.PrimaryKeyConstraint("revision_id", "seq", name="pk_structure"),
    )
    op.create_table(
        "structure_change",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.Text(), nullable=False),
        sa.Column("change", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_structure_change_revision_id"),
        sa.PrimaryKeyConstraint("revision_id", "seq", name="pk_structure_change"),
    )
    op.create_table(
        "vertex",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("easting", sa.Double(), nullable=False),
        sa.Column("northing", sa.Double(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_vertex_revision_id"),
        sa.PrimaryKeyConstraint("revision_id", "seq", name="pk_vertex"),
    )
