"""Events that correct events: what they correct no longer counts, wherever it was recorded."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.record.event import Event
from linemap.domain.record.status import NOTHING_RECORDED, StructureStatus, fold, fold_structure
from linemap.domain.record.workflow import FRAMED_ON_GROUND
from linemap.domain.schedule.progress import events_taken

NOON = datetime(2026, 5, 13, 12, 0, tzinfo=UTC)
LETTERS = {("North", "5/2"): "AB", ("North", "2/5"): "AB"}


def event(identifier: str, *, structure: str = "5/2", hour: int = 0, **more: Any) -> Event:
    at = NOON + timedelta(hours=hour)
    given: dict[str, Any] = {"step": "framed", "crew": "Heron", "received_at": at, **more}
    return Event(id=identifier, line="North", structure=structure, happened_at=at, **given)


def folded(*events: Event) -> dict[tuple[str, str], StructureStatus]:
    return fold(events, FRAMED_ON_GROUND, pole_letters=LETTERS)


def test_digits_exchanged_and_corrected_leave_the_wrong_structure_untouched() -> None:
    wrong, right = event("w"), event("r", structure="2/5", hour=1, supersedes="w")
    status = folded(wrong, right)
    assert status["North", "5/2"] == NOTHING_RECORDED
    assert status["North", "2/5"].done["framed"].event_id == "r"


def test_what_a_correction_changes_is_known_only_from_then_on() -> None:
    wrong, right = event("w"), event("r", structure="2/5", hour=20, supersedes="w")
    before = folded(*events_taken((wrong, right), known_by=NOON.date()))
    assert before["North", "5/2"].done["framed"].event_id == "w"
    assert before["North", "2/5"] == NOTHING_RECORDED


def test_a_correction_of_a_correction_counts_alone() -> None:
    chain = [event("a"), event("b", hour=1, supersedes="a"), event("c", hour=2, supersedes="b", crew="Raven")]
    status = folded(*chain)["North", "5/2"]
    assert (status.done["framed"].crew, status.done["framed"].event_id) == ("Raven", "c")


def test_a_withdrawal_that_names_a_record_takes_back_that_one_alone() -> None:
    both = [event("a"), event("b", hour=1), event("w", hour=2, result="withdrawn", supersedes="b")]
    assert folded(*both)["North", "5/2"].done["framed"].event_id == "a"
    named_none = [*both[:2], event("w", hour=2, result="withdrawn")]
    assert "framed" not in folded(*named_none)["North", "5/2"].done


def test_a_correction_of_what_has_not_arrived_counts_itself() -> None:
    assert folded(event("r", supersedes="lost"))["North", "5/2"].done["framed"].event_id == "r"


def test_one_structure_folded_alone_needs_to_be_told_of_corrections_elsewhere() -> None:
    alone = {"key": ("North", "5/2"), "letters": "AB"}
    assert fold_structure([event("w")], FRAMED_ON_GROUND, **alone, corrected={"w"}) == NOTHING_RECORDED  # type: ignore[arg-type]


@pytest.mark.parametrize("result", ["done", "rejected"])
def test_a_result_can_be_corrected(result: str) -> None:
    other = "rejected" if result == "done" else "done"
    status = folded(event("a", result=result), event("b", hour=1, result=other, supersedes="a"))
    assert ("framed" in status["North", "5/2"].done) == (other == "done")


@given(st.permutations([0, 1, 2, 3, 4, 0, 3]))
def test_the_order_of_arrival_and_repetition_change_nothing(order: list[int]) -> None:
    events = [
        event("a"),
        event("b", structure="2/5", hour=1, supersedes="a"),
        event("c", structure="2/5", hour=2, result="rejected"),
        event("d", structure="2/5", hour=3, step="set"),
        event("e", hour=4, step="set", supersedes="d"),
    ]
    events = [replace(one, received_at=NOON + timedelta(days=1)) for one in events]
    assert folded(*(events[index] for index in order)) == folded(*events)
