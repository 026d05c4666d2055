"""A kind is taken from what names it, never from two columns of numbers; what may be two things is asked."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from linemap.domain.design.naming import ListedNumbers
from linemap.domain.kind.kind import Code as Kind
from linemap.errors import InputRefused
from linemap.io.cells.shape import Answers
from linemap.io.source.read import read_source, recognise
from linemap.io.survey.shots import read_shots

Save = Callable[..., Path]
FOUR = "1;354632,33;5607123,44;102,33;A\n2;354732,33;5607223,44;103,33;A\n3;354832,33;5607323,44;104,33;A\n"
POINTS = (
    '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{%s},'
    '"geometry":{"type":"Point","coordinates":[-110.0,45.0]}}]}'
)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("PI,X,Y\nPOB,1,2\nPOE,3,4\n", "centreline"),
        ("Pkt,X,Y,Back Bearing\n1,1,2,\n", "centreline"),
        ("Line,X,Y\nNorth,1,2\nNorth,3,4\n", "centreline"),
        ("Sta,X,Y\n0+00,1,2\n1+00,3,4\n", "centreline"),
        ("Str,X,Y\n1/1,1,2\n", "structures"),
        ("Mast,X,Y,Type,Structure\nM1,1,2,H,1/1\n", "structures"),
        ("Point,X,Y,Z,Desc\n1,1,2,3,STR 1/1 A\n", "shots"),
        ("1,900000.1,2250000.2,4021.1,STR 1/1 A\n", "shots"),
        ("Shots of 13 May,,,\n1,1.1,2.2,4.1,STR 1/1 A\n2,1.1,2.2,4.1,STR 1/1 B\n", "shots"),
    ],
)
def test_what_names_a_kind_is_enough(save: Save, text: str, kind: Kind) -> None:
    assert recognise(read_source(save("list.csv", text)).tables[0]) == kind


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        (
            "mast.csv",
            "Mast,X,Y\n1,1,2\n2,3,4\n",
            'centreline or structures or shots; "Mast" is not understood',
        ),
        ("xy.csv", "X,Y\n1,2\n3,4\n", "centreline or structures or shots"),
        ("mast.csv", "Mast,Station,Angle,X,Y\n1,0+00,,1,2\n", '"Mast" is not understood'),
        ("name.csv", "Name,X,Y\n1,1,2\n", "may be structures or centreline"),
        ("bare.csv", "1,900000,2250000,4021\n2,900010,2250000,4022\n", "shots or structures or centreline"),
        ("points.geojson", POINTS % '"species":"oak"', '"species" is not understood'),
    ],
)
def test_what_may_be_two_things_is_asked(save: Save, name: str, text: str, words: str) -> None:
    with pytest.raises(InputRefused) as refused:
        recognise(read_source(save(name, text)).tables[0])
    (problem,) = refused.value.problems
    assert words in problem.reason
    assert "say it with --as KIND, one of" in problem.remedy


@pytest.mark.parametrize("kind", [None, "shots"])
def test_headings_that_are_not_understood_are_never_data(save: Save, kind: Kind | None) -> None:
    path = save("masts.csv", "Mast-Nr.;Rechtswert;Hochwert;Hoehe;Typ\n" + FOUR)
    with pytest.raises(
        InputRefused, match="row 1 looks like headings, and they are not understood"
    ) as refused:
        read_source(path, kind=kind)
    assert refused.value.problems[0].value == "Mast-Nr. Rechtswert Hochwert Hoehe Typ"


def test_a_person_says_what_the_columns_are(save: Save, utm: Any) -> None:
    path = save("masts.csv", "Mast-Nr.;Rechtswert;Hochwert;Hoehe;Typ\n" + FOUR)
    said: dict[str, str | int] = {"easting": "Rechtswert", "northing": "Hochwert", "description": "Mast-Nr."}
    table = read_source(path, answers=Answers(kind="shots", fields=said)).table("shots")
    shots = read_shots(table, projection=utm).value
    assert [(shot.easting, shot.northing) for shot in shots[:1]] == [(354632.33, 5607123.44)]


def test_structure_numbers_of_the_job_are_said_in_the_question(save: Save) -> None:
    text = "Mast,X,Y\n1/1,1,2\n1/2,3,4\nT-3,5,6\n1/4,5,6\n1/5,5,6\n"
    (table,) = read_source(save("masts.csv", text)).tables
    listed = ListedNumbers({"North": dict.fromkeys(("1/1", "1/2", "1/4", "1/5"), 2)})
    with pytest.raises(InputRefused) as refused:
        recognise(table, listed.meant)
    (problem,) = refused.value.problems
    assert problem.reason.endswith('"Mast" is not understood; "Mast" holds structure numbers of the job')
    assert problem.remedy.endswith('like --column "number=Mast"')
    with pytest.raises(InputRefused) as refused:
        recognise(table, ListedNumbers({"North": {"9/9": 2}}).meant)
    assert "of the job" not in refused.value.problems[0].reason


def test_a_sheet_that_surely_is_the_list_goes_before_one_that_may_be(workbook: Callable[..., Path]) -> None:
    rows = [["1/1", 2_250_000.5, 900_000.5], ["1/2", 2_250_900.5, 900_500.5]]
    path = workbook({"control": [["Mark", "X", "Y"], *rows], "list": [["Str", "X", "Y"], *rows]})
    source = read_source(path)
    assert source.kind == "structures"
    assert source.table("structures").sheet == "list"
