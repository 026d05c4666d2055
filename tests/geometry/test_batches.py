"""Batches cover every row once, whatever the groups; what they write is what one batch would."""

from __future__ import annotations

import threading

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.geometry.batches import Columns, batches, even_batches, in_batches, in_place


@given(sizes=st.lists(st.integers(0, 12), max_size=20), rows=st.integers(1, 10))
def test_batches_cover_all_rows_and_split_no_group(sizes: list[int], rows: int) -> None:
    groups = np.concatenate(([0], np.cumsum(sizes, dtype=np.int64)))
    parts = batches(groups, rows=rows)
    assert [row for part in parts for row in range(part.start, part.stop)] == list(range(sum(sizes)))
    assert {part.start for part in parts} <= set(groups.tolist())
    for part in parts:
        inside = [begin for begin in groups.tolist() if part.start < begin < part.stop]
        assert part.stop - part.start <= rows or not inside


def test_rows_without_groups_are_cut_evenly() -> None:
    assert even_batches(7, rows=3) == [slice(0, 3), slice(3, 6), slice(6, 7)]
    assert even_batches(6, rows=3) == [slice(0, 3), slice(3, 6)]
    assert even_batches(0) == [slice(0, 0)]


def test_the_answers_come_in_the_order_of_the_parts() -> None:
    later_done = threading.Event()

    def work(part: slice) -> int:
        if part.start == 0:
            later_done.wait(0.05)  # gives the second thread time to be first, where there is one
        else:
            later_done.set()
        return int(part.start)

    assert in_batches(work, even_batches(9, rows=3)) == [0, 3, 6]


def test_the_error_of_the_first_part_is_raised() -> None:
    def work(part: slice) -> None:
        raise ValueError(f"row {part.start}")

    with pytest.raises(ValueError, match="row 0"):
        in_batches(work, even_batches(9, rows=3))


def test_columns_written_in_batches_are_whole_and_keep_their_types() -> None:
    number = np.arange(10)
    whole = {
        "whole": number,
        "part": number * 0.5,
        "place": np.stack([number, -number], axis=1) * 1.0,
        "word": np.array([str(n) for n in number], dtype=object),
        "odd": number % 2 == 1,
    }
    written = Columns(size=10)
    in_batches(
        lambda part: written.put(part, {name: column[part] for name, column in whole.items()}),
        even_batches(10, rows=3),
    )
    assert set(written.whole) == set(whole)
    for name, column in whole.items():
        assert written.whole[name].dtype == column.dtype
        np.testing.assert_array_equal(written.whole[name], column)


def test_no_row_leaves_empty_columns() -> None:
    written = Columns(size=0)
    in_batches(lambda _: written.put(slice(0, 0), {"a": np.zeros(0)}), even_batches(0))
    assert written.whole["a"].tolist() == []


@given(st.lists(st.integers(0, 5), max_size=6))
def test_rows_in_place_are_the_same_rows(rows: list[int]) -> None:
    column = np.arange(10) * 10
    index = np.array(rows, dtype=np.int64)
    np.testing.assert_array_equal(column[in_place(index)], column[index])
