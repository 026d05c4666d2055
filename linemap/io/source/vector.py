"""Vector files (GeoJSON, GeoPackage, shapefile, KML): attributes as cells, geometry in its own reference."""

from __future__ import annotations

import math
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath

import numpy as np
import pyogrio
import pyogrio.raw
import shapely
from numpy.typing import NDArray

from linemap.domain.design.structure import ObjectArray
from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, Problem, Severity
from linemap.io.cells.header import fitting_kinds, likely_kinds
from linemap.io.cells.meaning import Match, match_headings
from linemap.io.cells.table import KINDS, Cell, RawTable
from linemap.io.source.vector_memory import geopackage, in_memory

_refused = InputRefused.of_file

_ALL_KINDS: dict[str, tuple[Kind, ...]] = {
    "point": ("structures", "centreline", "shots", "context", "control"),
    "line": ("centreline", "context"),
    "area": ("context",),
    "mixed": ("context",),
    "none": KINDS,
}
_SHAPES = {0: "point", 1: "line", 2: "line", 3: "area", 4: "point", 5: "line", 6: "area"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layer:
    crs: str
    fields: tuple[str, ...]
    rows: list[tuple[Cell, ...]]
    geometry: ObjectArray | None
    warned: tuple[str, ...]


def read_vector(parts: Mapping[str, bytes], name: str, *, kind: Kind | None) -> tuple[RawTable, ...]:
    """Read every layer of a vector file, given by its parts, the file itself last. Rows are features, from 1.

    Raises
    ------
    InputRefused
        If the library cannot open the file, or it holds no layer with features.
    """
    suffix = list(parts)[-1]
    if suffix == ".gpkg":
        parts = {suffix: geopackage(parts[suffix], name)}
    with in_memory(parts, suffix) as path:
        try:
            layers = [(title, _layer(path, title, name)) for title in _titles(path)]
        except MemoryError:
            raise
        except Exception as error:  # the libraries raise what their own mistakes raise, UnboundLocalError too
            # the rest tells how other formats would be asked for
            words = _named(error, path, name).partition(" It might help")[0]
            raise _refused(name, f"the file cannot be opened: {words}", "export it again") from None
    filled = [(title, layer) for title, layer in layers if layer.rows]
    if not filled:
        raise _refused(name, "the file holds no features", "export the layer that is meant")
    only = len(filled) == 1
    return tuple(_table(layer, name, "" if only else title, kind) for title, layer in filled)


def _named(said: object, path: str, name: str) -> str:
    """Return what the library says, in one line, with the file's own name for where it lies in memory."""
    inside, own = PurePath(path), PurePath(name)
    return " ".join(str(said).replace(path, name).replace(str(inside.with_suffix("")), own.stem).split())


def _titles(path: str) -> list[str]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return [str(title) for title in pyogrio.list_layers(path)[:, 0]]


def _layer(path: str, title: str, name: str) -> _Layer:
    # Dates in GeoJSON are only a guess of the library's; structure numbers must stay text.
    options = {"DATE_AS_STRING": "YES"} if path.endswith("json") else {}
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        meta, _, wkb, columns = pyogrio.raw.read(path, layer=title, datetime_as_string=True, **options)
        geometry = None if wkb is None or meta["geometry_type"] is None else shapely.from_wkb(wkb)
    return _Layer(
        crs=meta["crs"] or "",
        fields=tuple(str(field) for field in meta["fields"]),
        rows=_rows(columns, 0 if geometry is None else len(geometry)),
        geometry=geometry,
        warned=tuple(sorted({_named(warning.message, path, name) for warning in caught})),
    )


def _rows(columns: Sequence[NDArray[np.generic]], size: int) -> list[tuple[Cell, ...]]:
    if not len(columns):
        return [()] * size
    return list(zip(*([_cell(value) for value in column.tolist()] for column in columns), strict=True))


def _cell(value: object) -> Cell:
    """Turn nan into a blank: that is how the library gives a number that is missing in the file."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return None
    if isinstance(value, list | np.ndarray):
        return "; ".join(str(item) for item in value)
    return value if isinstance(value, str | int | float | bool) else str(value)


def _shape(geometry: ObjectArray | None) -> str:
    if geometry is None:
        return "none"
    types = set(shapely.get_type_id(geometry[~shapely.is_missing(geometry)]).tolist())
    shapes = {_SHAPES.get(code, "mixed") for code in types}
    return shapes.pop() if len(shapes) == 1 else "mixed" if shapes else "none"


def _kinds(layer: _Layer, kind: Kind | None) -> tuple[Kind, ...]:
    shape = _shape(layer.geometry)
    extra = {} if layer.geometry is None else {"geometry": Match(index=-1, heading="geometry")}
    asked = _ALL_KINDS[shape] if kind is None else (kind,)
    fits, _ = fitting_kinds(layer.fields, kinds=asked, extra=extra)
    if kind is not None:
        return (kind,) if fits or kind == "context" else ()
    if shape == "line" and fits == ("centreline",) and layer.fields:
        # A named line may as well be a road: only a column that names the line tells.
        return fits if "line" in match_headings(layer.fields, "centreline") else ("centreline", "context")
    if shape == "point" and layer.fields:
        return likely_kinds(layer.fields, fits)
    return ("context",) if shape == "area" and not fits else fits


def _table(layer: _Layer, name: str, sheet: str, kind: Kind | None) -> RawTable:
    kinds = _kinds(layer, kind)
    table = RawTable(
        file=name,
        sheet=sheet,
        kinds=kinds,
        headers=layer.fields,
        header_row=0,
        rows=layer.rows,
        row_numbers=range(1, len(layer.rows) + 1),
        crs=layer.crs,
        geometry=layer.geometry,
    )
    notes = (Problem(file=name, reason=words, severity=Severity.NOTED) for words in layer.warned)
    return replace(table, problems=tuple(notes))
