"""Many single faults of one kind in one file or of one crew are one cause."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted, listed
from linemap.domain.causes.seen import Seen, file_subject
from linemap.domain.causes.signature_side import Records

__all__ = ["gather"]

#: So many of a kind, and this share of all that could have it, make one cause.
_MANY, _SHARE = 3, 0.6
_BY_FILE = frozenset({"inner faces shot", "one side's faces shot", "poor survey"})
_BY_CREW = frozenset({"wrong brace set", "square to one tangent", "parallel to the line"})


def gather(seen: Seen, records: Records, suspicions: list[Suspicion]) -> list[Suspicion]:
    """Put suspicions of one kind together where most of a file, or of a crew's structures, show them.

    Faults of the survey are gathered by file, faults of framing by the crew that framed.
    """
    groups: dict[tuple[str, str], list[Suspicion]] = defaultdict(list)
    for each in suspicions:
        groups[each.code, _whose(seen, records, each)].append(each)
    gathered: list[Suspicion] = []
    for (_, subject), group in groups.items():
        if subject and len(group) >= _MANY and len(group) >= _SHARE * _able(seen, records, group, subject):
            gathered.append(_one(seen, group, subject))
        else:
            gathered += group
    return gathered


def _whose(seen: Seen, records: Records, each: Suspicion) -> str:
    """Return the file or the crew a suspicion may be gathered by, "" when it may not."""
    return _subject_of(seen, records, each.code)(each.rows[0])


def _subject_of(seen: Seen, records: Records, code: str) -> Callable[[int], str]:
    if code in _BY_FILE:
        return lambda row: _file_of(seen, row)
    if code in _BY_CREW:
        return lambda row: _crew_of(seen, records, row)
    return lambda _row: ""


def _file_of(seen: Seen, row: int) -> str:
    files = seen.files_of.get(row, ())
    return file_subject(files[0]) if len(files) == 1 else ""


def _crew_of(seen: Seen, records: Records, row: int) -> str:
    crew = records.crew((seen.line(row).name, seen.number(row)), "framed")
    return f"crew {crew}" if crew else ""


def _able(seen: Seen, records: Records, group: list[Suspicion], subject: str) -> int:
    """Count the structures with a verdict that belong to the same file or crew and could show the fault."""
    rows = np.flatnonzero(np.isfinite(seen.checks.along))
    if group[0].code == "square to one tangent":
        rows = rows[np.abs(seen.figures.deflection_deg[rows]) > 0.0]
    whose = _subject_of(seen, records, group[0].code)
    return sum(whose(row) == subject for row in rows.tolist())


def _one(seen: Seen, group: list[Suspicion], subject: str) -> Suspicion:
    rows = tuple(sorted(row for each in group for row in each.rows))
    where = f"{counted(len(rows), 'structure')} of one {'crew' if subject.startswith('crew') else 'survey'}"
    first = min(group, key=lambda each: each.rows)
    return replace(
        first,
        subject=subject,
        rows=rows,
        words=f"{first.code} at {where}: {listed(seen.numbers(rows))}",
        evidence=tuple(f"{each.subject}: {each.words}" for each in group[:5]),
    )
