"""Sizes of poles in one cell or two, and the marks that mean "as above"."""

from __future__ import annotations

import pytest

from linemap.io.design.pole_sizes import is_ditto, parse_size, parse_sizes


@pytest.mark.parametrize(
    ("text", "length", "pole_class"),
    [("75-2", 75, "2"), ("75/2", 75, "2"), ("H1-75", 75, "H1"), ("80' CL 1", 80, "1"),
     ("2-75", 75, "2"), ("75 H2", 75, "H2"), ("75' - CLASS H3", 75, "H3")],
)  # fmt: skip
def test_sizes(text: str, length: float, pole_class: str) -> None:
    assert parse_size(text) == (length, pole_class)


@pytest.mark.parametrize("text", ["75-2/70-2", "tall", "75", "7-2", ""])
def test_what_is_no_size(text: str) -> None:
    with pytest.raises(ValueError, match="no pole size"):
        parse_size(text)


@pytest.mark.parametrize(
    ("text", "sizes"),
    [
        ("75-2/70-2", ((75.0, "2"), (70.0, "2"))),
        ("75-H1, 70-2", ((75.0, "H1"), (70.0, "2"))),
        ("H1-75/H2-80", ((75.0, "H1"), (80.0, "H2"))),
        ("75-1 (3)", ((75.0, "1"),)),
        ("75-1/80-1/75-1 (3)", ((75.0, "1"), (80.0, "1"), (75.0, "1"))),
        ("75/2", ((75.0, "2"),)),
    ],
)
def test_sizes_of_several_poles(text: str, sizes: tuple[tuple[float, str], ...]) -> None:
    assert parse_sizes(text) == sizes


@pytest.mark.parametrize("text", ['"', "''", "do", "Ditto.", "same", "AS ABOVE", "-do-", "\u3003", "\u2033"])
def test_marks_that_mean_as_above(text: str) -> None:
    assert is_ditto(text)


@pytest.mark.parametrize("text", ["", "75-2", "A/B same", "dome"])
def test_other_cells_mean_themselves(text: str) -> None:
    assert not is_ditto(text)
