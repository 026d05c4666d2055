"""Lists as their fields are declared: at a structure for panel, phone and paper, and whole for programs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time
from enum import Enum
from functools import cache
from itertools import chain
from math import isnan
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from shapely import Geometry, to_geojson
from sqlalchemy import Connection

from linemap.answers.lists import ListAnswer, ListedField, ListedRecord, ListField, StateOfList, Value
from linemap.domain.crew.hold import Hold
from linemap.domain.crew.reach import Coverage
from linemap.domain.design.structure import Structures
from linemap.domain.kind.compare import in_words, name_of, text_of
from linemap.domain.kind.kind import Code, Column, Kind, Place, columns_of
from linemap.domain.kind.when import When
from linemap.domain.record.person import Audience
from linemap.geometry.frame import ArmRule
from linemap.kinds.registry import KINDS
from linemap.service.view.punch import punch_entries
from linemap.service.view.view import JobView
from linemap.store.lists import load_list
from linemap.store.states import list_states
from linemap.store.times import answering
from linemap.units import LengthUnit

#: Line and number of a structure -> the records that concern it.
Finder = Callable[[str, str], Sequence[Any]]
_FINDERS: WeakKeyDictionary[JobView, dict[Code, Finder]] = WeakKeyDictionary()


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
        for record in in_words(kind, finder_of(view, kind)(*key), view.naming.called)
    )
    return [each for each in found if each.fields]


def words_of_lists(records: Iterable[ListedRecord]) -> tuple[str, ...]:
    """Return a line of text for each record, for paper: "ticket LT-45: renewed by contractor"."""
    return tuple(
        f"{record.name}: {', '.join(f'{each.label} {each.text}' for each in record.fields)}"
        for record in records
    )


def revisions_in_force(connection: Connection, when: When) -> Mapping[str, str]:
    """Return, by line, the revisions of its lists in force; a list without a revision by its file."""
    found: dict[str, list[str]] = {}
    then = answering(connection, when)
    for each in list_states(connection):
        if each.is_current if then is None else each.id in then.in_force:
            words = f"{each.kind} {f'Rev {each.label}' if each.label else f'of {each.source_file}'}"
            found.setdefault(each.line, []).append(words)
    return {line: ", ".join(words) for line, words in found.items()}


def list_answer(
    view: JobView,
    kind: Kind[Any],
    records: Any,
    states: Sequence[StateOfList] = (),
    changes: Sequence[str] = (),
) -> ListAnswer:
    """Return a whole list with what its fields are.

    `records` are one each, or the columns of structures; `changes` are those of the state they are of.
    """
    unit = view.unit.symbol
    columns = columns_of(kind)
    records = records if isinstance(records, Structures) else tuple(records)
    return ListAnswer(
        data_version=view.data_version,
        when=view.when.words,
        kind=kind.code,
        noun=kind.noun,
        fields=[
            ListField(
                name=column.name,
                label=column.label,
                type=_TYPES.get(column.item if column.type is np.ndarray else column.type, "text"),
                unit=unit if column.cell.unit == "ground" else column.cell.unit,
            )
            for column in columns
        ],
        rows=_rows(columns, records),
        called=_called(view, columns, records),
        states=states,
        changes=changes,
    )


def as_it_stands(view: JobView, connection: Connection, kind: Kind[Any], *, audience: Audience) -> Any:
    """Return the records of a list as they stand, as a reader may see them: for `list_answer`."""
    if kind.code in _WORKED_OUT:
        return load_list(connection, kind, then=answering(connection, view.when))
    if kind.code == "records":
        events = chain.from_iterable(view.events_by_structure.values())
        # which device it was is the manager's to know, on pages too
        return events if audience is Audience.OWNER else (replace(each, device="") for each in events)
    if kind.code == "punch":
        return tuple(punch_entries(view))
    if kind.code == "shots":
        # others get the shots that pages show them: those of structures
        of_structures = [shot for key in view.row_of for shot in view.shots_by_structure.get(key, ())]
        return view.observed_shots if audience is Audience.OWNER else of_structures
    return records_of(view, kind)


def _rows(columns: Sequence[Column], records: Any) -> list[list[Value]]:
    if isinstance(records, Structures):
        arrays = [getattr(records, column.name).tolist() for column in columns]
        rules = [column.name for column in columns].index("rule")
        arrays[rules] = list(map(ArmRule, arrays[rules]))
        return [[_value(value) for value in row] for row in zip(*arrays, strict=True)]
    return [[_value(getattr(record, column.name)) for column in columns] for record in records]


def _called(view: JobView, columns: Sequence[Column], records: Any) -> dict[str, list[str]]:
    """Return what the owner calls the poles of records, by field; none where poles go by their letters."""
    only, words = view.figures.only_line, view.naming
    return {
        column.name: [
            words.called((each.line or only, each.structure)).get(getattr(each, column.name), "")
            for each in records
        ]
        for column in columns
        if column.way == "pole" and not words.poles.is_plain
    }


#: Kinds that a view holds by structure -> the field that does.
_GATHERED: Mapping[Code, str] = {"facts": "facts_by_structure", "poles": "poles_by_structure"}
#: Kinds that a view holds as what they come to, or not by line; nothing in them is kept from anybody.
_WORKED_OUT: frozenset[Code] = frozenset(
    {"types", "framing", "plan", "equations", "tolerances", "centreline"}
)
_TYPES: Mapping[type[Any] | None, str] = {
    **dict.fromkeys((bool, np.bool_), "yes or no"),
    **dict.fromkeys((int, np.int64), "count"),
    **dict.fromkeys((float, np.float64), "number"),
    date: "day",
    time: "time of day",
    datetime: "moment",
    tuple: "texts",
}


def lists_of_view() -> list[tuple[str, Kind[Any]]]:
    """Return the declared lists with the field of a view that holds each."""
    return [(_GATHERED.get(code, code), kind) for code, kind in KINDS.items() if code not in _WORKED_OUT]


def records_of(view: JobView, kind: Kind[Any]) -> Any:
    """Return the records of a list that a view holds: one each, or the columns of structures."""
    if kind.code == "structures":
        return view.figures.structures
    found = getattr(view, _GATHERED.get(kind.code, kind.code))
    return tuple(chain.from_iterable(found.values())) if kind.code in _GATHERED else found


def with_records(view: JobView, kind: Kind[Any], records: Any) -> JobView | None:
    """Return a view that holds other records of a list; None when views do not hold the list."""
    if kind.code == "structures":
        return replace(view, figures=replace(view.figures, structures=records))
    if kind.code in _WORKED_OUT:
        return None
    if kind.code in _GATHERED:
        return replace(view, **{_GATHERED[kind.code]: {("", ""): list(records)}})  # type: ignore[arg-type]
    return replace(view, **{kind.code: records})


def finder_of(view: JobView, kind: Kind[Any]) -> Finder:
    """Return what gives the records that concern a structure, made once for each view."""
    known = _FINDERS.setdefault(view, {})
    if kind.code not in known:
        known[kind.code] = _made_finder(kind, records_of(view, kind))
    return known[kind.code]


def _made_finder(kind: Kind[Any], records: Sequence[Any]) -> Finder:
    place = next(column for column in columns_of(kind) if column.way in {"reach", "structure"})
    if place.way == "reach":
        wire = (each for record in records if isinstance(record, Hold) for each in record.on_wire())
        return Coverage((*records, *wire)).at
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
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, float):
        return None if isnan(value) else value
    if isinstance(value, Enum):
        return value.name.casefold().replace("_", " ")
    if isinstance(value, Geometry):
        return str(to_geojson(value))
    if isinstance(value, Mapping):
        return [f"{name}: {text}" for name, text in value.items()]
    found: Value = list(map(str, value)) if isinstance(value, tuple) else value
    return found
