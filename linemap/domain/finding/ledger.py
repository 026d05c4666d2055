"""The one ledger of findings: whatever judges writes into it, whatever shows reads from it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import replace
from functools import cached_property
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from linemap.domain.finding.code import Asks, Severity
from linemap.domain.finding.finding import Block, Finding, Found
from linemap.domain.finding.phrase import Called

Surface = Literal[
    "list",
    "map",
    "panel",
    "card",
    "top",
    "answer",
    "check",
    "survey",
    "exceptions",
    "red marks",
    "report",
    "export",
]
_Key = tuple[str, str]
#: What is kept of the record as a column: the highest severity a surface shows, or how many findings.
_Column = Surface | Literal["count"]
_Rule = Callable[[Severity, Asks], bool]
_Asked = Callable[[_Key], Sequence[Finding]]


def _everything(_severity: Severity, _asks: Asks) -> bool:
    return True


def _in_question(severity: Severity, _asks: Asks) -> bool:
    return severity >= Severity.UNSURE


def _of_work(severity: Severity, asks: Asks) -> bool:
    return severity >= Severity.UNSURE or asks != "office"


def _of_surveyor(severity: Severity, asks: Asks) -> bool:
    return severity >= Severity.WRONG or asks == "surveyor"


#: What findings weigh that are judged only when somebody looks, and who is asked.
_ASKED: tuple[Severity, Asks] = (Severity.NOTE, "crew")
#: Surface -> what it shows, by how much a finding matters and who is asked. No code is named here: a new one
#: is on every surface that its severity is meant for.
SURFACES: Mapping[Surface, _Rule] = MappingProxyType(
    {
        "list": _in_question,
        "map": _in_question,
        "panel": _of_work,
        "card": _of_work,
        "top": lambda severity, asks: (
            severity >= Severity.STOPS or (severity >= Severity.UNSURE and asks == "crew")
        ),
        "answer": _in_question,
        "check": _of_surveyor,
        "survey": _of_surveyor,
        "exceptions": lambda severity, asks: (
            severity >= Severity.WRONG or (severity >= Severity.UNSURE and asks == "surveyor")
        ),
        "red marks": lambda severity, asks: severity >= Severity.UNSURE and asks == "surveyor",
        "report": lambda severity, asks: severity >= Severity.UNSURE and asks == "crew",
        "export": _everything,
    }
)


class Ledger:
    """Row of a structure -> what was found there, in the order of writing. Never changes.

    Findings come as columns where many structures are judged at once; objects and sentences are made for
    the rows somebody looks at.

    Parameters
    ----------
    keys : callable
        Gives (line, structure) of each row; asked for only when something is looked at.
    found : iterable of Block or Finding
        In the order they are to be told. Findings of lines, and of structures that are in no list, stand
        apart: no row shows them.
    recorded : mapping of (line, structure) to findings
        What the record of the field says, told after the others; `with_recorded` brings it up to date.
    asked : callable
        Gives what is judged only when a structure is looked at, told last: notes for the crew, nothing else.
        Surfaces without such notes never ask, and `counts` leaves them out.
    calls : callable
        Gives what the owner calls the poles of a structure.
    """

    def __init__(
        self,
        keys: Callable[[], Sequence[_Key]],
        found: Iterable[Found],
        recorded: Mapping[_Key, Sequence[Finding]] = MappingProxyType({}),
        asked: _Asked | None = None,
        calls: Callable[[_Key], Called] | None = None,
    ) -> None:
        self._places = _Places(keys)
        self._found = [*found]
        self._index(
            [each.rows if isinstance(each, Block) else self._places.row(each) for each in self._found]
        )
        self.recorded, self._asked, self._calls = recorded, asked, calls
        self._columns: dict[_Column, NDArray[np.int64]] = {}
        self._change: Callable[[str], str] | None = None

    def _index(self, rows: Sequence[NDArray[np.int64]]) -> None:
        row = np.concatenate(rows) if rows else np.zeros(0, dtype=np.int64)
        order = np.argsort(row, kind="stable")
        counts = [len(each) for each in rows]
        source = np.repeat(np.arange(len(rows)), counts)[order]
        begin = np.repeat(np.cumsum([0, *counts[:-1]]) if counts else np.zeros(0, dtype=np.int64), counts)
        place = (np.arange(len(row)) - begin)[order]
        placed = int(np.searchsorted(row[order], 0))
        self._nowhere = [*zip(source[:placed].tolist(), place[:placed].tolist(), strict=True)]
        self._row, self._source, self._place = row[order][placed:], source[placed:], place[placed:]

    def at(self, row: int, *, judged: bool = True) -> list[Finding]:
        """Return what was found at a row, in the order of writing; what is judged only then, if `judged`."""
        first, last = np.searchsorted(self._row, (row, row + 1)).tolist()
        entries = zip(self._source[first:last].tolist(), self._place[first:last].tolist(), strict=True)
        key = self._places.keys[row]
        found = [self._made(source, place, key) for source, place in entries]
        asked = () if self._asked is None or not judged else self._asked(key)
        return self._as_read([*found, *self.recorded.get(key, ()), *asked])

    def recorded_at(self, key: _Key) -> list[Finding]:
        """Return what the record of the field says of a structure: all that new records change."""
        return self._as_read([*self.recorded.get(key, ())])

    def _made(self, source: int, place: int, key: _Key) -> Finding:
        found = self._found[source]
        return found if isinstance(found, Finding) else found.at(place, *key)

    def _as_read(self, found: list[Finding]) -> list[Finding]:
        change, calls = self._change, self._calls
        if calls is not None:
            found = [replace(each, called=calls((each.line, each.structure))) for each in found]
        return found if change is None else [each.reworded(change) for each in found]

    def __iter__(self) -> Iterator[int]:
        """Go through the rows with findings, in line order."""
        return iter(sorted({*np.unique(self._row).tolist(), *self._recorded_rows(), *self._asked_rows()}))

    def _recorded_rows(self) -> dict[int, Sequence[Finding]]:
        places = self._places.row_of if self.recorded else {}
        return {places[key]: found for key, found in self.recorded.items() if key in places}

    def _recorded_column(self, name: _Column) -> NDArray[np.int64]:
        """Return the highest severity a surface shows of each row's record, or how many findings it has."""
        column = self._columns.get(name)
        if column is None:
            column = np.zeros(len(self._places.keys), dtype=np.int64)
            for row, found in self._recorded_rows().items():
                column[row] = _weighed(name, found)
            self._columns[name] = column
        return column

    def _asked_rows(self) -> list[int]:
        asked = self._asked
        return [] if asked is None else [row for row, key in enumerate(self._places.keys) if asked(key)]

    def everything(self) -> Iterator[Finding]:
        """Yield every finding: those of lines and of structures in no list first, then in line order."""
        yield from self._beside()
        for row in self:
            yield from self.at(row)

    def beside(self, surface: Surface) -> list[Finding]:
        """Return what a surface shows that no row has: of lines, files, and structures in no list."""
        shows = SURFACES[surface]
        return [each for each in self._beside() if shows(each.severity, each.asks)]

    def _beside(self) -> list[Finding]:
        places = self._places.row_of if self.recorded else {}
        unlisted = [each for key, found in self.recorded.items() if key not in places for each in found]
        nowhere = [self._made(source, place, ("", "")) for source, place in self._nowhere]
        return self._as_read([*nowhere, *unlisted])

    def without(self, codes: Collection[str]) -> Ledger:
        """Return the ledger without what was written of some codes, for readers whom they do not concern."""
        found = (each for each in self._found if each.code not in codes)
        rest = Ledger(lambda: self._places.keys, found, self.recorded, self._asked, self._calls)
        rest._change = self._change
        return rest

    def on(self, surface: Surface, row: int) -> list[Finding]:
        """Return what a surface shows of a row, in the order of writing."""
        shows = SURFACES[surface]
        there = self.at(row, judged=shows(*_ASKED))
        return [each for each in there if shows(each.severity, each.asks)]

    def rows_on(self, surface: Surface) -> NDArray[np.int64]:
        """Return the rows of which a surface shows anything, in line order; no object is made for others."""
        shows = SURFACES[surface]
        rows = self._row[self._shown(surface)[self._source]]
        recorded = np.flatnonzero(self._recorded_column(surface))
        asked = self._asked_rows() if shows(*_ASKED) else []
        return np.unique(np.concatenate([rows, recorded, np.array(asked, dtype=np.int64)]))

    def worst(self, surface: Surface) -> NDArray[np.int8]:
        """Return the highest severity a surface shows of each row, 0 = nothing; no object is made."""
        shows = SURFACES[surface]
        severity = np.array([int(each.severity) for each in self._found], dtype=np.int8)
        severity[~self._shown(surface)] = 0
        worst = np.zeros(len(self._places.keys), dtype=np.int8)
        np.maximum.at(worst, self._row, severity[self._source])
        worst = np.maximum(worst, self._recorded_column(surface).astype(np.int8))
        if shows(*_ASKED):
            asked = self._asked_rows()
            worst[asked] = np.maximum(worst[asked], int(_ASKED[0]))
        return worst

    def counts(self) -> NDArray[np.int64]:
        """Return how many findings a panel shows of each row, those judged when it is looked at left out."""
        rows = self._row[self._shown("panel")[self._source]]
        return np.bincount(rows, minlength=len(self._places.keys)) + self._recorded_column("count")

    def _shown(self, surface: Surface) -> NDArray[np.bool_]:
        """Say of each thing written whether a surface shows it."""
        shows = SURFACES[surface]
        return np.array([shows(each.severity, each.asks) for each in self._found], dtype=np.bool_)

    def with_recorded(
        self, fresh: Mapping[_Key, Sequence[Finding]], asked: _Asked | None, *, touched: Collection[_Key]
    ) -> Ledger:
        """Return the ledger after new records: what they say at the structures touched, all else stays."""
        recorded = dict(self.recorded)
        for key in touched:
            recorded.pop(key, None)
        grown = copy(self)
        grown.recorded, grown._asked = {**recorded, **fresh}, asked
        grown._columns = {name: column.copy() for name, column in [*self._columns.items()]}
        rows = {key: self._places.row_of[key] for key in touched if key in self._places.row_of}
        for name, column in grown._columns.items():
            for key, row in rows.items():
                column[row] = _weighed(name, fresh.get(key, ()))
        return grown

    def redacted(self, change: Callable[[str], str]) -> Ledger:
        """Return the ledger for readers who may not see all words; texts are changed when they are read.

        The values are changed, never the sentence: its own words are ours, and a name inside a sentence
        cannot be found for sure.
        """
        before = self._change
        redacted = copy(self)
        redacted._change = change if before is None else lambda text: change(before(text))
        return redacted


class _Places:
    """The rows by their structures and the other way round, each made when it is first asked for."""

    def __init__(self, make: Callable[[], Sequence[_Key]]) -> None:
        self._make = make

    @cached_property
    def keys(self) -> Sequence[_Key]:
        """Line and structure of each row."""
        return self._make()

    @cached_property
    def row_of(self) -> dict[_Key, int]:
        """Row of each structure."""
        return {key: row for row, key in enumerate(self.keys)}

    def row(self, found: Finding) -> NDArray[np.int64]:
        """Return the row a finding is about; -1 when it is about a line, or a structure in no list."""
        row = self.row_of.get((found.line, found.structure), -1) if found.structure else -1
        return np.array([row], dtype=np.int64)


def _weighed(name: _Column, found: Sequence[Finding]) -> int:
    shows = SURFACES["panel" if name == "count" else name]
    shown = [int(each.severity) for each in found if shows(each.severity, each.asks)]
    return len(shown) if name == "count" else max(shown, default=0)
