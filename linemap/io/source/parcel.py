"""Values on their way between processes: packed fast, and unpacked without calling anything.

Lists of a hundred thousand records go as columns, which takes a tenth of the time of one record after the
other.
"""

from __future__ import annotations

import gc
import io
import pickle
from collections import deque
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from datetime import datetime, timezone
from enum import Enum
from functools import cache
from itertools import repeat
from operator import attrgetter
from typing import Any, Final

#: Modules of linemap whose values may come back; nothing of theirs opens, writes or asks for anything.
_FLOORS: Final = tuple(f"linemap.{name}." for name in ("domain", "geometry", "io", "kinds"))
_MODULES: Final = {"linemap.errors", "linemap.units"}
#: What makes arrays, geometry and times of bytes.
_MAKERS: Final = {
    ("numpy", "ndarray"),
    ("numpy", "dtype"),
    ("numpy._core.multiarray", "_reconstruct"),
    ("numpy._core.multiarray", "scalar"),
    ("numpy._core.numeric", "_frombuffer"),
    ("shapely.io", "from_wkb"),
    ("datetime", "date"),
    ("datetime", "datetime"),
    ("datetime", "time"),
    ("datetime", "timedelta"),
    ("datetime", "timezone"),
    ("zoneinfo", "ZoneInfo._unpickle"),
    ("builtins", "range"),
    (__name__, "_made"),
    (__name__, "_rows"),
}
#: From how many records on a list goes as columns.
_MANY: Final = 16


def packed(value: Any) -> bytes:
    """Return a value as bytes for `unpacked`."""
    stream = io.BytesIO()
    with _uncollected():
        _Packer(stream, 5).dump(value)
    return stream.getvalue()


def unpacked(data: bytes, *, homes: Collection[str]) -> Any:
    """Return the value that was packed.

    Parameters
    ----------
    data : bytes
        From `packed`; nothing else about it is trusted.
    homes : collection of str
        Modules whose values may be among it, besides those of the lower floors.

    Raises
    ------
    pickle.UnpicklingError
        If it holds anything but plain values, arrays, geometry, times and values of linemap.
    """
    with _uncollected():
        return _Unpacker(io.BytesIO(data), homes).load()


@contextmanager
def _uncollected() -> Iterator[None]:
    """Collect no garbage meanwhile: nothing of it is, and looking takes as long as the work."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


class _Packer(pickle.Pickler):
    def reducer_override(self, value: Any) -> Any:
        kind = type(value)
        if not is_dataclass(kind):
            return NotImplemented
        names = _names(kind)
        return _made, (kind, tuple(_columns(getattr(value, name)) for name in names))


class _Columns:
    """Records of one class, as a list of each field."""

    def __init__(self, kind: type, records: Sequence[Any]) -> None:
        self._kind, self._tuple = kind, isinstance(records, tuple)
        self._columns = [_times(list(map(attrgetter(name), records))) for name in _names(kind)]

    def __reduce__(self) -> Any:
        return _rows, (self._kind, self._tuple, self._columns)


def _times(column: list[Any]) -> list[Any] | tuple[str, ...]:
    """Return moments as texts, which is ten times as fast; anything else as it is."""
    if set(map(type, column)) == {datetime} and {type(each.tzinfo) for each in column} == {timezone}:
        return tuple(map(datetime.isoformat, column))
    return column


class _Unpacker(pickle.Unpickler):
    def __init__(self, stream: io.BytesIO, homes: Collection[str]) -> None:
        super().__init__(stream)
        self._homes = homes

    def find_class(self, module: str, name: str) -> Any:
        ours = module in {*_MODULES, *self._homes} or module.startswith(_FLOORS)
        if (module, name) in _MAKERS:
            return super().find_class(module, name)
        found = super().find_class(module, name) if ours and "." not in name else None
        if isinstance(found, type) and (is_dataclass(found) or issubclass(found, Enum)):
            return found
        raise pickle.UnpicklingError(f"{module}.{name} is no value that is taken from a child process")


@cache
def _names(kind: type) -> tuple[str, ...]:
    return tuple(field.name for field in fields(kind))


def _columns(value: Any) -> Any:
    """Return a list of many records of one class as columns, and anything else as it is."""
    if type(value) not in {list, tuple} or len(value) < _MANY:
        return value
    kind = type(value[0])
    if not is_dataclass(kind) or set(map(type, value)) != {kind}:
        return value
    return _Columns(kind, value)


def _made(kind: type, values: Sequence[Any]) -> Any:
    """Make a value of its fields, as they were when it was packed."""
    made: Any = object.__new__(kind)
    for name, value in zip(_names(kind), values, strict=True):
        object.__setattr__(made, name, value)
    return made


def _rows(kind: type, is_tuple: bool, columns: Sequence[Sequence[Any]]) -> Sequence[Any]:
    """Make records of their columns."""
    new, put = object.__new__, object.__setattr__
    made: list[Any] = [new(kind) for _ in columns[0]]
    for name, column in zip(_names(kind), columns, strict=True):
        values = map(datetime.fromisoformat, column) if isinstance(column, tuple) else column
        deque(map(put, made, repeat(name), values), maxlen=0)
    return tuple(made) if is_tuple else made
