"""Shot descriptions in the manner of many hands, over lists numbered in many ways, with what each means.

Written before the reader was run on them: feature codes of highway crews, classes of clouds, field books,
metric crews, crews that mix in French or Spanish words. "asked" is what reads two ways or not at all. A
structure that no list has counts as not read: the shot is told as one of an unknown structure.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import pytest

from linemap.domain.design.naming import ListedNumbers, Naming
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.survey.description import parse_description

with Path(__file__).with_name("shot_descriptions.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))

RUN = [str(number) for number in range(1, 141)]
MILE = [f"{mile}/{number}" for mile in range(1, 24) for number in range(1, 9)]
LISTS = {
    "run": RUN,
    "run+": [*RUN, "45A", "77A", "77B"],
    "mile": MILE,
    "mile+": [*MILE, "12/3A", "14/2.5"],
    "letter": [*(f"T-{i}" for i in range(1, 61)), "T-45A", *(f"DE-{i}" for i in range(1, 5)), "END"],
    "zero": [f"{i:04d}" for i in range(1, 141)],
    "dot": [f"{i}.{k}" for i in range(1, 21) for k in range(1, 11)],
    "km": [f"K{i}-{k:02d}" for i in range(1, 15) for k in range(1, 11)],
    "kmslash": [f"{i}/{k:02d}" for i in range(10) for k in range(1, 13)],
    "hundreds": [str(i) for i in range(100, 181)],
    "axis": [*(f"AX-{i}" for i in range(1, 41)), "AX-12A", "BAY 1"],
    "rundec": [*RUN, "45.5", "12.1"],
    "rundash": [*RUN, "45-1", "45-2"],
    "section": [f"{section}{i}" for section in "AB" for i in range(1, 21)],
    "sheet": [f"{sheet}-{k}" for sheet in range(1, 21) for k in range(1, 13)],
    "big": [str(i) for i in range(1001, 1061)],
    "someplus": [*RUN[:26], "44", "45", "45A", "46", "47", "48"],
    "somemile": [f"{mile}/{number}" for mile in (11, 12, 13) for number in range(1, 7)][:-1],
    "k0": [*(f"K12-0{i}" for i in range(1, 6)), *(f"K13-0{i}" for i in range(1, 5))],
    "sometee": ["T-1", "T-2", "T-3", "T-4", "T-5", "T-44", "T-45", "T-45A", "T-46", "DE-1", "DE-2", "END"],
    "somezero": ["0043", "0044", "0045", "0046", "0047", "0048", "0101", "0102"],
    "somedot": ["14.1", "14.2", "14.3", "14.4", "14.5", "15.1", "15.2", "15.3", "15.4"],
    "somesheet": ["7-10", "7-11", "7-12", "7-13", "7-14", "8-1", "8-2", "8-3", "8-4", "8-5"],
    "thousand": ["1043", "1044", "1045", "1046", "1047", "1048"],
    "someaxis": ["AX-11", "AX-12", "AX-12A", "AX-13", "AX-14", "AX-15"],
    "bound": [*(f"NB {i}" for i in range(101, 105)), *(f"SB {i}" for i in range(101, 104))],
    "thirteen": RUN[:13],
    "deadends": ["1", "2", "3", "DE-1", "T-1", "T-45A", "END"],
    "turned": ["1/22", "1/23", "1/24", "12/2", "12/3", "12/4", "2/14", "21/4"],
}
POLES = {
    "abc": "A/B/C",
    "lr": "L/R",
    "lcr": "L/C/R",
    "12": "1/2/3",
    "1or2": "1/2",
    "ltrt": "LT/RT",
    "ns": "N/S",
    "ew": "E/W",
    "ab": "AHEAD/BACK",
}


@cache
def naming_of(style: str, poles: str) -> Naming:
    count = 3 if poles in {"lcr", "12"} else 2
    listed = ListedNumbers({"N": dict.fromkeys(LISTS[style], count)})
    return Naming(listed=listed, poles=PoleWords.parse(POLES[poles]))


def said_of(row: dict[str, str]) -> tuple[str, str, str]:
    naming = naming_of(row["list"], row["poles"])
    found = parse_description(row["description"], naming)
    unknown = found.structure and not naming.listed.has(found.structure)
    if unknown or (not found.structure and found.item == "other"):
        return "", "", "asked"
    return found.structure, found.pole, found.item


def wanted(row: dict[str, str]) -> tuple[str, str, str]:
    return row["structure"], row["pole"], row["item"]


def test_the_table_has_many_hands_and_lists() -> None:
    assert len(ROWS) >= 600
    assert {row["list"] for row in ROWS} == set(LISTS)
    assert {row["poles"] for row in ROWS} == set(POLES)
    assert sum(row["item"] == "asked" for row in ROWS) > 200


@pytest.mark.parametrize("style", LISTS)
def test_nothing_is_read_wrong(style: str) -> None:
    rows = [row for row in ROWS if row["list"] == style]
    wrong = {
        (row["poles"], row["description"]): (said_of(row), wanted(row))
        for row in rows
        if said_of(row)[2] != "asked" and said_of(row) != wanted(row)
    }
    assert wrong == {}


def test_nearly_all_that_has_a_meaning_is_read() -> None:
    meant = [row for row in ROWS if row["item"] != "asked"]
    read = sum(said_of(row) == wanted(row) for row in meant)
    assert read >= 0.99 * len(meant)
