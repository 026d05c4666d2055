"""Whatever stands in a file: one clean refusal, or every row used or listed."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import Loaded, RawTable
from linemap.io.design.centreline import read_centrelines
from linemap.io.design.poles import read_poles
from linemap.io.design.rows import read_rows
from linemap.io.design.structures import read_structures
from linemap.io.design.surroundings import read_context
from linemap.io.records.records import read_records
from linemap.io.source.read import read_source
from linemap.io.survey.shots import read_shots
from linemap.kinds.registry import (
    CONTROL,
    CROSSINGS,
    EQUATIONS,
    FACTS,
    FRAMING,
    GUYS,
    HOLDS,
    PUNCH,
    RECEIPTS,
    TICKETS,
    TOLERANCES,
    TYPES,
)
from linemap.units import LengthUnit

Reader = Callable[[RawTable, Projection], Loaded[Any]]
FOOT = LengthUnit.FOOT
NOW = datetime(2026, 5, 15, tzinfo=UTC)

HOLD_HEADS = "Hold,Activities,Structures,From date,To date,Reason,Restricted"
TYPE_HEADS = "Type,Words,Poles,Spacing,Arm rule,Blocks,Weight"
READERS: Mapping[Kind, tuple[str, Reader]] = {
    "structures": (
        "Line,Str,Station,Northing,Easting,Longitude,Latitude,Type,Poles,Spacing (ft),Arm rule,Azimuth,"
        "Section break,Remarks",
        lambda table, crs: read_structures(table, projection=crs),
    ),
    "centreline": ("Line,PI,N,E,Remarks", lambda table, crs: read_centrelines(table, projection=crs)),
    "shots": ("P,N,E,Z,D,HRMS,Date", lambda table, crs: read_shots(table, projection=crs)),
    "poles": ("Str,Pole,Length,Class,Size,Ground El,Remarks", lambda t, _: read_poles(t, unit=FOOT)),
    "records": (
        "Structure,Pole,Step,Date,Time,Result,Crew,Id",
        lambda t, _: read_records(t, received_at=NOW),
    ),
    "holds": (HOLD_HEADS, lambda t, _: read_rows(t, HOLDS)),
    "crossings": ("What,Station,True,Span,kV,Energized", lambda t, _: read_rows(t, CROSSINGS, unit=FOOT)),
    "tickets": ("Ticket,Structures,Anchors,Valid from,Expires,Life", lambda t, _: read_rows(t, TICKETS)),
    "receipts": ("Item,Structure,Ordered,Received,Damaged,Due", lambda t, _: read_rows(t, RECEIPTS)),
    "punch": (
        "Punch No,Str,Description,Opened,Closed,Evidence,Reopened,Due",
        lambda t, _: read_rows(t, PUNCH),
    ),
    "facts": (
        "Str,What,Pole,Pointed by,Length (ft),Class,Face,Looking,Side,Left,Right,Arm length,Seen by,Date",
        lambda t, _: read_rows(t, FACTS, unit=FOOT),
    ),
    "guys": (
        "Structure,Guy,Direction,Side,Pole,Lead (ft),Attachment Height (ft),Lead:Height,Azimuth",
        lambda t, _: read_rows(t, GUYS),
    ),
    "equations": ("Line,Back,Ahead", lambda t, _: read_rows(t, EQUATIONS)),
    "control": (
        "Control Point,N,E,Elev,Sigma,Datum,Source",
        lambda t, crs: read_rows(t, CONTROL, projection=crs),
    ),
    "context": ("Layer,Name,Lon,Lat,Restricted", lambda t, crs: read_context(t, projection=crs)),
    "tolerances": ("Name,Value,Unit,Source", lambda t, _: read_rows(t, TOLERANCES, unit=FOOT)),
    "types": (TYPE_HEADS, lambda t, _: read_rows(t, TYPES, unit=FOOT)),
    "framing": ("Type,Dimension,Value,Unit,Drawing", lambda t, _: read_rows(t, FRAMING, unit=FOOT)),
}

CELLS = st.sampled_from(
    (
        "|| |1/1|1/2|12/3A|2-Jan|47|900000|2250000|900,499.4|2250948.7m|nan|inf|1e400|#REF!|"
        "-108.37717|46.71312|H-TAN|DELETED|TOTAL 4|118+40|470+00 BK|A|B|both|70-2|2|3|12.5|75'|"
        "square|azimuth|yes|maybe|framed|set|lunch|2026-05-13|5/6/2026|13/5/2026|07:30|all|"
        "11/4-11/6|230 kV|ft|deg|rotation|Str|Northing|=1+1|'x|\u00e9\u00df|1 2|" + "x" * 300
    ).split("|")
)


def check(loaded: Loaded[Any], table: RawTable) -> None:
    left_out = loaded.rows_left_out
    assert loaded.rows_in == loaded.rows_used + len(left_out)
    assert loaded.rows_used > 0 or not loaded.value
    assert loaded.rows_in == len(table.rows) + sum(p.severity is Severity.LEFT_OUT for p in table.problems)
    assert all(problem.severity is not Severity.REFUSED for problem in loaded.problems)


@pytest.mark.parametrize("kind", READERS)
@given(data=st.data())
@settings(max_examples=examples(40), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_rows_in_are_rows_used_and_rows_listed(
    tmp_path: Path, montana: Projection, kind: Kind, data: st.DataObject
) -> None:
    heads, reader = READERS[kind]
    width = heads.count(",") + 1
    rows = data.draw(st.lists(st.lists(CELLS, max_size=width + 1), max_size=6))
    titles = data.draw(st.sampled_from(["", "LIST OF THINGS\n", "A,B,C\n\n"]))
    path = tmp_path / "list.csv"
    text = titles + heads + "\n" + "".join(",".join(f'"{cell}"' for cell in row) + "\n" for row in rows)
    path.write_text(text, encoding="utf-8")
    with contextlib.suppress(InputRefused):
        table = read_source(path, kind=kind).tables[0]
        check(reader(table, montana), table)


@given(content=st.one_of(st.binary(max_size=300), st.text(max_size=200).map(str.encode)))
@settings(max_examples=examples(60), suppress_health_check=[HealthCheck.function_scoped_fixture])
@pytest.mark.parametrize("suffix", [".csv", ".json", ".kml", ".xlsx"])
def test_any_bytes_are_read_or_refused(tmp_path: Path, suffix: str, content: bytes) -> None:
    path = tmp_path / f"list{suffix}"
    path.write_bytes(content)
    with contextlib.suppress(InputRefused):
        assert read_source(path).tables


@given(lines=st.lists(st.text(st.sampled_from("0123456789.,;\"\t |+-eE'ABSTR/nan"), max_size=60), max_size=8))
@settings(max_examples=examples(80), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_files_without_headings_never_lose_a_row(
    tmp_path: Path, montana: Projection, lines: list[str]
) -> None:
    path = tmp_path / "shots.txt"
    path.write_text("5001,911423.70,2273378.01,3952.66,STR 5/5 A\n" + "\n".join(lines), encoding="utf-8")
    with contextlib.suppress(InputRefused):
        table = read_source(path, kind="shots").tables[0]
        check(read_shots(table, projection=montana), table)
