"""The ledger: columns and single findings in one order, surfaces by severity, redacted when read."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np

from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import CODES, Block, Finding, token
from linemap.domain.finding.ledger import SURFACES, Ledger

KEYS = [("North", "1/1"), ("North", "1/2"), ("North", "1/3")]
TURNED = {
    "value": np.array([4.5, -2.0]),
    "sigma": np.array([0.2, 0.2]),
    "distance": np.array([12.5, 12.5]),
    "limit": np.array([1.0, 1.0]),
    "limit_unit": "deg",
    "unit": "ft",
    "outside": True,
}


def single(structure: str, code: str = "rejected", **values: object) -> Finding:
    said = {"step": "framed", "poles": (), "on": dt.date(2026, 5, 14), "who": "Four Tines", **values}
    return Finding(line="North", structure=structure, code=code, values=said)


def ledger() -> Ledger:
    found = [
        single("1/3", "off line", offset=3.1, unit="ft"),
        Block(code="arm turned", rows=np.array([2, 1]), values=TURNED),
        single("", "factor not declared"),
        single("9/9", "not in list", count=2),
    ]
    return Ledger(
        lambda: KEYS, found, {("North", "1/1"): (single("1/1"),), ("North", "8/8"): (single("8/8"),)}
    )


def test_a_row_tells_its_findings_in_the_order_of_writing() -> None:
    found = ledger()
    assert [each.code for each in found.at(2)] == ["off line", "arm turned"]
    assert found.at(2)[1].words.startswith("arm turned 4.5° clockwise")
    assert found.at(1)[0].words.startswith("arm turned 2.0° counter-clockwise")
    assert (found.at(1)[0].line, found.at(1)[0].structure) == KEYS[1]
    assert [each.code for each in found.at(0)] == ["rejected"]
    assert list(found) == [0, 1, 2]


def test_a_row_without_findings_tells_none() -> None:
    empty = Ledger(lambda: KEYS, [])
    assert list(empty) == empty.at(1) == [*empty.everything()] == []


def test_findings_of_no_row_come_first() -> None:
    told = [(each.structure, each.code) for each in ledger().everything()]
    assert told[:3] == [("", "factor not declared"), ("9/9", "not in list"), ("8/8", "rejected")]
    assert len(told) == 7


def test_columns_say_the_same_as_the_findings_made_of_them() -> None:
    found = ledger()
    assert found.counts().tolist() == [len(found.at(row)) for row in range(3)]
    for surface, shows in SURFACES.items():
        shown = [[each for each in found.at(row) if shows(each.severity, each.asks)] for row in range(3)]
        assert [found.on(surface, row) for row in range(3)] == shown
        assert found.worst(surface).tolist() == [
            max((int(each.severity) for each in row), default=0) for row in shown
        ]
        assert found.rows_on(surface).tolist() == [row for row in range(3) if shown[row]]


def test_new_records_replace_what_the_record_said() -> None:
    found = ledger()
    assert found.counts().tolist()[:2] == [1, 1]  # columns made before the records come are brought along
    touched = [("North", "1/1"), ("North", "1/2"), ("North", "9/9")]
    grown = found.with_recorded({("North", "1/2"): (single("1/2"),)}, None, touched=touched)
    assert grown.counts().tolist() == [len(grown.at(row)) for row in range(3)]
    assert found.counts().tolist() == [len(found.at(row)) for row in range(3)]
    assert [each.code for each in grown.at(1)] == ["arm turned", "rejected"]
    assert grown.at(0) == []
    assert [each.code for each in found.at(0)] == ["rejected"]


def test_what_is_judged_when_looked_at_comes_last_and_only_where_notes_are_shown() -> None:
    asked: list[str] = []

    def claimed(key: tuple[str, str]) -> tuple[Finding, ...]:
        asked.append(key[1])
        found = single(key[1], "claimed", steps=("framed",), missing=(("photo",),))
        return (found,) if key[1] != "1/3" else ()

    found = ledger().with_recorded({}, claimed, touched=[("North", "1/1")])
    for surface in ("list", "map", "check", "report"):
        found.rows_on(surface), found.worst(surface)
    assert found.counts().tolist() == [0, 1, 2]
    assert asked == []
    assert found.rows_on("export").tolist() == [0, 1, 2] == list(found)
    assert found.worst("card").tolist()[0] == Severity.NOTE
    assert [each.code for each in found.at(1)] == ["arm turned", "claimed"]
    assert [each.code for each in found.on("list", 1)] == ["arm turned"]
    assert found.at(0)[0].words == "claimed, not verified: framed (no photo on record)"
    told = found.redacted(lambda text: text.replace("photo", "[not shown]"))
    assert told.at(0)[0].words == "claimed, not verified: framed (no [not shown] on record)"


def test_values_are_redacted_and_our_own_words_are_not() -> None:
    def change(text: str) -> str:
        return text.replace("Four Tines", "[not shown]").replace("rejected", "[not shown]")

    (told,) = ledger().redacted(change).at(0)
    assert told.words == "framed rejected 14 May 2026 by [not shown], not recorded again since"
    twice = ledger().redacted(change).redacted(lambda text: text.replace("framed", "[step]"))
    assert twice.at(0)[0].words == "[step] rejected 14 May 2026 by [not shown], not recorded again since"
    assert [each.words for each in twice.recorded_at(("North", "1/1"))] == [twice.at(0)[0].words]


def test_the_severity_of_a_block_may_differ_from_its_code() -> None:
    doubtful = Block(
        code="arm turned", rows=np.array([1]), values={**TURNED, "outside": False}, weight=Severity.UNSURE
    )
    found = Ledger(lambda: KEYS, [doubtful])
    assert found.at(1)[0].severity is Severity.UNSURE
    assert "this survey cannot tell" in found.at(1)[0].words
    assert found.worst("list").tolist() == [0, int(Severity.UNSURE), 0]


def test_a_name_of_a_finding_stays_when_its_numbers_change() -> None:
    assert single("1/1").id == single("1/1", who="Heron").id
    assert single("1/1").id != single("1/2").id
    assert len(token("a", "b")) == 7
    assert token("a", "b") != token("ab", "")


def test_every_code_says_who_is_asked_and_what_closes_it() -> None:
    assert len(CODES) >= 40
    for name, code in CODES.items():
        assert code.closes, name
        assert code.asks in ("surveyor", "engineer", "office", "crew", "nobody"), name


def test_a_value_that_is_not_known_stays_so() -> None:
    block = Block(code="arm turned", rows=np.array([0]), values={**TURNED, "value": np.array([math.nan])})
    assert math.isnan(block.at(0, "North", "1/1").values["value"])


def test_rows_of_files_that_name_no_structure_of_a_list_stand_beside_all_rows() -> None:
    said = {
        "kind": "holds",
        "file": "holds.csv",
        "column": "Until",
        "reason": "no date",
        "remedy": "write one",
    }
    rows, part = np.array([4, 9], dtype=object), np.array(["row 4", "row 9"], dtype=object)
    left = Block(code="row left out", rows=np.array([-1, 1]), values={**said, "row": rows}, part=part)
    found = Ledger(lambda: KEYS, [left, single("1/2")])
    assert [(each.structure, each.part) for each in found.at(1)] == [("1/2", "row 9"), ("1/2", "")]
    assert next((each.structure, each.part) for each in found.everything()) == ("", "row 4")
    assert found.worst("list").tolist() == [0, int(Severity.WRONG), 0]
    assert found.beside("check") == []
    (beside,) = found.beside("panel")
    assert beside.words == "left out of the holds: holds.csv, row 4, Until: no date; write one"
    assert len({each.id for each in found.everything()}) == 3
    assert [each.code for each in found.without({"row left out"}).everything()] == ["rejected"]
