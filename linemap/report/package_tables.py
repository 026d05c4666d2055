"""The tables of the as-set package: their columns, the same in the workbook and on paper."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from linemap.report.package import Package
from linemap.report.red_marks import MarkedPole, MarkedStructure


@dataclass(frozen=True, slots=True)
class Col:
    """One column of the workbook: its heading, what it says of a row's item, and how it is printed."""

    heading: str
    of: str | Callable[[Any], str]
    #: True for a number, which a workbook holds as one.
    number: bool = False
    wide: float = 14.0

    def text(self, item: object) -> str:
        """Return what it says of an item."""
        return str(getattr(item, self.of)) if isinstance(self.of, str) else self.of(item)


@dataclass(frozen=True, slots=True, kw_only=True)
class PoleRow:
    """One pole with its structure."""

    structure: MarkedStructure
    pole: MarkedPole


def _at(name: str) -> Callable[[Any], str]:
    return lambda row: str(getattr(row.structure, name))


def _of(name: str) -> Callable[[Any], str]:
    return lambda row: str(getattr(row.pole, name))


def pole_columns(unit: str) -> tuple[Col, ...]:
    """Return the columns of the poles: design, observed, correction, corrected, differences, heights."""
    grid = f"grid {unit}"
    return (
        Col("line", _at("line"), wide=24),
        Col("structure", _at("number"), wide=10),
        Col("station", _at("station")),
        Col("verdict", _at("verdict")),
        Col("held", _at("held"), wide=34),
        Col("pole", _of("letter"), wide=7),
        *(
            Col(f"{words} {axis} ({grid})", _of(f"{name}_{axis_name}"), number=True, wide=wide)
            for words, name, wide in (
                ("design", "design", 13),
                ("observed", "observed", 13),
                ("correction", "correction", 11),
                ("corrected", "set", 13),
            )
            for axis, axis_name in (("N", "north"), ("E", "east"))
        ),
        Col(f"ahead of design ({unit})", _of("ahead"), number=True, wide=9),
        Col(f"right of design ({unit})", _of("right"), number=True, wide=9),
        Col(f"sigma per axis ({unit})", _of("sigma"), number=True, wide=9),
        Col(f"elevation ({unit})", _of("elevation"), number=True, wide=11),
        Col(f"listed ground elevation ({unit})", _of("design_elevation"), number=True, wide=11),
        Col("measured", _of("measured"), wide=20),
        Col("surveyed on", _at("surveyed_on")),
        Col("files and rows", _at("source"), wide=40),
    )


def check_in_columns(unit: str) -> tuple[Col, ...]:
    """Return the columns of the check-ins."""
    return (
        Col("file and day", "session", wide=24),
        Col("control point", "control", wide=11),
        Col("datum", "datum", wide=18),
        Col(f"known N (grid {unit})", "known_north", number=True, wide=16),
        Col(f"known E (grid {unit})", "known_east", number=True, wide=17),
        Col(f"known elevation ({unit})", "known_elevation", number=True, wide=13),
        Col("shot", "shot", wide=28),
        Col("found by", "how", wide=11),
        Col(f"observed N off ({unit})", "observed_north", number=True, wide=18),
        Col(f"observed E off ({unit})", "observed_east", number=True, wide=18),
        Col(f"corrected N off ({unit})", "north", number=True, wide=13),
        Col(f"corrected E off ({unit})", "east", number=True, wide=13),
        Col(f"up ({unit})", "up", number=True, wide=11),
        Col(f"sigma per axis ({unit})", "sigma", number=True, wide=10),
        Col("fits", "fits", wide=7),
    )


def package_tables(package: Package) -> Iterable[tuple[str, tuple[Col, ...], Sequence[object]]]:
    """Give the tables of the package: name, columns, items."""
    sheet, unit = package.sheet, package.sheet.unit
    poles = [PoleRow(structure=each, pole=pole) for each in sheet.structures for pole in each.poles]
    passes = [row for row in poles if (row.structure.line, row.structure.number) in package.passes]
    others = [row for row in poles if (row.structure.line, row.structure.number) not in package.passes]
    yield (
        "surveys by file and day",
        (
            Col("file and day", "words", wide=38),
            Col("instrument", "instrument", wide=34),
            Col("crew", "crew", wide=30),
            Col("method", "method", wide=44),
            Col("pole shots", "pole_shots", number=True),
            Col("held", "held", wide=50),
        ),
        package.sessions,
    )
    yield "check-ins, measured minus known", check_in_columns(unit), package.check_ins
    yield "passes held by control", pole_columns(unit), passes
    yield "other structures", pole_columns(unit), others
    yield (
        "not among the passes",
        (
            Col("line", "line", wide=24),
            Col("structure", "structure"),
            Col("verdict", "verdict"),
            Col("reason", "reason", wide=90),
        ),
        package.apart,
    )
    yield (
        "anchors",
        (
            Col("line", "line", wide=24),
            Col("structure", "structure"),
            Col("guy", "guy"),
            Col("verdict", "verdict"),
            Col(f"required lead ({unit})", "wanted_lead", number=True),
            Col(f"measured lead ({unit})", "lead", number=True),
            Col("direction off (deg)", "direction", number=True),
            Col("in words", "words", wide=80),
        ),
        package.anchors,
    )
    yield (
        "findings and decisions",
        (
            Col("line", "line", wide=24),
            Col("structure", "number"),
            Col("verdict", "verdict"),
            Col("findings", lambda each: "; ".join(each.findings), wide=70),
            Col("likely cause", "cause", wide=60),
            Col("decision", "decision", wide=40),
            Col("decided by", "decided_by", wide=26),
        ),
        [each for each in sheet.structures if each.findings or each.cause or each.decision],
    )
    yield (
        "shots",
        (
            Col("line", "line", wide=24),
            Col("structure", "structure"),
            Col("pole", "pole", wide=7),
            Col("point", "point"),
            Col(f"observed N (grid {unit})", "north", number=True),
            Col(f"observed E (grid {unit})", "east", number=True),
            Col(f"elevation ({unit})", "elevation", number=True),
            Col(f"corrected N (grid {unit})", "corrected_north", number=True),
            Col(f"corrected E (grid {unit})", "corrected_east", number=True),
            Col(f"sigma per axis ({unit})", "sigma", number=True),
            Col("observed on", "observed_on"),
            Col("file", "file", wide=30),
            Col("row", "row", number=True, wide=7),
            Col("description", "description", wide=26),
            Col("decided", "decided", wide=50),
        ),
        sheet.shots,
    )
    yield (
        "source files",
        (
            Col("file", "name", wide=34),
            Col("read as", "kind"),
            Col("size (bytes)", "size", number=True),
            Col("loaded", "loaded", wide=24),
            Col("SHA-256", "sha256", wide=70),
        ),
        package.files,
    )
