"""A small form of the simulated sessions: with two check-ins wrong passes are rare where they come first."""

from __future__ import annotations

import numpy as np
import pytest
from sessions import CELLS, Cell, Tally, tally

SEED = 20_261_130
#: Where most went wrong of all cells with two check-ins.
WORST = (
    Cell("both", 10, 2, 0.3, True),
    Cell("both", 3, 2, 0.3, True),
    Cell("same base", 10, 2, 0.1, False),
    Cell("same base", 3, 2, 0.3, True),
    Cell("factor", 3, 2, 0.3, True),
    Cell("rotation", 10, 2, 0.3, True),
)


@pytest.fixture(scope="module")
def judged() -> dict[Cell, tuple[Tally, Tally]]:
    return {cell: tally(cell, 150, SEED) for cell in WORST}


def test_these_are_cells_of_the_table() -> None:
    assert set(WORST) <= set(CELLS)


def test_with_two_check_ins_one_pass_of_a_hundred_is_wrong_at_most(
    judged: dict[Cell, tuple[Tally, Tally]],
) -> None:
    for when in (0, 1):  # before a decision, and with what is proposed accepted
        whole = Tally(counts=np.sum([both[when].counts for both in judged.values()], axis=0))
        assert whole.wrong_passes <= 1.0
        assert whole.bad_passed <= 1.0


def test_with_two_check_ins_most_right_frames_pass_once_corrected(
    judged: dict[Cell, tuple[Tally, Tally]],
) -> None:
    for cell, (_, after) in judged.items():
        assert after.power >= 40.0, cell
        assert after.good_failed <= 2.5, cell


def test_without_a_check_in_no_statistic_sees_a_base_that_staked_and_surveyed() -> None:
    before, after = tally(Cell("same base", 10, 0, 0.1, False), 60, SEED)
    assert before.wrong_passes > 50.0
    assert after.wrong_passes > 50.0


def test_without_a_check_in_accepting_makes_no_pass() -> None:
    before, after = tally(Cell("shift", 10, 0, 0.1, False), 100, SEED)
    assert after.counts[:, 2].sum() <= before.counts[:, 2].sum()
    assert after.wrong_passes <= 5.0
