"""Files in, one result table out: the whole computation without a job."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

import numpy as np

from linemap.domain.design.compute_figures import figures, mean_factor
from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Centreline, Line, PoleASide, StationEquation
from linemap.domain.design.structure import FloatArray, Structures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.ledger import Ledger
from linemap.domain.kind.kind import Code as Kind
from linemap.domain.survey.orientation import check
from linemap.domain.survey.review import review
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.errors import InputRefused, Problem
from linemap.geometry.projection import Projection
from linemap.geometry.span import weight_spans
from linemap.geometry.station import Stationing
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.centreline import read_centrelines
from linemap.io.design.rows import read_rows
from linemap.io.design.structures import read_structures
from linemap.io.output.write import OUTPUT_SUFFIXES, write_table
from linemap.io.source.read import read_source
from linemap.io.survey.shots import read_shot_order, read_shots
from linemap.kinds.registry import EQUATIONS, TOLERANCES
from linemap.service.job.declared import (
    AUTO,
    read_catenary,
    read_factor,
    read_pole_a,
    read_start_station,
)
from linemap.service.view.columns import result_columns, result_points

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class ComputeRequest:
    """What to compute. Texts as given by a person."""

    centreline: Path
    structures: Path
    crs: str
    #: Result; its suffix says the format.
    out: Path
    shots: tuple[Path, ...] = ()
    equations: Path | None = None
    tolerances: Path | None = None
    start_station: str = "0+00"
    #: A number, "auto" (from grid scale and elevations), or "" = not declared.
    combined_factor: str = ""
    pole_a: str = "left"
    shot_order: str = "pnezd"
    #: Like "4500 ft: sag table 3"; "" = not declared, and there is no weight span.
    catenary_constant: str = ""
    #: Shots dated after this day are not used; None = all are.
    as_of_date: dt.date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Computed:
    """What was computed and said."""

    structure_count: int
    ledger: Ledger
    #: Rows left out or noted while reading.
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Files:
    """Reads the files of one request and gathers what was wrong with their rows."""

    request: ComputeRequest
    projection: Projection
    pole_a: PoleASide
    problems: list[Problem] = field(default_factory=list)

    @property
    def line_default(self) -> str:
        """Name of the line when no file names one: the centreline file's own name."""
        return self.request.centreline.stem

    def centrelines(self) -> dict[str, Centreline]:
        table = _table(self.request.centreline, "centreline")
        return self._take(read_centrelines(table, projection=self.projection, line_default=self.line_default))

    def structures(self) -> Structures:
        table = _table(self.request.structures, "structures")
        return self._take(
            read_structures(
                table, projection=self.projection, line_default=self.line_default, pole_a=self.pole_a
            )
        )

    def equations(self) -> Sequence[StationEquation]:
        if self.request.equations is None:
            return ()
        table = _table(self.request.equations, "equations")
        return self._take(
            read_rows(table, EQUATIONS, unit=self.projection.unit, line_default=self.line_default)
        )

    def shots(self) -> list[Shot]:
        """Return the shots of all files, without those dated after the day asked for."""
        order, last = read_shot_order(self.request.shot_order), self.request.as_of_date
        shots: list[Shot] = []
        for path in self.request.shots:
            loaded = read_shots(_table(path, "shots"), projection=self.projection, order=order)
            self.problems.extend(loaded.problems)
            shots.extend(loaded.value)
        if last is None:
            return shots
        return [shot for shot in shots if not shot.observed_on or shot.observed_on <= last.isoformat()]

    def tolerances(self) -> Tolerances:
        path = self.request.tolerances
        if path is None:
            return Tolerances.default(self.projection.unit)
        unit = self.projection.unit
        entries = self._take(read_rows(_table(path, "tolerances"), TOLERANCES, unit=unit))
        return Tolerances.from_entries(entries, unit, file=path.name)

    def _take(self, loaded: Loaded[T]) -> T:
        self.problems.extend(loaded.problems)
        return loaded.value


def compute(request: ComputeRequest) -> Computed:
    """Read the files, compute everything, write the result; nothing is written when any of it is refused."""
    _check_suffix(request.out)
    projection = Projection.from_text(request.crs)
    files = _Files(request=request, projection=projection, pole_a=read_pole_a(request.pole_a))
    start = read_start_station(request.start_station)
    centrelines = files.centrelines()
    equations = _for_lines(files.equations(), centrelines, files)
    shots = files.shots()
    structures = _named_after(files.structures(), centrelines, files.line_default)
    structures = _with_third_poles(structures, shots)
    factors = _factors(request.combined_factor, structures, centrelines, projection)
    lines = [
        _line(files, name, centreline, factor=factors[name], start=start, equations=equations.get(name, ()))
        for name, centreline in centrelines.items()
    ]
    tolerances = files.tolerances()
    computed = figures(lines, structures, projection=projection)
    set_poles = cluster_poles(shots, computed, default_sigma=tolerances.shot_sigma)
    checks = check(computed, set_poles, tolerances)
    ledger = Ledger(computed.keys, (*review(computed), *set_poles.findings, *checks.findings))
    weight_span = _weight_spans(request.catenary_constant, computed, projection)
    write_table(
        result_columns(computed, set_poles, checks, ledger, weight_span=weight_span),
        request.out,
        points=result_points(computed, projection),
        length_note=f"lengths are horizontal ground lengths, unit {projection.unit.word}",
    )
    return Computed(structure_count=len(computed), ledger=ledger, problems=tuple(files.problems))


def _weight_spans(text: str, computed: Figures, projection: Projection) -> FloatArray | None:
    """Return the weight spans by the ground elevations at the centres; None = no constant is declared."""
    if not text.strip():
        return None
    constant = read_catenary(text, unit=projection.unit).constant
    return weight_spans(computed.back_span, computed.ahead_span, computed.structures.elevation, constant)


def _table(path: Path, kind: Kind) -> RawTable:
    return read_source(path, kind=kind).table(kind)


def _check_suffix(out: Path) -> None:
    if out.suffix.lower() not in OUTPUT_SUFFIXES:
        raise InputRefused.at(
            "--out",
            str(out),
            "the suffix says no format linemap writes",
            f"use one of {' '.join(OUTPUT_SUFFIXES)}",
        )


def _named_after(structures: Structures, centrelines: Mapping[str, Centreline], default: str) -> Structures:
    """Give structures that name no line the only line there is, in the spelling of the centreline."""
    if len(centrelines) != 1:
        return structures
    (only,) = centrelines
    names = {default.casefold(), only.casefold(), ""}
    unnamed = np.array([name.casefold() in names for name in structures.line], dtype=np.bool_)
    one_name = len(set(structures.line)) == 1
    line = structures.line.copy()
    line[unnamed | (one_name and only == default)] = only
    return replace(structures, line=line)


def _for_lines(
    equations: Sequence[StationEquation],
    centrelines: Mapping[str, Centreline],
    files: _Files,
) -> dict[str, list[tuple[float, float]]]:
    """Give equations the names of their centrelines; those of a line that is not there are refused."""
    known = {name.casefold(): name for name in centrelines}
    if len(centrelines) == 1:
        known[files.line_default.casefold()] = next(iter(centrelines))
    found: dict[str, list[tuple[float, float]]] = {}
    for each in equations:
        if each.line.casefold() not in known:
            raise InputRefused.at(
                "line",
                each.line,
                "station equations name a line that has no centreline",
                "name one of: " + ", ".join(centrelines),
                file=files.request.equations.name if files.request.equations is not None else "",
            )
        found.setdefault(known[each.line.casefold()], []).append((each.back, each.ahead))
    return found


def _with_third_poles(structures: Structures, shots: Sequence[Shot]) -> Structures:
    """Take a structure with a surveyed pole C for a three-pole one, where its list gives no pole count."""
    third = {shot.structure for shot in shots if shot.pole == "C"}
    if not third:
        return structures
    count = np.where(np.isin(structures.number.astype(str), list(third)), 3, structures.pole_count)
    return replace(structures, pole_count=count)


def _factors(
    text: str, structures: Structures, centrelines: Mapping[str, Centreline], projection: Projection
) -> dict[str, float | None]:
    """Return the combined factor of each line; None = not declared."""
    if text.strip().casefold() != AUTO:
        return dict.fromkeys(centrelines, read_factor(text))
    found = {name: mean_factor(name, structures, projection) for name in centrelines}
    for name, factor in found.items():
        if factor is None:
            raise InputRefused.at(
                "--combined-factor",
                AUTO,
                f"needs the ground elevation of structures, and line {name} has none",
                "add an elevation column, or give the factor as a number",
                file=structures.source_file,
            )
    return found


def _line(
    files: _Files,
    name: str,
    centreline: Centreline,
    *,
    factor: float | None,
    start: float,
    equations: Sequence[tuple[float, float]],
) -> Line:
    try:
        stationing = Stationing.from_pairs(start, equations)
    except ValueError as error:
        raise InputRefused.at(
            "",
            name,
            str(error),
            "list the equations in order along the line, with the start station they count from",
            file=files.request.equations.name if files.request.equations is not None else "",
        ) from None
    return Line(
        name=name,
        crs=files.projection.text,
        unit=files.projection.unit,
        centreline=centreline,
        combined_factor=1.0 if factor is None else factor,
        combined_factor_declared=factor is not None,
        stationing=stationing,
        pole_a=files.pole_a,
    )
