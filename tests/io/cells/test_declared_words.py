"""Headings of lists are declared with their fields; what version 0.1.0 understood is still understood."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from linemap.io.cells.meaning import NEEDS, VOCABULARY
from linemap.kinds.registry import KINDS

OLDER: dict[str, Any] = json.loads((Path(__file__).parent / "vocabulary_0_1_0.json").read_text())


@pytest.mark.parametrize("kind", OLDER)
def test_headings_of_0_1_0_mean_what_they_meant(kind: Any) -> None:
    for field, words in OLDER[kind]["words"].items():
        assert VOCABULARY[kind][field][: len(words.split())] == tuple(words.split())


@pytest.mark.parametrize("kind", OLDER)
def test_a_file_needs_the_columns_it_needed(kind: Any) -> None:
    assert json.loads(json.dumps(NEEDS[kind])) == OLDER[kind]["needs"]


@pytest.mark.parametrize("kind", KINDS)
def test_each_heading_of_a_list_means_one_field(kind: Any) -> None:
    surest = [words[0] for words in VOCABULARY[kind].values()]
    assert len(set(surest)) == len(surest)
