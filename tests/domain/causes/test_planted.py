"""Faults planted on invented lines are named, one a line and two at once; clean lines have no cause."""

from __future__ import annotations

import confusion
import numpy as np
import pytest


@pytest.fixture(scope="module")
def answers() -> dict[str, confusion.Answer]:
    """One line of each kind of fault."""
    kinds = list(confusion.FAULTS)
    return dict(zip(kinds, confusion.ask(np.random.default_rng(20_261_130), kinds), strict=True))


@pytest.mark.parametrize("kind", confusion.FAULTS)
def test_a_planted_fault_is_named(answers: dict[str, confusion.Answer], kind: str) -> None:
    assert answers[kind].is_right, answers[kind]
    assert answers[kind].extra == 0


def test_clean_lines_have_no_cause() -> None:
    answers = confusion.ask(np.random.default_rng(7), [confusion.NOTHING] * 20)
    assert [answer for answer in answers if answer.extra] == []


@pytest.mark.parametrize(
    "pair",
    [
        ("labels off", "file tagged the other way"),
        ("wrong zone", "offset stake"),
        ("columns exchanged", "labels off"),
        ("line of the shots", "unit of length"),
        ("base or datum shifted", "reversed single"),
        ("pole letters exchanged", "foot definition"),
        ("heights in another datum", "wrong brace set"),
        ("neighbour's label", "one pole off its stake"),
        ("equation left out of the list", "line tagged the other way"),
    ],
)
def test_of_two_faults_none_is_masked(pair: tuple[str, str]) -> None:
    for answer in confusion.ask_pairs(np.random.default_rng(1), [pair, pair]):
        assert not [words for words in answer.said if words == confusion.NOTHING or words.startswith("as ")]
