"""Readings of a record: what was measured or seen with it, with value and unit. Records before have none."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0043"
down_revision = "0042"


def upgrade() -> None:
    """Add the column; a default needs no change of a row, so the record may go on refusing changes."""
    op.add_column("event", sa.Column("readings", sa.JSON(), nullable=False, server_default=sa.text("'[]'")))
