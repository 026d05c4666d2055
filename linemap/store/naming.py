"""The numbers of the current structure lists, which everything else is named by."""

from __future__ import annotations

from sqlalchemy import Connection, select

from linemap.domain.design.naming import ListedNumbers
from linemap.kinds.registry import TYPES
from linemap.store.schema import line, metadata, revision, structure


def listed_numbers(connection: Connection) -> ListedNumbers:
    """Return the numbers of the current structure lists; the type table may know of more poles."""
    table, types = structure, metadata.tables[TYPES.table]
    known = select(types.c.code, types.c.pole_count).join(revision, types.c.revision_id == revision.c.id)
    poles = {row.code: row.pole_count for row in connection.execute(known.where(revision.c.is_current))}
    query = (
        select(line.c.name, table.c.number, table.c.pole_count, table.c.type_code)
        .join(revision, table.c.revision_id == revision.c.id)
        .join(line, revision.c.line_id == line.c.id)
        .where(revision.c.is_current)
    )
    listed: dict[str, dict[str, int]] = {}
    for name, number, count, code in connection.execute(query):
        listed.setdefault(name, {})[number] = max(count, poles.get(code, 0))
    return ListedNumbers(listed)
