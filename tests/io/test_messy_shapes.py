"""The shapes lists come in: each is read right, or asked about in one clear sentence."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import Loaded
from linemap.io.source.read import read_source, recognise
from linemap.service.files.reading import ReaderContext, understand

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
HEAD = "Str,Station,Northing,Easting,Type,Angle,Poles,Ahead Span,Remarks\n"
ROWS = (
    "1/1,0+00,900000,2250000,TERM,,70-2,1073,\n"
    "1/2,10+73,900499.4,2250948.7,H-TAN,,70-2,835,\n"
    "1/3,19+08,900888.02,2251687.61,P3-SUS,,75-1 (3),1026,guys on bisector\n"
)
SHOTS = "5001,911423.70,2273378.01,3952.66,STR 5/5 A\n5002,911410.07,2273384.24,3953.30,STR 5/5 B\n"


@pytest.fixture
def read(save: Callable[..., Path], montana: Projection) -> Callable[..., tuple[Kind, Loaded[Any]]]:
    """Read a text as a file of a name, told by itself what it is."""
    context = ReaderContext(projection=montana, line_default="North", settings={})

    def loaded(content: str | bytes, name: str = "list.csv") -> tuple[Kind, Loaded[Any]]:
        source = read_source(save(name, content))
        kind = source.kind or recognise(source.tables[0])
        return kind, understand(source.table(kind), kind, context, now=NOW)

    return loaded


@pytest.mark.parametrize(
    ("text", "left_out"),
    [
        (HEAD + ROWS, 0),
        ("KETTLE,,,STRUCTURE LIST,,,REV B,,2026-02-09\n,,,,,,,,\n" + HEAD + ROWS, 1),
        (HEAD + ROWS[:41] + HEAD + ROWS[41:], 1),
        (HEAD + ROWS + "Sheet 3 of 7,,,,,,,,\n", 1),
        (HEAD + ROWS + ",,,,,,,,\n,,,,,MILE 6 SUBTOTAL,,4773,\nTOTAL 3 STR,,,,,,,,\n", 2),
        (HEAD + ROWS + "9/3,440+00,918000,2289000,DELETED,,,,\n", 1),
        (HEAD + ROWS + "Prepared by,,R. Calder,2026-02-09,,,,,\n", 1),
        (HEAD + ROWS.replace("10+73", "1073").replace("19+08", "19 + 08"), 0),
        (HEAD + ROWS.replace("19+08", "19+08.00 BK"), 0),
        (HEAD + ROWS.replace("1/2", "2-Jan").replace("1/3", "1/30"), 0),
        (HEAD + ROWS.replace("900000", '"900,000.00"').replace("2250000", '"2,250,000.00"'), 0),
        ("\ufeff" + HEAD + ROWS, 0),
        ((HEAD + ROWS).replace("\n", "\r\n"), 0),
        ((HEAD + ROWS).replace(",", "\t"), 0),
        ((HEAD + ROWS).replace(",", ";").replace("900499.4", "900499,4"), 0),
        (
            "Str,Station,Centre,,Structure,Line,Ground\nNo,,Northing,Easting,Type,Angle,Elev\n"
            + "".join(",".join(row.split(",")[:6]) + ",4021\n" for row in ROWS.splitlines()),
            0,
        ),
    ],
)
def test_a_structure_list_is_read(
    read: Callable[..., tuple[Kind, Loaded[Any]]], text: str, left_out: int
) -> None:
    kind, loaded = read(text)
    assert kind == "structures"
    assert loaded.value.easting.tolist() == pytest.approx([2_250_000.0, 2_250_948.7, 2_251_687.61])
    assert loaded.value.northing.tolist() == pytest.approx([900_000.0, 900_499.4, 900_888.02])
    assert len(loaded.rows_left_out) == left_out
    assert loaded.rows_in == loaded.rows_used + left_out


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_whatever_a_list_is_encoded_in(read: Callable[..., tuple[Kind, Loaded[Any]]], encoding: str) -> None:
    _, loaded = read((HEAD + ROWS.replace("guys", "señal")).encode(encoding))
    assert loaded.value.remarks[2] == "señal on bisector"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEAD + ROWS + "9/2,433+80.5,,,H-TRN,,80-1,1007,HOLD\n", "structure 9/2 has no coordinates"),
        (HEAD + ROWS + ROWS[:41], "structure 1/1 .*stands twice, in rows 2 and 5"),
        (HEAD + "1-Jan,,900000,2250000,,,,,\n2-Jan,,900499,2250949,,,,,\n", "it may be 1/2 or 2/1"),
        ("Str,N (ft),E (m)\n1/1,900000,685800\n", "eastings are in the metre and northings in the"),
        (
            "Str,Northing,Easting,Northing,Easting\n1/1,900000,2250000,900700,2251800\n",
            "columns 3 and 5 are both headed so and differ; say which is meant, like --column easting=5",
        ),
        ("Structure,Pole,Size\n1/1,A,70-2\n1/1,A,75-2\n", "pole A of 1/1 stands twice"),
        ("PI,N,E\nPOB,900000,2250000\nPOE,,\n", "vertex POE has no coordinates"),
        ("PI,N,E,Brg\nPOB,900000,2250000,N10E\n1,900100,2250100,\n2,,,N20E\n", "only a bearing"),
        ("Ticket,Structures,From,Expires\n1,1/1,5/1/2026,5/6/2026\n", "day and month can be read both ways"),
        ("Tract,Owner,Sta From,Special\n12,A,0+00,call\n", "no row of headings is understood"),
        ("5/13 Wed Heron, 6 men\nframed 13/1, 13/3 (3)\nLost 1.5 hr\n", "no row of headings is understood"),
    ],
)
def test_what_is_not_clear_is_asked_about_in_one_sentence(
    read: Callable[..., tuple[Kind, Loaded[Any]]], text: str, words: str
) -> None:
    with pytest.raises(InputRefused, match=words) as refused:
        read(text)
    assert all(problem.remedy for problem in refused.value.problems)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("1/4,29+34,901366,2252596,H-TAN,R3.2111,70-2,,\n", r"may be 3°21'11\" R \(packed\)"),
        ("1/4,29+34,901366.1,2252596.2,H-TAN,18-45-10 LT,70-2,,\n1/5,,901800.5,2253500.5,H,,,,\n", "apart"),
        ("1/4,29+34,46.72,-108.36,H-TAN,,70-2,,\n", "read as WGS 84, good to 1,821 ft"),
        (
            "1/4,,901366,2252596,,,,,\n1/5,,901800,2253500,,,,,\n"
            + "".join(f"2/{n},,90{n}000.5,225{n}000.5,,,,,\n" for n in range(5, 9)),
            r"rounded to whole units in 3 rows \(2, 5, 6\)",
        ),
    ],
)
def test_doubts_of_a_structure_list_are_noted(
    read: Callable[..., tuple[Kind, Loaded[Any]]], rows: str, words: str
) -> None:
    _, loaded = read(HEAD + ROWS + rows)
    noted = " ".join(str(each) for each in loaded.problems if each.severity is Severity.NOTED)
    assert re.search(words, noted)


def test_zero_among_real_elevations_is_none(read: Callable[..., tuple[Kind, Loaded[Any]]]) -> None:
    _, loaded = read(
        "Str,N,E,Ground El\n1/1,900000,2250000,0\n1/2,900499,2250949,4021\n1/3,900888,2251688,4030\n"
    )
    assert loaded.value.elevation.tolist()[1:] == [4021.0, 4030.0]
    assert loaded.value.elevation[0] != loaded.value.elevation[0]
    assert any("0 among real elevations" in each.reason for each in loaded.problems)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        (SHOTS, "day.txt"),
        (SHOTS.replace(",", "\t"), "day.txt"),
        (SHOTS.replace(",", " "), "day.asc"),
        (SHOTS.replace(",", ";").replace(".", ","), "day.csv"),
        ("\ufeff" + SHOTS, "day.csv"),
        (SHOTS.replace("\n", ",,,\n"), "day.csv"),
        (SHOTS.replace("STR 5/5 A", "str 5-5 a ; reshot"), "day.csv"),
        (SHOTS.replace("5002", "5001"), "day.csv"),
        ("Point,North,East,Elev,Code,Comment,HRMS\n" + SHOTS.replace("\n", ",ok,0.02\n"), "day.csv"),
        (SHOTS + "CHK1,899998.12,2249997.45,4021.33,CP-3 CHECK\n", "day.csv"),
        (SHOTS + "5022,914200,2276300,0,?\n", "day.csv"),
    ],
)
def test_a_point_file_is_read(read: Callable[..., tuple[Kind, Loaded[Any]]], text: str, name: str) -> None:
    kind, loaded = read(text, name)
    assert kind == "shots"
    first, second = loaded.value[:2]
    assert (first.easting, first.northing, first.elevation) == (2_273_378.01, 911_423.7, 3952.66)
    assert [(shot.structure, shot.pole) for shot in (first, second)] == [("5/5", "A"), ("5/5", "B")]
    assert all(shot.elevation is None or shot.elevation > 1.0 for shot in loaded.value)


def test_degrees_in_a_point_file_of_feet_are_left_out(read: Callable[..., tuple[Kind, Loaded[Any]]]) -> None:
    _, loaded = read(SHOTS + "5003,46.72,-108.36,3953.30,STR 5/6 A\n", "day.txt")
    assert loaded.rows_left_out == (3,)


def test_a_description_that_was_cut_names_no_pole(read: Callable[..., tuple[Kind, Loaded[Any]]]) -> None:
    _, loaded = read(SHOTS.replace("STR 5/5 A", "STRUCTURE 5/5 PO"), "day.txt")
    assert (loaded.value[0].structure, loaded.value[0].pole) == ("5/5", "")
    assert any("names structure 5/5 but no pole" in each.reason for each in loaded.problems)


@pytest.mark.parametrize(
    ("text", "sizes"),
    [
        ("Structure,Pole,Size\n1/1,A/B same,70-2\n", [("A", 70.0, "2"), ("B", 70.0, "2")]),
        ('Structure,Pole,Size\n1/1,A,70-2\n1/1,B,""""\n', [("A", 70.0, "2"), ("B", 70.0, "2")]),
        ("Structure,Pole,Size\n1/1,A,70-2\n,B,do.\n", [("A", 70.0, "2"), ("B", 70.0, "2")]),
        ("Structure,Pole,Size\n1/1,A,H1-75\n1/1,B,80' CL 1\n", [("A", 75.0, "H1"), ("B", 80.0, "1")]),
        ("Structure,Pole,Size\n1/1,A/B,75-2/70-2\n", [("A", 75.0, "2"), ("B", 70.0, "2")]),
        ("Structure,Pole,Length,Class\n1/1,A,75,2\n1/1,B,2,75\n", [("A", 75.0, "2"), ("B", 75.0, "2")]),
        ("Structure,Pole,Length,Class\n1/1,A,75',2\n1/1,B,22.86m,2\n", [("A", 75.0, "2"), ("B", 75.0, "2")]),
        (
            "Structure,Pole,Size\n1/1,A,70-2\n1/1,B,70-2\nTOTAL BY SIZE,,\n70-2,,131\n75-2,,41\n",
            [("A", 70.0, "2"), ("B", 70.0, "2")],
        ),
    ],
)
def test_a_pole_schedule_is_read(
    read: Callable[..., tuple[Kind, Loaded[Any]]], text: str, sizes: list[tuple[str, float, str]]
) -> None:
    kind, loaded = read(text)
    assert kind == "poles"
    found = [(each.letter, each.length_ft, each.pole_class) for each in loaded.value]
    assert [(letter, round(length, 6), of) for letter, length, of in found] == sizes
    assert {each.structure for each in loaded.value} == {"1/1"}


@pytest.mark.parametrize(
    "row",
    ["EQ,470+00.00 BK,473+84.50 AH,,,", "EQ 470+00 BK = 473+84.50 AH,,,,,", ",,,,,470+00 BK = 473+84.50 AH"],
)
def test_equation_rows_of_a_pi_list_are_equations(
    read: Callable[..., tuple[Kind, Loaded[Any]]], row: str
) -> None:
    text = "PI,Sta Bk,Sta Ah,N,E,Remarks\nPOB,,0+00,900000,2250000,\n" + row
    kind, loaded = read(text + "\nPOE,,,905510.59,2260468.98,\n")
    assert kind == "centreline"
    assert [(each.back, each.ahead) for each in loaded.value.equations] == [(47_000.0, 47_384.5)]
    assert len(loaded.value.centrelines["North"].easting) == 2
    assert loaded.rows_used == loaded.rows_in == 3
