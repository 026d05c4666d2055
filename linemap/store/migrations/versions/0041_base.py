"""Where jobs of version 0.1.0 stand, the oldest there are.

No job starts here: a new one is made from the tables of `linemap.store.schema` as they are today. Each change
of those tables is a migration after this one, in its own words: it imports no table and no record.
"""

from __future__ import annotations

revision = "0041"
down_revision = None


def upgrade() -> None:
    """Refuse: what was written before version 0.1.0 was never published."""
    raise RuntimeError("jobs older than version 0.1.0 cannot be brought up to date")
