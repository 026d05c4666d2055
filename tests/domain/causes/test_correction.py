"""Corrections one after the other: each sees what the ones before it left."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.causes.correction import Order, apply_corrections, correction_fault
from linemap.domain.design.naming import ListedNumbers, Naming
from linemap.domain.survey.shot import Shot


def shot(row: int, structure: str, pole: str, *, file: str = "may.csv", line: str = "North") -> Shot:
    return Shot(
        point=str(row), easting=100.0 + row, northing=500.0, structure=structure, pole=pole, item="pole",
        line=line, file=file, row=row,
    )  # fmt: skip


def order(line: str = "", **correction: Any) -> Order:
    assert correction_fault(correction) == ""
    return Order(correction, line, "test")


def test_labels_are_swapped_of_the_structure_as_relabelled_before() -> None:
    shots = [shot(1, "2/4", "A"), shot(2, "2/4", "B"), shot(3, "2/4", "A"), shot(4, "2/4", "B")]
    left, done = apply_corrections(
        shots,
        [
            order(kind="relabel", file="may.csv", rows=[3, 4], structure="2/5"),
            order(kind="swap_labels", structures=["2/5"]),
        ],
    )
    assert [(each.structure, each.pole) for each in left] == [
        ("2/4", "A"),
        ("2/4", "B"),
        ("2/5", "B"),
        ("2/5", "A"),
    ]
    assert tuple(each.words for each in done) == (
        "2 shots of may.csv: labelled 2/5",
        "2 shots of 2/5: first and last pole letter exchanged",
    )


def test_a_dropped_shot_is_not_corrected_afterwards() -> None:
    left, done = apply_corrections(
        [shot(1, "2/4", "A"), shot(2, "2/4", "B")],
        [order(kind="drop", file="may.csv", rows=[1]), order(kind="exchange", file="may.csv")],
    )
    assert [(each.row, each.easting, each.northing) for each in left] == [(2, 500.0, 102.0)]
    assert done[1].words.startswith("1 shot of may.csv")


def test_a_relabelled_shot_has_the_number_as_the_correction_writes_it() -> None:
    (left,), _ = apply_corrections(
        [shot(1, "2/4", "A")],
        [order(kind="relabel", file="may.csv", rows=[1], structure="2-05")],
    )
    assert left.structure == "2-05"


def assigned(row: int, structure: str, pole: str) -> Order:
    named = {"item": "pole", "structure": structure, "pole": pole, "line": "North"}
    correction = {"kind": "assign", "file": "may.csv", "rows": [row], **named}
    assert correction_fault(correction) == ""
    return Order(correction, "", "test")


def test_of_an_assignment_and_a_label_put_right_the_later_one_wins() -> None:
    relabel = order(kind="relabel", file="may.csv", rows=[1], structure="2/5")
    by_hand = assigned(1, "2/6", "B")
    left = {
        first.correction["kind"]: apply_corrections([shot(1, "2/4", "A")], [first, second])[0][0]
        for first, second in ((relabel, by_hand), (by_hand, relabel))
    }
    assert (left["relabel"].structure, left["relabel"].pole) == ("2/6", "B")
    assert (left["assign"].structure, left["assign"].pole) == ("2/5", "B")


def test_a_shot_that_nothing_read_is_of_what_a_person_says() -> None:
    unread = Shot(point="7", easting=1.0, northing=2.0, description="LFT 12", file="may.csv", row=1)
    orders = [
        assigned(1, "12/3", "A"),
        order(kind="assign", file="may.csv", rows=[1], item="check"),
        order(kind="drop", file="may.csv", rows=[1]),
        assigned(1, "12/3", "B"),
    ]
    (pole,), _ = apply_corrections([unread], orders[:1])
    assert (pole.item, pole.structure, pole.pole, pole.line) == ("pole", "12/3", "A", "North")
    assert pole.note == "assigned as a pole of 12/3, test"
    (check,), done = apply_corrections([unread], orders[:2])
    assert (check.item, check.structure, check.pole) == ("check", "", "")
    assert done[1].words == "1 shot of may.csv: assigned as a check shot"
    # what is set aside stays so, whatever is said of it afterwards
    left, done = apply_corrections([unread], orders)
    assert left == ()
    assert [each.shots for each in done] == [(("may.csv", 1, "7"),)] * 3 + [()]


@pytest.mark.parametrize(
    ("correction", "fault"),
    [
        ({"item": "tree"}, "has no usable item: 'tree'"),
        ({"item": "pole", "pole": "AB"}, "has no usable pole: 'AB'"),
        ({"item": "pole", "structure": " "}, "has no usable structure: ' '"),
        ({"item": "pole", "rows": []}, "has no usable rows: []"),
        ({}, "has no usable item: None"),
    ],
)
def test_an_assignment_that_says_nothing_is_refused(correction: dict[str, Any], fault: str) -> None:
    assert correction_fault({"kind": "assign", "file": "may.csv", "rows": [1], **correction}) == fault


def unread(row: int, description: str, *, file: str = "may.csv") -> Shot:
    return Shot(point=str(row), easting=1.0, northing=2.0, description=description, file=file, row=row)


def test_a_pattern_reads_what_nothing_else_read_in_all_files_or_in_one() -> None:
    naming = Naming(listed=ListedNumbers({"North": {"045": 2, "46": 2}}))
    shots = [
        unread(1, "LFT~45"),
        unread(2, "lft~46", file="june.csv"),
        unread(3, "LFT~99"),
        unread(4, "RGT~45"),
        replace(unread(5, "LFT~46"), item="check"),
    ]
    pattern = {"kind": "pattern", "pattern": "LFT~<structure> = pole A"}
    left, (done,) = apply_corrections(shots, [Order(pattern, "", "decision 7, Ada", naming)])
    assert [(each.structure, each.pole, each.item) for each in left] == [
        ("045", "A", "pole"),
        ("46", "A", "pole"),
        ("", "", "other"),
        ("", "", "other"),
        ("", "", "check"),
    ]
    assert left[0].note == "read as LFT~<structure>, decision 7, Ada"
    assert done.words == "2 shots of all files: read as LFT~<structure>"
    assert done.shots == (("may.csv", 1, "1"), ("june.csv", 2, "2"))
    one, _ = apply_corrections(shots, [Order({**pattern, "file": "june.csv"}, "", "x", naming)])
    assert [each.pole for each in one] == ["", "A", "", "", ""]


def test_what_a_person_said_of_one_shot_goes_before_a_pattern_and_after_it() -> None:
    pattern = Order({"kind": "pattern", "pattern": "LFT~<structure> = pole A"}, "", "test")
    by_hand = assigned(1, "12/3", "B")
    for orders in ([pattern, by_hand], [by_hand, pattern]):
        (left,), _ = apply_corrections([unread(1, "LFT~12-4")], orders)
        assert (left.structure, left.pole) == ("12/3", "B")
    (left,), _ = apply_corrections([unread(1, "LFT~12-4")], [pattern])
    assert (left.structure, left.pole) == ("12/4", "A")


@pytest.mark.parametrize("pattern", ["", "LFT", "LFT~<structure> = tree", 7, None])
def test_a_pattern_that_is_none_is_refused(pattern: object) -> None:
    assert correction_fault({"kind": "pattern", "pattern": pattern}) == f"has no usable pattern: {pattern!r}"


def test_swapping_means_one_line_only() -> None:
    shots = [shot(1, "2/4", "A"), shot(2, "2/4", "A", line="South"), shot(3, "2/4", "A", line="")]
    left, _ = apply_corrections(shots, [order("North", kind="swap_labels", structures=["2/4"])])
    assert [each.pole for each in left] == ["B", "A", "B"]


@settings(max_examples=examples(50))
@given(
    shots=st.lists(
        st.builds(
            shot,
            st.integers(1, 6),
            st.sampled_from(["2/4", "2/5"]),
            st.sampled_from("ABC"),
            file=st.sampled_from(["may.csv", "june.csv"]),
        ),
        max_size=8,
    ),
    rows=st.lists(st.integers(1, 6), min_size=1, max_size=3),
)
def test_only_what_is_named_changes_and_nothing_is_lost(shots: list[Shot], rows: list[int]) -> None:
    orders = [
        order(kind="translate", file="may.csv", east=1.0, north=2.0),
        order(kind="drop", file="june.csv", rows=rows),
    ]
    left, _ = apply_corrections(shots, orders)
    kept = [each for each in shots if each.file == "may.csv" or each.row not in rows]
    assert [(each.file, each.row) for each in left] == [(each.file, each.row) for each in kept]
    for before, after in zip(kept, left, strict=True):
        shift = after.easting - before.easting, after.northing - before.northing
        assert shift == ((1.0, 2.0) if before.file == "may.csv" else (0.0, 0.0))
        assert (after is before) == (before.file == "june.csv")
