"""Problems and refusals: one line a person can act on, and one tree to catch."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.errors import Conflict, InputRefused, JobUnreadable, LinemapError, NotFound, Problem, Severity


@pytest.mark.parametrize(
    ("problem", "line"),
    [
        (Problem(file="list.csv", reason="no header found"), "list.csv: no header found"),
        (
            Problem(file="a.csv", row=7, reason="is blank", remedy="fill it"),
            "a.csv, row 7: is blank; fill it",
        ),
        (
            Problem(file="list.csv", row=7, column="Northing", value="nan", reason="not a finite number"),
            'list.csv, row 7, Northing "nan": not a finite number',
        ),
        (Problem(file="", column="spacing", reason="is blank"), "spacing: is blank"),
        (Problem(file="", value="12 x", reason="is no number"), '"12 x": is no number'),
        (Problem(file="", reason="nothing to do"), "nothing to do"),
    ],
)
def test_a_problem_in_one_line(problem: Problem, line: str) -> None:
    assert str(problem) == line


def test_row_zero_is_still_a_row() -> None:
    assert str(Problem(file="a.csv", row=0, reason="odd")) == "a.csv, row 0: odd"


def test_a_problem_refuses_the_file_unless_it_says_otherwise() -> None:
    assert Problem(file="a.csv", reason="odd").severity is Severity.REFUSED
    assert [str(severity) for severity in Severity] == ["refused", "left out", "noted"]


@given(value=st.one_of(st.text(max_size=20), st.text(min_size=77, max_size=84)))
def test_long_values_are_shortened_and_short_ones_kept(value: str) -> None:
    kept = Problem(file="a.csv", value=value, reason="odd").value
    assert len(kept) <= 80
    assert kept == value if len(value) <= 80 else kept == value[:79] + "…"


def test_a_refusal_carries_its_problems_with_the_headline_first() -> None:
    first, second = Problem(file="a.csv", row=2, reason="odd"), Problem(file="a.csv", row=3, reason="odder")
    assert InputRefused(first).problems == (first,)
    refused = InputRefused(one for one in (first, second))
    assert refused.problems == (first, second)
    assert str(refused) == "a.csv, row 2: odd\na.csv, row 3: odder"


def test_a_refusal_without_a_problem_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="at least one problem"):
        InputRefused([])


@pytest.mark.parametrize(
    "error",
    [InputRefused(Problem(file="", reason="odd")), NotFound("12/9"), Conflict("id"), JobUnreadable("v9")],
)
def test_everything_raised_on_purpose_is_caught_as_one(error: LinemapError) -> None:
    with pytest.raises(LinemapError):
        raise error
