"""Files in, one result table out: the whole computation without a job."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from linemap.domain.causes.session_verdict import Solution
from linemap.domain.design.compute_figures import figures, mean_factor
from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Centreline, Line, PoleASide, StationEquation
from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.design.structure import FloatArray, Structures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.ledger import Ledger
from linemap.domain.kind.kind import Code as Kind
from linemap.domain.survey.orientation import check
from linemap.domain.survey.part_shots import part_findings
from linemap.domain.survey.pattern import Pattern
from linemap.domain.survey.review import review
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.unread import unread_findings
from linemap.errors import InputRefused, Problem
from linemap.geometry.projection import Projection
from linemap.geometry.span import weight_spans
from linemap.geometry.station import Stationing
from linemap.io.cells.table import Loaded
from linemap.io.design.centreline import read_centrelines
from linemap.io.design.rows import read_rows
from linemap.io.design.structures import read_structures
from linemap.io.output.write import OUTPUT_SUFFIXES, write_table
from linemap.io.source.read import call_of, read_source
from linemap.io.source.sandbox import Call, call_all
from linemap.io.survey.shots import read_shot_order, read_shots
from linemap.kinds.registry import KINDS
from linemap.service.job.declared import AUTO, read_catenary, read_factor, read_pole_a, read_start_station
from linemap.service.job.naming import naming_of
from linemap.service.view.columns import result_columns, result_points
from linemap.service.view.misplaced import beside_line


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
    #: How the crew describes shots in its own way, each as a text that `Pattern.parse` reads.
    patterns: tuple[str, ...] = ()
    #: Like "4500 ft: sag table 3"; "" = not declared, and there is no weight span.
    catenary_constant: str = ""
    #: Shots dated after this day are not used; None = all are.
    as_of_date: dt.date | None = None

    @property
    def line_default(self) -> str:
        """Name of the line when no file names one: the centreline file's own name."""
        return self.centreline.stem

    def name_of(self, kind: Kind) -> str:
        """Return the name of the file of a list; "" = none is given."""
        path: Path | None = getattr(self, kind)
        return path.name if path is not None else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Computed:
    """What was computed and said."""

    structure_count: int
    ledger: Ledger
    #: Rows left out or noted while reading.
    problems: tuple[Problem, ...]


def _read(
    request: ComputeRequest, projection: Projection, pole_a: PoleASide
) -> dict[tuple[Kind, Path], Loaded[Any] | InputRefused]:
    """Read the files of a request in child processes; the shots by the numbers of the list."""
    lists: Mapping[Kind, Path | None] = {
        name: getattr(request, name) for name in ("centreline", "structures", "equations", "tolerances")
    }
    shots: list[tuple[Kind, Path]] = [("shots", path) for path in request.shots]

    def read(named: Iterable[tuple[Kind, Path]], naming: Naming) -> dict[tuple[Kind, Path], Any]:
        loaded = partial(_loaded, (request, projection, pole_a), naming)
        calls: dict[tuple[Kind, Path], Call[Any]] = {
            (kind, path): call_of(path, partial(loaded, kind, path.absolute())) for kind, path in named
        }
        return dict(zip(calls, call_all([*calls.values()]), strict=True))

    found = read(((kind, path) for kind, path in lists.items() if path), UNNAMED)
    listed = found["structures", request.structures]
    naming = UNNAMED if isinstance(listed, InputRefused) else naming_of(listed.value)
    return found | read(shots, naming)


def _loaded(
    said: tuple[ComputeRequest, Projection, PoleASide], naming: Naming, kind: Kind, path: Path
) -> Loaded[Any]:
    request, projection, pole_a = said
    table, line = read_source(path, kind=kind).table(kind), request.line_default
    if kind == "centreline":
        return read_centrelines(table, projection=projection, line_default=line)
    if kind == "structures":
        return read_structures(table, projection=projection, line_default=line, pole_a=pole_a)
    if kind == "shots":
        order = read_shot_order(request.shot_order)
        patterns = [_pattern(text) for text in request.patterns]
        return read_shots(table, projection=projection, order=order, naming=naming, patterns=patterns)
    return read_rows(table, KINDS[kind], unit=projection.unit, line_default=line)


def _pattern(text: str) -> Pattern:
    try:
        return Pattern.parse(text)
    except ValueError as error:
        raise InputRefused.at("--pattern", text, str(error), "like BRK <structure> N<pole> = top") from None


def compute(request: ComputeRequest) -> Computed:
    """Read the files, compute everything, write the result; nothing is written when any of it is refused."""
    _check_suffix(request.out)
    projection = Projection.from_text(request.crs)
    read = _read(request, projection, read_pole_a(request.pole_a))
    start = read_start_station(request.start_station)
    problems: list[Problem] = []

    def take(kind: Kind, path: Path | None) -> Any:
        if path is None:
            return ()
        loaded = read[kind, path]
        if isinstance(loaded, InputRefused):
            raise loaded
        problems.extend([*loaded.problems, *(each.as_problem(path.name) for each in loaded.unread)])
        return loaded.value

    centrelines: dict[str, Centreline] = take("centreline", request.centreline)
    equations = _for_lines(take("equations", request.equations), centrelines, request)
    last = request.as_of_date.isoformat() if request.as_of_date else "9999"
    shots: list[Shot] = [
        shot for path in request.shots for shot in take("shots", path) if shot.observed_on <= last
    ]
    structures = _named_after(take("structures", request.structures), centrelines, request.line_default)
    structures = _with_third_poles(structures, shots)
    factors = _factors(request.combined_factor, structures, centrelines, projection)
    lines = [
        _line(
            request,
            projection,
            name,
            centreline,
            factor=factors[name],
            start=start,
            equations=equations.get(name, ()),
        )
        for name, centreline in centrelines.items()
    ]
    limits = take("tolerances", request.tolerances)
    tolerances = Tolerances.from_entries(limits, projection.unit, file=request.name_of("tolerances"))
    computed = figures(lines, structures, projection=projection)
    listed = read["structures", request.structures]
    if isinstance(listed, Loaded):
        problems.extend(beside_line(computed, listed, request.structures.name, projection))
    set_poles = cluster_poles(shots, computed, default_sigma=tolerances.shot_sigma)
    observed = check(computed, set_poles, tolerances)
    checks = Solution.of(shots, computed, tolerances, observed=observed).judge(observed)
    unread = unread_findings(shots, naming_of(structures), computed.only_line)
    parts = part_findings(computed, set_poles, shots, tolerances)
    found = (*review(computed), *unread, *set_poles.findings, *parts, *checks.findings)
    ledger = Ledger(computed.keys, found)
    weight_span = _weight_spans(request.catenary_constant, computed, projection)
    write_table(
        result_columns(computed, set_poles, checks, ledger, weight_span=weight_span),
        request.out,
        points=result_points(computed, projection),
        length_note=f"lengths are horizontal ground lengths, unit {projection.unit.word}",
    )
    return Computed(structure_count=len(computed), ledger=ledger, problems=tuple(problems))


def _weight_spans(text: str, computed: Figures, projection: Projection) -> FloatArray | None:
    """Return the weight spans by the ground elevations at the centres; None = no constant is declared."""
    if not text.strip():
        return None
    constant = read_catenary(text, unit=projection.unit).constant
    return weight_spans(computed.back_span, computed.ahead_span, computed.structures.elevation, constant)


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
    equations: Sequence[StationEquation], centrelines: Mapping[str, Centreline], request: ComputeRequest
) -> dict[str, list[tuple[float, float]]]:
    """Give equations the names of their centrelines; those of a line that is not there are refused."""
    known = {name.casefold(): name for name in centrelines}
    if len(centrelines) == 1:
        known[request.line_default.casefold()] = next(iter(centrelines))
    found: dict[str, list[tuple[float, float]]] = {}
    for each in equations:
        if each.line.casefold() not in known:
            raise InputRefused.at(
                "line",
                each.line,
                "station equations name a line that has no centreline",
                "name one of: " + ", ".join(centrelines),
                file=request.name_of("equations"),
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
            reason = f"needs the ground elevation of structures, and line {name} has none"
            remedy = "add an elevation column, or give the factor as a number"
            raise InputRefused.at("--combined-factor", AUTO, reason, remedy, file=structures.source_file)
    return found


def _line(
    request: ComputeRequest,
    projection: Projection,
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
        remedy = "list the equations in order along the line, with the start station they count from"
        raise InputRefused.at("", name, str(error), remedy, file=request.name_of("equations")) from None
    return Line(
        name=name,
        crs=projection.text,
        unit=projection.unit,
        centreline=centreline,
        combined_factor=1.0 if factor is None else factor,
        combined_factor_declared=factor is not None,
        stationing=stationing,
        pole_a=read_pole_a(request.pole_a),
    )
