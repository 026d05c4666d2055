"""One cause for many structures against one cause each: prices, whole lines and files, stretches."""

from __future__ import annotations

import pytest

from linemap.domain.causes.together import Scope, Shared, stretches, taken_together


def scope(shared: Shared, name: str, rows: range) -> Scope:
    return Scope(shared=shared, name=name, words=f"of {name}", rows=tuple(rows))


LINE = scope("line", "North", range(100))
FILES = [scope("file", f"{day}.csv", range(day * 10, day * 10 + 10)) for day in range(10)]


def taken(shown: list[int], scopes: list[Scope]) -> list[tuple[str, int]]:
    return [(each.scope.name, len(each.rows)) for each in taken_together(shown, scopes)]


def test_a_whole_line_is_one_cause_and_two_files_of_it_are_two() -> None:
    assert taken(list(range(100)), [*FILES, LINE]) == [("North", 100)]
    assert taken(list(range(20)), [LINE, *FILES]) == [("0.csv", 10), ("1.csv", 10)]


def test_a_line_may_have_a_few_that_do_not_show_it() -> None:
    shown = [row for row in range(100) if row not in {3, 47, 48}]
    assert taken(shown, [*FILES, LINE]) == [("North", 97)]


@pytest.mark.parametrize("shared", ["line", "crew", "file", "day", "part", "run"])
def test_two_never_pay_for_a_common_cause_and_three_alone_do(shared: Shared) -> None:
    assert taken([0, 1], [scope(shared, "it", range(2))]) == []
    assert taken([0, 1, 2], [scope(shared, "it", range(3))]) == [("it", 3)]


def test_the_majority_of_what_could_show_it_must_show_it() -> None:
    assert taken([0, 1, 2], [scope("file", "may", range(5))]) == []
    assert taken([0, 1, 2, 3], [scope("file", "may", range(5))]) == [("may", 4)]


def test_rows_explained_already_speak_neither_for_nor_against_another_cause() -> None:
    crew = scope("crew", "Raven", range(4, 12))
    found = taken_together(range(12), [scope("file", "may", range(10)), crew])
    assert [(each.scope.name, each.rows) for each in found] == [("may", tuple(range(10)))]
    assert crew.gain({10, 11, 12}, set(range(10))) == pytest.approx(
        crew.gain({10, 11, 12}) + 6 * 2.975, abs=0.01
    )


def test_what_was_considered_is_said_with_its_odds() -> None:
    (found,) = taken_together(range(6), [scope("crew", "Raven", range(6)), scope("file", "may", range(18))])
    assert found.considered == ["also considered: of may more than 1,000,000 to 1 against"]


def test_a_stretch_is_a_run_of_one_value_that_is_known() -> None:
    found = stretches([3, 4, 5, 6], ["Raven", "Raven", "", "Heron"], scope("crew", "crew {}", range(0)))
    assert [(each.name, each.rows) for each in found] == [("crew Raven", (3, 4)), ("crew Heron", (6,))]
