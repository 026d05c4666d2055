"""What the records of each section hold and what they lack, with the structures behind every number.

A number counts records. None says that work was accepted, and nothing here stands for an acceptance.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from linemap.domain.record.status import Key
from linemap.domain.schedule.progress import Site
from linemap.domain.schedule.readiness import Section


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One column: a wire section or a mile, with its structures in line order."""

    name: str
    keys: tuple[Key, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One row: what is looked for, where it is needed, and where the records have it."""

    words: str
    needed: frozenset[Key]
    found: frozenset[Key]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One number of a row in a column, with the structures behind it in line order."""

    found: tuple[Key, ...]
    missing: tuple[Key, ...]

    @property
    def of(self) -> int:
        """Structures of the column that need it."""
        return len(self.found) + len(self.missing)

    @property
    def text(self) -> str:
        """Say the number: "35 of 37", "–" where no structure needs it."""
        return f"{len(self.found)} of {self.of}" if self.of else "–"


def section_parts(sections: Sequence[Section]) -> tuple[Part, ...]:
    """Return a column for each wire section.

    The structure at the break between two stands in the first of them alone, so that columns add up.
    """
    several = len({section.line for section in sections}) > 1
    parts, seen = [], set[Key]()
    for section in sections:
        keys = tuple(site.key for site in section.sites if site.key not in seen)
        seen.update(keys)
        parts.append(Part(name=section.named(several=several), keys=keys))
    return tuple(parts)


def mile_parts(sites: Sequence[Site], word: str) -> tuple[Part, ...]:
    """Return a column for each mile or kilometre of each line."""
    several = len({site.line for site in sites}) > 1
    return tuple(
        Part(name=f"{line} {word} {mile}" if several else f"{word} {mile}", keys=tuple(s.key for s in group))
        for (line, mile), group in groupby(sites, key=lambda site: (site.line, site.mile))
    )


def matrix(parts: Sequence[Part], asked: Iterable[Asked]) -> tuple[tuple[Asked, tuple[Cell, ...]], ...]:
    """Return each row with a cell for each column."""
    return tuple((row, tuple(_cell(part.keys, row) for part in parts)) for row in asked)


def _cell(keys: Sequence[Key], row: Asked) -> Cell:
    needed = [key for key in keys if key in row.needed]
    return Cell(
        found=tuple(key for key in needed if key in row.found),
        missing=tuple(key for key in needed if key not in row.found),
    )
