"""Lists of control points, and the line angles of the structure list."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0050"
down_revision = "0049"


def upgrade() -> None:
    """Add what no job had: nothing that is there changes."""
    _keep_line_angles()
    _list_control()


def _keep_line_angles() -> None:
    """Let the structure list keep the angles it gives; what was loaded before gave none."""
    angle = sa.Column("given_deflection", sa.Text(), nullable=False, server_default="")
    op.add_column("structure", angle)
    with op.batch_alter_table("structure") as table:
        table.alter_column("given_deflection", server_default=None)


def _list_control() -> None:
    number: sa.Double[float] = sa.Double()
    words = [sa.Column(name, sa.Text(), nullable=False) for name in ("name", "datum", "source", "note")]
    places = [sa.Column(name, number, nullable=False) for name in ("easting", "northing")]
    measures = [sa.Column(name, number, nullable=True) for name in ("elevation", "sigma")]
    op.create_table(
        "control_point",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        *words,
        *places,
        *measures,
        sa.Column("source_row", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_control_point_revision_id"),
        sa.PrimaryKeyConstraint("revision_id", "seq", name="pk_control_point"),
    )
