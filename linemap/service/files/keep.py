"""Put what a file means into the job: which table keeps which kind."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from sqlalchemy import Connection

from linemap.domain.design.line import StationEquation
from linemap.domain.design.structure import Pole, Structures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused
from linemap.io.design.pi_list import PiList
from linemap.kinds.registry import KINDS
from linemap.service.files.reading import Declared
from linemap.service.job.declared import read_factor, read_pole_a, read_start_station
from linemap.store.events import add_events
from linemap.store.lines import add_line, list_lines, save_centreline, save_equations
from linemap.store.lists import keep_list
from linemap.store.revisions import changes as recorded_changes
from linemap.store.structures import save_poles, save_structures
from linemap.store.survey import add_shots

#: Line name -> the revisions a file made of its lists.
Made = dict[str, list[int]]


class _Keeper:
    """Keeps the values of one file in an open transaction."""

    def __init__(
        self,
        connection: Connection,
        declared: Declared,
        *,
        file: tuple[int, str],
        label: str,
        now: dt.datetime,
    ) -> None:
        self.connection = connection
        self.declared = declared
        self.file_id, self.file_name = file
        self.label = label
        self.now = now
        #: What lists of lines changed that has no structure, in words.
        self.changes: list[str] = []
        self.line_ids = {line.name.casefold(): line.id for line in list_lines(connection)}

    def pi_list(self, pi_list: PiList) -> Made:
        centrelines = pi_list.centrelines
        made: Made = {}
        for name, centreline in centrelines.items():
            line_id = self.line_ids.get(name.casefold()) or self._add_line(name, only=len(centrelines) == 1)
            revision = save_centreline(
                self.connection, line_id, centreline, file_id=self.file_id, label=self.label, now=self.now
            )
            made[name] = [revision]
        self.equations(pi_list.equations)
        return made

    def equations(self, equations: Mapping[str, Sequence[tuple[float, float]]]) -> Made:
        for name, pairs in equations.items():
            changes = save_equations(
                self.connection,
                self._line_id(name),
                [StationEquation(line=name, back=back, ahead=ahead) for back, ahead in pairs],
                file_id=self.file_id,
                source_file=self.file_name,
                label=self.label,
                now=self.now,
            )
            self.changes += (change.words for change in changes)
        return {}

    def structures(self, structures: Structures) -> Made:
        return {
            name: [
                save_structures(
                    self.connection,
                    self._line_id(name),
                    structures.take(np.array(rows)),
                    file_id=self.file_id,
                    label=self.label,
                    now=self.now,
                )
            ]
            for name, rows in _rows_by_name(structures.line).items()
        }

    def poles(self, poles: Sequence[Pole]) -> Made:
        by_line: dict[str, list[Pole]] = {}
        for pole in poles:
            by_line.setdefault(pole.line, []).append(pole)
        return {
            name: [
                save_poles(
                    self.connection,
                    self._line_id(name),
                    mine,
                    file_id=self.file_id,
                    source_file=self.file_name,
                    label=self.label,
                    now=self.now,
                )
            ]
            for name, mine in by_line.items()
        }

    def _add_line(self, name: str, *, only: bool) -> int:
        settings = self.declared.settings
        made = add_line(
            self.connection,
            name=name,
            crs=self.declared.projection.text,
            back_end=str(settings.get("back_end", "")) if only else "",
            ahead_end=str(settings.get("ahead_end", "")) if only else "",
            combined_factor=read_factor(str(settings.get("combined_factor", ""))),
            start_station=read_start_station(str(settings.get("start_station", "0+00"))),
            pole_a=read_pole_a(str(settings.get("pole_a", "left"))),
        )
        self.line_ids[name.casefold()] = made
        return made

    def _line_id(self, name: str) -> int:
        if name.casefold() in self.line_ids:
            return self.line_ids[name.casefold()]
        raise InputRefused.at(
            "line",
            name,
            "names a line that has no centreline in the job",
            "load its centreline first, or together with this file",
            file=self.file_name,
        )


def _rows_by_name(names: Iterable[str]) -> Mapping[str, Sequence[int]]:
    rows: dict[str, list[int]] = {}
    for row, name in enumerate(names):
        rows.setdefault(name, []).append(row)
    return rows


def keep(
    connection: Connection,
    kind: Kind,
    value: Any,
    declared: Declared,
    *,
    file: tuple[int, str],
    label: str,
    now: dt.datetime,
) -> tuple[str, ...]:
    """Put what `understand` made of a file into the job; say in words what it changes against what was there.

    `file` is the identifier and name of the kept file, `label` that of the revision, "" = none.

    Raises
    ------
    InputRefused
        If a list names a line that has no centreline.
    Conflict
        If an event's identifier is taken by another event.
    """
    keeper = _Keeper(connection, declared, file=file, label=label, now=now)
    keepers: Mapping[Kind, Callable[[Any], object]] = {
        "centreline": keeper.pi_list,
        "equations": keeper.equations,
        "structures": keeper.structures,
        "poles": keeper.poles,
        "shots": lambda shots: add_shots(connection, shots, file_id=file[0]),
        "records": lambda events: add_events(connection, events, file_id=file[0]),
    }
    if kind == "tolerances":
        Tolerances.from_entries(value, declared.projection.unit, file=file[1])
    if kind not in keepers:
        changes = keep_list(
            connection,
            KINDS[kind],
            value,
            file_id=file[0],
            source_file=file[1],
            label=label,
            now=now,
            unit=declared.projection.unit,
        )
        return tuple(change.words for change in changes)
    made = keepers[kind](value)
    revisions = [revision for each in made.values() for revision in each] if isinstance(made, dict) else []
    return (
        *keeper.changes,
        *(
            f"{recorded.change.number} {recorded.change.words}"
            for recorded in recorded_changes(connection, revisions=revisions)
        ),
    )
