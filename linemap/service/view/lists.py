"""Lists as their fields are declared: at a structure for panel, phone and paper, and whole for programs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from enum import Enum
from functools import cache
from itertools import chain
from typing import Any
from weakref import WeakKeyDictionary

from shapely import Geometry, to_geojson
from sqlalchemy import Connection

from linemap.answers.lists import ListAnswer, ListedField, ListedRecord, ListField, StateOfList, Value
from linemap.domain.crew.reach import Coverage
from linemap.domain.kind.compare import name_of, text_of
from linemap.domain.kind.kind import Code, Column, Kind, Place, columns_of
from linemap.errors import NotFound
from linemap.kinds.registry import KINDS
from linemap.service.view.view import JobView
from linemap.store.lists import ListState, load_list
from linemap.units import LengthUnit

#: Line and number of a structure -> the records that concern it.
_Finder = Callable[[str, str], Sequence[Any]]
_FINDERS: WeakKeyDictionary[JobView, dict[Code, _Finder]] = WeakKeyDictionary()


@cache
def _columns_in(kind: Kind[Any], place: Place) -> tuple[Column, ...]:
    return tuple(column for column in columns_of(kind) if place in column.cell.on)


def lists_at(view: JobView, row: int, place: Place) -> list[ListedRecord]:
    """Return what lists say of one structure in a place, by the fields declared to be shown there."""
    key, unit = view.key(row), view.figures.line_of(row).unit
    found = (
        _listed(kind, columns, record, unit)
        for kind in KINDS.values()
        if (columns := _columns_in(kind, place))
        for record in _finder(view, kind)(*key)
    )
    return [each for each in found if each.fields]


def words_of_lists(records: Iterable[ListedRecord]) -> tuple[str, ...]:
    """Return a line of text for each record, for paper: "ticket LT-45: renewed by contractor"."""
    return tuple(
        f"{record.name}: {', '.join(f'{each.label} {each.text}' for each in record.fields)}"
        for record in records
    )


def stored_list(
    connection: Connection, code: Code, states: Iterable[ListState], *, state: int | None
) -> Sequence[Any] | None:
    """Return the records of a list as one of its states had them, with everything in them.

    None = of the current state, which a view has as its reader may see it. `NotFound` = it never had that
    state.
    """
    if state is not None and state not in {each.id for each in states}:
        raise NotFound(f"{code} have no state {state}; their states are in the list as it stands")
    if state is None and code not in _WORKED_OUT:
        return None
    return load_list(connection, KINDS[code], state=state)


def list_answer(
    view: JobView, code: Code, states: Iterable[ListState], records: Sequence[Any] | None = None
) -> ListAnswer:
    """Return a whole list with every field and every state there was.

    `records` are those of `stored_list`; None = those of the view, as its reader may see them.
    """
    kind = KINDS[code]
    records = records_of(view, kind) if records is None else records
    columns = columns_of(kind)
    unit = view.figures.lines[0].unit.symbol
    return ListAnswer(
        data_version=view.data_version,
        kind=code,
        noun=kind.noun,
        fields=[
            ListField(
                name=column.name,
                label=column.label,
                type=_TYPES.get(column.type, "text"),
                unit=unit if column.cell.unit == "ground" else column.cell.unit,
            )
            for column in columns
        ],
        rows=[[_value(getattr(record, column.name)) for column in columns] for record in records],
        states=[
            StateOfList(
                id=state.id,
                part=state.part,
                source_file=state.source_file,
                label=state.label,
                loaded_at=state.loaded_at.isoformat(timespec="seconds"),
                current=state.is_current,
            )
            for state in states
        ],
    )


#: Kinds that a view holds by structure -> the field that does.
_GATHERED: Mapping[Code, str] = {"facts": "facts_by_structure", "poles": "poles_by_structure"}
#: Kinds that a view holds as what they come to, or not by line; nothing in them is kept from anybody.
_WORKED_OUT: frozenset[Code] = frozenset({"types", "framing", "plan", "equations", "tolerances"})
_TYPES: Mapping[type[Any], str] = {
    bool: "yes or no",
    int: "count",
    float: "number",
    date: "day",
    tuple: "texts",
}


def lists_of_view() -> list[tuple[str, Kind[Any]]]:
    """Return the declared lists with the field of a view that holds each."""
    return [(_GATHERED.get(code, code), kind) for code, kind in KINDS.items() if code not in _WORKED_OUT]


def records_of(view: JobView, kind: Kind[Any]) -> Sequence[Any]:
    """Return the records of a list in a view."""
    found = getattr(view, _GATHERED.get(kind.code, kind.code))
    return tuple(chain.from_iterable(found.values())) if kind.code in _GATHERED else found


def _finder(view: JobView, kind: Kind[Any]) -> _Finder:
    """Return what gives the records that concern a structure, made once for each view."""
    known = _FINDERS.setdefault(view, {})
    if kind.code not in known:
        known[kind.code] = _made_finder(kind, records_of(view, kind))
    return known[kind.code]


def _made_finder(kind: Kind[Any], records: Sequence[Any]) -> _Finder:
    place = next(column for column in columns_of(kind) if column.way in {"reach", "structure"})
    if place.way == "reach":
        return Coverage(records).at
    by_number: dict[str, list[Any]] = {}
    for record in records:
        by_number.setdefault(getattr(record, place.name), []).append(record)
    return lambda line, number: [each for each in by_number.get(number, ()) if each.line in {"", line}]


def _listed(kind: Kind[Any], columns: Iterable[Column], record: Any, unit: LengthUnit) -> ListedRecord:
    return ListedRecord(
        kind=kind.code,
        name=name_of(kind, record, placed=False),
        fields=[
            ListedField(label=column.label, text=text)
            for column in columns
            if (text := text_of(column, getattr(record, column.name), unit))
        ],
    )


def _value(value: Any) -> Value:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Enum):
        return value.name.casefold().replace("_", " ")
    if isinstance(value, Geometry):
        return str(to_geojson(value))
    if isinstance(value, Mapping):
        return [f"{name}: {text}" for name, text in value.items()]
    found: Value = list(map(str, value)) if isinstance(value, tuple) else value
    return found
