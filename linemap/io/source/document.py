"""JSON documents that are no map: settings such as tolerances, laid out as a table of name and value."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from linemap.errors import InputRefused, Problem
from linemap.io.cells.table import Cell, RawTable

__all__ = ["read_document"]

_HEADERS = ("name", "value", "unit", "source")


def read_document(data: bytes, name: str) -> RawTable | None:
    """Read a JSON object of names and values; None when the object is GeoJSON.

    A value is a number, or an object with "value", "unit" and "source". A bare number is in degrees when
    its name ends in "_deg", else in the ground unit of the line.

    Raises
    ------
    InputRefused
        If the bytes are no JSON or no object.
    """
    try:
        content = json.loads(data.decode("utf-8-sig"), parse_constant=str)
    except (ValueError, RecursionError) as error:
        raise _refused(name, f"the file is no JSON: {error}", "correct it, or export it again") from None
    if not isinstance(content, dict):
        raise _refused(name, "the JSON is no object of names and values", "write it as {name: value}")
    if isinstance(content.get("type"), str) and ({"features", "geometry", "coordinates"} & content.keys()):
        return None
    rows = [_row(key, value) for key, value in content.items()]
    return RawTable(
        file=name,
        kinds=("tolerances",),
        headers=_HEADERS,
        header_row=0,
        rows=rows,
        row_numbers=range(1, len(rows) + 1),
        encoding="utf-8",
    )


def _row(key: str, value: Any) -> tuple[Cell, ...]:
    if isinstance(value, Mapping):
        return (key, *(_cell(value.get(part)) for part in _HEADERS[1:]))
    return (key, _cell(value), "deg" if key.endswith("_deg") else "ground", None)


def _cell(value: Any) -> Cell:
    return value if value is None or isinstance(value, str | int | float | bool) else json.dumps(value)


def _refused(name: str, reason: str, remedy: str) -> InputRefused:
    return InputRefused(Problem(file=name, reason=reason, remedy=remedy))
