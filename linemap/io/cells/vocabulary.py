"""The words owners use in column headings, for every kind of table and every field, as declared.

Compared without case, blanks and punctuation; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from linemap.domain.kind.kind import Code as Kind
from linemap.domain.kind.kind import Kind as Declared
from linemap.domain.kind.kind import columns_of, extra_of
from linemap.kinds.registry import DECLARED

#: Sets of alternatives; at least one alternative of every set must be there in full.
Needs = tuple[tuple[tuple[str, ...], ...], ...]


def words_of(kind: Declared[Any]) -> dict[str, tuple[str, ...]]:
    """Return field -> headings of a declared kind, squeezed, the surest first."""
    columns = (*columns_of(kind), *extra_of(kind))
    return {column.named: tuple(column.cell.words.split()) for column in columns if column.cell.words}


def columns_in_words(kind: Declared[Any]) -> str:
    """Return the columns of a declared kind, each with its unit and the surest of its headings."""
    columns = (*columns_of(kind), *extra_of(kind))
    return "; ".join(
        f"{column.named}{f' in {column.cell.unit}' if column.cell.unit else ''} "
        f"({', '.join(column.cell.words.split()[:3])})"
        for column in columns
        if column.cell.words
    )


def needs_of(kind: Declared[Any]) -> Needs:
    """Return the sets of alternatives of a declared kind, by the names of its columns."""
    named = {column.name: column.named for column in columns_of(kind)}
    return tuple(
        tuple(
            tuple(named.get(each.strip(), each.strip()) for each in choice.split("+"))
            for choice in need.split("|")
        )
        for need in kind.needs
    )


#: Kind -> field -> headings that mean it, squeezed, the surest first.
VOCABULARY: Mapping[Kind, Mapping[str, tuple[str, ...]]] = {
    kind: words_of(declared) for kind, declared in DECLARED.items()
}
#: For each kind: sets of alternatives; at least one alternative of every set must be there in full.
NEEDS: Mapping[Kind, Needs] = {kind: needs_of(declared) for kind, declared in DECLARED.items()}
#: Fields that say a table is another kind.
FORBIDS: Mapping[Kind, tuple[str, ...]] = {kind: declared.forbids for kind, declared in DECLARED.items()}
#: Fields that only help to know a table and its headings; what they hold is computed, not read.
UNREAD: Mapping[Kind, tuple[str, ...]] = {
    kind: tuple(column.named for column in extra_of(declared) if column.cell.compared)
    for kind, declared in DECLARED.items()
}
