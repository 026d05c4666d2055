"""The punch list closes on evidence only, and a reopened item keeps what was written before."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.record.chain import canonical_json
from linemap.domain.record.event import Event
from linemap.domain.record.punch import (
    PunchAction,
    PunchEntry,
    entries_of,
    punch_items,
    punch_words,
    read_punch,
)


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


def recorded(action: str, minute: int, *, photos: tuple[str, ...] = (), **said: str) -> Event:
    at = datetime(2026, 5, 8, 9, minute, tzinfo=UTC)
    return Event(
        id=f"{action} {minute}", line="North", structure="3/4", step="", what="punch", actor="Ada",
        happened_at=at, received_at=at, photos=photos,
        content=canonical_json({"item": "P-1", "action": action, **said}),
    )  # fmt: skip


def test_a_record_of_the_field_is_an_entry_of_the_item_its_list_opened() -> None:
    closed = recorded("closed", 10, photos=("a", "b"), evidence="bolt torqued", text="new bolt")
    (item,) = punch_items([OPENED, *entries_of([closed])])
    assert not item.open
    assert item.sentence().endswith("(closed 2026-05-08 on bolt torqued, 2 photos, for Heron)")
    assert item.history[-1].sentence == "closed 2026-05-08 by Ada on bolt torqued, 2 photos: new bolt"
    assert (item.history[-1].photos, item.history[-1].event) == (("a", "b"), closed.id)
    assert punch_words(closed) == "punch item P-1 closed: new bolt, on bolt torqued, 2 photos"


def test_on_one_day_the_clock_says_what_came_last_and_a_list_came_before_the_field() -> None:
    events = [
        recorded("opened", 1, text="loose"),
        recorded("closed", 20, evidence="tight"),
        recorded("reopened", 10, text="loose still"),
    ]
    (item,) = punch_items(entries_of(events))
    assert not item.open, "closed at 9:20, after it was opened again at 9:10"
    (item,) = punch_items([*entries_of([recorded("reopened", 30)]), OPENED, CLOSED])
    assert item.open, "the list closed it that day, the field opened it again"


def test_a_photo_alone_closes_and_nothing_closes_nothing() -> None:
    opened = recorded("opened", 1, text="loose")
    (item,) = punch_items(entries_of([opened, recorded("closed", 2, photos=("a",))]))
    assert not item.open
    (item,) = punch_items(entries_of([opened, recorded("closed", 2)]))
    assert item.open
    assert item.finding == "closed 2026-05-08 without evidence: still open"


def test_what_is_taken_back_corrected_or_blanked_is_no_entry() -> None:
    opened, closed = recorded("opened", 1, text="loose"), recorded("closed", 2, evidence="tight")
    back = replace(closed, id="back", result="withdrawn", supersedes=closed.id)
    (item,) = punch_items(entries_of([opened, closed, back], corrected={closed.id}))
    assert item.open
    assert not [*entries_of([replace(opened, content="")])]
    assert punch_words(replace(opened, content="")) == "punch item"


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"item": "", "text": "loose"}, "names no item"),
        ({"text": ""}, "says not what is wrong"),
        ({"text": "loose", "action": "mended"}, "'mended'"),
        ({"text": "loose", "due": "soon"}, "no date"),
        ({"text": "loose", "colour": "red"}, "colour"),
        ({"text": "x" * 2001}, "text of at most 2000"),
    ],
)
def test_a_content_that_cannot_be_an_entry_is_refused_in_words(said: dict[str, str], why: str) -> None:
    content = canonical_json({"item": "P-1", "action": "opened", **said})
    with pytest.raises(ValueError, match=why):
        read_punch(replace(recorded("opened", 1), content=content))


def test_a_closing_by_another_role_than_the_job_names_is_kept_and_closes_nothing() -> None:
    opened = recorded("opened", 1, text="loose")
    crew = replace(recorded("closed", 2, evidence="tight"), role="crew")
    inspector = replace(recorded("closed", 3, evidence="seen"), role="inspector")
    (item,) = punch_items(entries_of([opened, crew]), closers=("inspector", "manager"))
    assert item.open
    assert item.finding == "said to be done 2026-05-08: to be closed by inspector or manager"
    (item,) = punch_items(entries_of([opened, crew, inspector]), closers=("inspector", "manager"))
    assert not item.open
    (item,) = punch_items(entries_of([opened, crew]))
    assert not item.open, "no role is named"
