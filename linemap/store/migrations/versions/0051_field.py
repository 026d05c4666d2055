"""Records of more kinds than steps, and who stands behind each."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0051"
down_revision = "0050"


def upgrade() -> None:
    """Add what no job had: nothing that is there changes."""
    _say_more_of_events()


def _say_more_of_events() -> None:
    # a default needs no change of a row, so the record may go on refusing changes
    for name, usual in (("what", "step"), ("part", ""), ("content", ""), ("signed_by", ""), ("sent_by", "")):
        op.add_column("event", sa.Column(name, sa.Text(), nullable=False, server_default=usual))
