"""How many rows of the job came from each loaded file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from sqlalchemy import Connection, func, select

from linemap.store import schema

__all__ = ["rows_by_file"]

#: Tables that name a file or a revision without holding rows of a file.
_ABOUT = frozenset({"revision", "problem", "structure_change"})


def rows_by_file(connection: Connection) -> Mapping[int, int]:
    """Return file identifier -> rows in the job that came from the file; files without any are left out.

    Rows of older revisions count: they are kept. A record that came in twice counts for the first file.
    """
    counts: Counter[int] = Counter()
    revision = schema.revision
    for table in schema.metadata.sorted_tables:
        if table.name in _ABOUT:
            continue
        if "revision_id" in table.c:
            file_id = revision.c.file_id
            query = select(file_id, func.count()).join(table, table.c.revision_id == revision.c.id)
        elif "file_id" in table.c:
            file_id = table.c.file_id
            query = select(file_id, func.count())
        else:
            continue
        found = connection.execute(query.where(file_id.is_not(None)).group_by(file_id))
        counts.update({row[0]: row[1] for row in found})
    return dict(counts)
