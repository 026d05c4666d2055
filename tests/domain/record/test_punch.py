"""The punch list closes on evidence only, and a reopened item keeps what was written before."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.record.punch import PunchAction, PunchEntry, punch_items


def entry(action: PunchAction, day: int, **changes: object) -> PunchEntry:
    values = {"item": "P-1", "structure": "3/4", "action": action, "on": date(2026, 5, day), **changes}
    return PunchEntry(**values)  # type: ignore[arg-type]


OPENED = entry("opened", 4, text="brace set 12.0 on 12.5 spacing", owner="Heron", due=date(2026, 5, 20))
CLOSED = entry("closed", 8, evidence="photo 118", who="Four Tines")


def test_an_item_is_open_until_it_is_closed_on_evidence() -> None:
    (item,) = punch_items([OPENED])
    assert item.open
    assert item.sentence() == "P-1 at 3/4: brace set 12.0 on 12.5 spacing (open, for Heron, due 2026-05-20)"
    (item,) = punch_items([OPENED, CLOSED])
    assert not item.open
    assert item.sentence().endswith("(closed 2026-05-08 on photo 118, for Heron)")


def test_closing_without_evidence_closes_nothing_and_is_told() -> None:
    (item,) = punch_items([OPENED, entry("closed", 8, evidence=" ")])
    assert item.open
    assert item.finding == "closed 2026-05-08 without evidence: still open"


def test_a_reopened_item_keeps_its_history() -> None:
    (item,) = punch_items([entry("reopened", 11, text="still loose"), CLOSED, OPENED])
    assert item.open
    assert [one.action for one in item.history] == ["opened", "closed", "reopened"]
    assert item.history[1].evidence == "photo 118"
    assert item.text == "brace set 12.0 on 12.5 spacing"
    assert "opened again" in item.sentence()


def test_a_claim_of_no_evidence_does_not_undo_a_closing_on_evidence() -> None:
    (item,) = punch_items([OPENED, CLOSED, entry("closed", 9)])
    assert not item.open


ENTRIES = st.builds(
    entry,
    st.sampled_from(["opened", "closed", "reopened"]),
    st.integers(1, 28),
    item=st.sampled_from(["P-1", "P-2"]),
    evidence=st.sampled_from(["", "photo"]),
    text=st.sampled_from(["", "loose nut"]),
)


@given(entries=st.lists(ENTRIES, max_size=8), data=st.data())
def test_order_and_repetition_of_entries_change_nothing(
    entries: list[PunchEntry], data: st.DataObject
) -> None:
    mixed = data.draw(st.permutations([*entries, *entries[:2]]))
    by_id = {item.id: item for item in punch_items(entries)}
    assert {item.id: item for item in punch_items(mixed)} == by_id
    assert sum(len(item.history) for item in by_id.values()) == len(set(entries))


@given(entries=st.lists(ENTRIES, max_size=8))
def test_nothing_closes_without_evidence(entries: list[PunchEntry]) -> None:
    for item in punch_items(entries):
        if not item.open:
            assert any(one.action == "closed" and one.evidence for one in item.history)


@pytest.mark.parametrize("changes", [{"item": ""}, {"structure": " "}, {"action": "forgotten"}])
def test_what_cannot_be_is_refused(changes: dict[str, object]) -> None:
    values = {"item": "P-1", "structure": "3/4", "action": "opened", "on": date(2026, 5, 1), **changes}
    with pytest.raises(ValueError, match=r"names no item|forgotten"):
        PunchEntry(**values)  # type: ignore[arg-type]
