"""Result tables of linemap as structure lists: what their rows say of the structures they are results of."""

from __future__ import annotations

from typing import Any

import numpy as np

from linemap.domain.design.structure import Structures
from linemap.domain.kind.kind import columns_in
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.meaning import parse_headings
from linemap.io.cells.table import RawTable

#: Headings that only such a table has, squeezed.
_ONLY = {"stationregion", "spandeflection", "gridscale", "probabilityintolerance"}
#: Columns of `Structures` that a result table gives as they were listed.
_GIVEN = {"line", "number", "easting", "northing", "spacing", "source_row"}
#: Numbers nearer than this are one that was written with fewer digits.
_SAME = 1e-5


def is_result_table(table: RawTable) -> bool:
    """Say whether a table is one that `compute` and `export` write."""
    return parse_headings(table.headers).keys() >= _ONLY


def listed_details(ledger: Ledger) -> dict[str, Any]:
    """Return what the results say of how structures were listed: three poles, and where sections end."""
    third = np.isfinite(ledger.sheet.numbers("pole_c").values)
    ruling = ledger.sheet.numbers("ruling_span").values
    before = np.concatenate([ruling[:1], ruling[:-1]])
    ends = (ruling != before) & ~(np.isnan(ruling) & np.isnan(before))
    return {"pole_count": np.where(third, 3, 2), "section_break": ends}


def completed(found: Structures, before: Structures) -> Structures:
    """Return the structures of a result table with what it does not say taken from the list there is.

    A structure that the list does not have stays as the table gives it. Coordinates and spacings that differ
    by less than their digits in some formats are those of the list.
    """
    rows = {
        (line.casefold(), number): row
        for row, (line, number) in enumerate(zip(before.line, before.number, strict=True))
    }
    keys = ((line.casefold(), number) for line, number in zip(found.line, found.number, strict=True))
    at = np.array([rows.get(key, -1) for key in keys], dtype=np.int64)
    known = at >= 0
    columns: dict[str, Any] = {}
    for column in columns_in(Structures):
        own, listed = getattr(found, column.name), getattr(before, column.name)
        if not known.any() or column.name in {"line", "number", "source_row"}:
            columns[column.name] = own
            continue
        there = listed[np.maximum(at, 0)]
        takes = known if column.name not in _GIVEN else known & (np.abs(own - there) < _SAME)
        columns[column.name] = np.where(takes, there, own)
    return Structures.from_columns(**columns, source_file=found.source_file)
