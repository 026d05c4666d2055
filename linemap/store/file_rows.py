"""How many rows of the job came from each loaded file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from sqlalchemy import Connection, func, select

from linemap.store import schema

__all__ = ["rows_by_file"]

_OWN = (
    schema.shot,
    schema.event,
    schema.hold,
    schema.guy,
    schema.crossing,
    schema.context_feature,
    schema.structure_type,
    schema.framing,
    schema.plan,
    schema.ticket,
    schema.receipt,
    schema.punch_entry,
    schema.fact,
)
_REVISED = (schema.vertex, schema.equation, schema.structure, schema.pole)


def rows_by_file(connection: Connection) -> Mapping[int, int]:
    """Return file identifier -> rows in the job that came from the file; files without any are left out.

    Rows of older revisions count: they are kept. A record that came in twice counts for the first file.
    """
    counts: Counter[int] = Counter()
    for table in _OWN:
        query = (
            select(table.c.file_id, func.count())
            .where(table.c.file_id.is_not(None))
            .group_by(table.c.file_id)
        )
        counts.update({row[0]: row[1] for row in connection.execute(query)})
    revision = schema.revision
    for table in _REVISED:
        query = (
            select(revision.c.file_id, func.count())
            .join(table, table.c.revision_id == revision.c.id)
            .where(revision.c.file_id.is_not(None))
            .group_by(revision.c.file_id)
        )
        counts.update({row[0]: row[1] for row in connection.execute(query)})
    return dict(counts)
