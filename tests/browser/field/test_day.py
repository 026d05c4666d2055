"""A crew's day: loaded in the morning, no signal from seven to five, a killed browser, all sent once."""

from __future__ import annotations

import collections
import time
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser

#: What the crew does: structure, step, pole. 24 places in order of work, most of them twice (pole A, pole B).
PLACES = [f"{mile}/{number}" for mile in range(13, 19) for number in (1, 2, 3, 4)]
WORK = [
    *((number, "dug", pole) for number in PLACES[:12] for pole in "AB"),
    *((number, "framed", "") for number in PLACES[8:24]),
]


def photo_bytes(page: Page) -> int:
    size: int = page.evaluate(
        """async () => {
          const { all } = await import('/static/js/field/db.js');
          return (await all('photos')).reduce((sum, photo) => sum + photo.data.byteLength, 0);
        }"""
    )
    return size


def test_a_day_without_a_signal_arrives_whole(
    field: Any,
    kept_phone: Any,
    picture: Callable[..., dict[str, Any]],
    record_testsuite_property: Callable[[str, object], None],
) -> None:
    assert len(WORK) == 40
    phone = kept_phone.switch_on()
    phone.load()
    phone.go("send")
    phone.belong("Heron")
    field.signal.lost()
    began = time.monotonic()
    for done, (number, step, pole) in enumerate(WORK):
        if done % 8 == 0:
            phone.go("record", number, s=step)
            phone.page.set_input_files("input[name=photo]", picture(400, seed=done, name=f"{number}.png"))
            expect(phone.page.locator("[data-photos]")).to_contain_text("1 photo with this record")
            phone.tap(f"[data-do=save][data-pole='{pole}']")
            phone.page.locator("#toast", has_text=f"at {number}").wait_for()
        else:
            phone.record(number, step, pole)
    record_testsuite_property("seconds_per_record", round((time.monotonic() - began) / len(WORK), 2))
    written = phone.waiting()
    assert len(written) == 40
    assert kept_phone.kill() >= 2

    phone = kept_phone.switch_on()
    page = phone.open("send")
    expect(page.locator("h2").first).to_have_text("To send: 40 records, 5 photos")
    assert {entry["id"] for entry in phone.waiting()} == {entry["id"] for entry in written}
    kept_bytes = photo_bytes(page)
    phone.go("card", PLACES[0])
    expect(page.locator(".steps")).to_contain_text("this phone")
    assert field.events() == []

    field.signal.back()
    phone.send_all()
    events = field.events()
    assert collections.Counter(event["id"] for event in events) == collections.Counter(
        entry["id"] for entry in written
    )
    assert [(event["structure"], event["step"], event.get("pole", "")) for event in events] == WORK
    assert {event["crew"] for event in events} == {"Heron"}
    pictures = [identifier for event in events for identifier in event.get("photos", [])]
    assert len(pictures) == 5
    got = [field.server.get(f"/api/photos/{identifier}") for identifier in pictures]
    assert {answer.headers["content-type"] for answer in got} == {"image/jpeg"}
    assert sum(len(answer.content) for answer in got) == kept_bytes
    assert phone.waiting() == []
    assert phone.strangers() == []
    assert phone.complaints == []


def test_upload_interrupted_ten_times_goes_on_where_it_stopped(
    field: Any,
    phone: Callable[..., Any],
    picture: Callable[..., dict[str, Any]],
    record_testsuite_property: Callable[[str, object], None],
) -> None:
    one = phone()
    page = one.page
    one.go("record", "19/4", s="dug")
    page.set_input_files("input[name=photo]", picture(1500))
    expect(page.locator("[data-photos]")).to_contain_text("1 photo with this record")
    field.signal.lost()
    one.tap("[data-do=save][data-pole=A]")
    page.locator("#toast", has_text="On this phone").wait_for()
    page.wait_for_selector("html[data-view='card']", state="attached")
    size = photo_bytes(page)
    assert size > 4 * 256 * 1024
    field.signal.back()
    # the record goes first; then every connection breaks after part of a part, or after some whole ones
    field.signal.cuts = [*(30_000 * turn for turn in range(1, 8)), 300_000, 300_000, 300_000]
    asked = len(one.requests)
    while field.signal.cuts:
        one.send()
        page.locator("button[data-do=send]:not([disabled])").wait_for()
    one.send_all()
    assert field.signal.breaks == 10
    (event,) = field.events()
    (identifier,) = event["photos"]
    assert len(field.server.get(f"/api/photos/{identifier}").content) == size
    parts = [url for url in one.requests[asked:] if "/api/photos/" in url and "total=" in url]
    record_testsuite_property("parts_sent", len(parts))
    record_testsuite_property("parts_needed", -(-size // (256 * 1024)))
    assert len(parts) <= -(-size // (256 * 1024)) + 10


def test_lost_answer_makes_no_second_event(field: Any, phone: Callable[..., Any]) -> None:
    one = phone()
    field.signal.lost()
    one.record("19/1", "dug", "A")
    field.signal.back()
    field.signal.lose_answers = 1
    one.send()
    one.page.locator(".hold", has_text="the server did not answer").wait_for()
    expect(one.page.locator(".rows").first).to_contain_text("tried, not acknowledged")
    assert len(field.events()) == 1
    one.send_all()
    assert field.signal.posts == 2
    assert len(field.events()) == 1


def test_two_tabs_send_each_record_once(field: Any, phone: Callable[..., Any]) -> None:
    one = phone()
    field.signal.lost()
    for pole in "AB":
        one.record("19/2", "dug", pole)
    two = type(one)(one.page.context.new_page(), field.signal.url)
    two.open("send")
    expect(two.page.locator("h2").first).to_have_text("To send: 2 records, 0 photos")
    one.go("send")
    field.signal.back()
    one.page.evaluate("document.querySelector('[data-do=send]').click()")
    two.page.evaluate("document.querySelector('[data-do=send]').click()")
    for tab in (one, two):
        tab.page.locator("h2", has_text="To send: 0 records").wait_for()
    assert field.signal.posts == 1
    assert len(field.events()) == 2


def test_slip_of_the_finger_is_taken_back_before_it_leaves(field: Any, phone: Callable[..., Any]) -> None:
    one = phone()
    one.record("19/3", "dug", "A")
    one.tap("#toast [data-do=undo]")
    one.page.locator("#toast", has_text="Taken back").wait_for()
    assert one.waiting() == []
    expect(one.page.locator(".steps")).not_to_contain_text("this phone")
    one.send_all()
    assert field.events() == []


@pytest.mark.parametrize("known", [True, False], ids=["acknowledged", "answer lost"])
def test_what_may_have_left_is_withdrawn_and_stays_in_the_history(
    field: Any, phone: Callable[..., Any], known: bool
) -> None:
    number = "20/1" if known else "20/2"
    one = phone()
    one.record(number, "dug", "A")
    if known:
        one.send_all()
    else:
        # on a connection that was open already the browser itself would ask again
        field.signal.lost()
        field.signal.back()
        field.signal.lose_answers = 1
        one.send()
        one.page.locator(".hold", has_text="the server did not answer").wait_for()
    one.page.locator(".rows [data-do=undo]").first.tap()
    one.page.locator("#toast", has_text="Withdrawn").wait_for()
    one.send_all()
    first, second = field.events()
    assert (second["result"], second["supersedes"]) == ("withdrawn", first["id"])
    one.go("card", number)
    row = one.page.locator(".steps tr", has_text="dug")
    expect(row).to_contain_text("open")
    expect(one.page.locator(".history")).to_contain_text("withdrawn")


def test_two_crews_claim_one_structure_and_both_are_told(field: Any, phone: Callable[..., Any]) -> None:
    heron, otter = phone(crew="Heron"), phone(crew="Otter")
    field.signal.lost()
    for one in (heron, otter):
        one.go("card", "20/5")
        one.tap("[data-do=claim]")
        expect(one.page.locator(".claims")).to_contain_text("not confirmed")
    field.signal.back()
    heron.send_all()
    otter.send_all()
    expect(otter.page.locator(".rows").nth(1)).to_contain_text("talk to each other")
    heron.send_all()
    heron.tap("[data-do=send]")
    for one in (heron, otter):
        one.go("card", "20/5")
        expect(one.page.locator("main")).to_contain_text("TWO CREWS")
    assert {claim["crew"] for claim in field.server.get("/api/claims").json()["claims"]} == {"Heron", "Otter"}


def test_a_refused_record_stays_on_the_phone_and_is_said(field: Any, phone: Callable[..., Any]) -> None:
    """Another phone's identifier, taken: the server refuses this one record and keeps the other."""
    one = phone()
    field.signal.lost()
    one.record("20/3", "dug", "A")
    one.record("20/4", "dug", "A")
    first = one.waiting()[0]["body"]
    taken = {**first, "note": "somebody else's"}
    answer = field.server.post("/api/events", json={"sent_at": first["happened_at"], "events": [taken]})
    assert answer.json()["results"][0]["outcome"] == "stored"
    field.signal.back()
    one.send()
    rows = one.page.locator(".rows").first
    rows.locator(".bad", has_text="REFUSED").wait_for()
    expect(one.page.locator("h2").first).to_have_text("To send: 1 record, 0 photos")
    assert sorted(event["structure"] for event in field.events()) == ["20/3", "20/4"]
