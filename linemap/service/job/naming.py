"""How a job names its structures and poles, put together from what it holds and declares."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sqlalchemy import Connection

from linemap.domain.design.naming import ListedNumbers, Naming
from linemap.domain.design.structure import Structures, StructureType
from linemap.store.naming import listed_numbers


def naming_in(connection: Connection) -> Naming:
    """Return how the job of an open transaction names its structures now."""
    return Naming(listed=listed_numbers(connection))


def naming_of(structures: Structures, types: Iterable[StructureType] = ()) -> Naming:
    """Return how structure lists name their structures; the type table may know of more poles."""
    poles = {each.code: each.pole_count for each in types}
    listed: dict[str, dict[str, int]] = {}
    columns = (structures.line, structures.number, structures.pole_count.tolist(), structures.type_code)
    for line, number, count, code in zip(*columns, strict=True):
        listed.setdefault(line, {})[number] = max(count, poles.get(code, 0))
    return Naming(listed=ListedNumbers(listed))


def with_listed(naming: Naming, lists: Iterable[Structures]) -> Naming:
    """Return a naming of which lines have the numbers of new lists, as after these are stored."""
    listed: dict[str, Mapping[str, int]] = dict(naming.listed.numbers)
    for structures in lists:
        listed |= naming_of(structures).listed.numbers
    return Naming(listed=ListedNumbers(listed))
