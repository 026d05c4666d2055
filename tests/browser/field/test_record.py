"""Recording with what proves a step, correcting it afterwards, and no second tap that saves by mistake."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

from linemap.service.view.structure import wrong_at
from linemap.service.view.view import JobView

pytestmark = pytest.mark.browser


def test_whoever_leaves_while_a_record_is_kept_is_not_taken_back(
    field: Any, phone: Callable[..., Any]
) -> None:
    one = phone()
    one.go("record", "22/3", s="dug")
    one.page.locator("[data-do=save][data-pole=A]:enabled").wait_for()
    one.page.evaluate(
        "() => { document.querySelector('[data-do=save][data-pole=A]').click(); location.hash = 'v=send'; }"
    )
    one.page.locator("#toast", has_text="On this phone").wait_for()
    one.page.locator("[data-do=send]").wait_for()
    one.page.wait_for_timeout(300)
    assert one.page.evaluate("location.hash") == "#v=send"
    one.send_all()
    assert [event["structure"] for event in field.events()] == ["22/3"]


def test_readings_of_a_step_are_fields_with_their_units(field: Any, phone: Callable[..., Any]) -> None:
    one = phone()
    one.go("record", "22/1", s="set")
    page = one.page
    expect(page.locator(".wanted")).to_contain_text("every pole, depth, level, photo")
    page.locator("[name='depth.A']").fill("9")
    page.locator("[name='depth.A.in']").fill("6")
    page.locator("[name=level]").select_option("yes")
    page.locator(".extras summary").tap()
    page.locator("[name=low]").fill("0.5")
    page.locator("[name='low.pole']").select_option("B")
    page.locator("[name=note]").fill("rock at 7 ft")
    one.tap("[data-do=save][data-pole=A]")
    page.locator("#toast", has_text="On this phone").wait_for()
    page.wait_for_selector("html[data-view='card']", state="attached")
    one.send_all()
    (event,) = field.events()
    assert event["note"] == "rock at 7 ft"
    assert event["readings"] == [
        {"name": "depth", "value": 9.5, "unit": "ft"},
        {"name": "level", "value": True},
        {"name": "low", "value": 0.5, "unit": "in", "pole": "B"},
    ]
    one.open("card", "22/1")
    expect(page.locator(".history li").first).to_contain_text("depth 9.5 ft, arm level, arm 0.5 in low at B")


def test_a_reading_that_cannot_be_is_refused_beside_its_box_and_nothing_typed_is_lost(
    field: Any, phone: Callable[..., Any]
) -> None:
    one = phone()
    one.go("record", "22/1", s="dug")
    page = one.page
    said = page.locator("[data-fault]")
    page.locator(".extras summary").tap()
    for typed, words in (
        ("95", "Depth at A: 95 cannot be; it lies between 0.5 and 60 ft"),
        ("nine", "Depth at A: nine is no number in ft, like 9.5 or 9-6"),
    ):
        page.locator("[name='depth.A']").fill(typed)
        one.tap("[data-do=save][data-pole=A]")
        expect(said).to_have_text(f"NOT SAVED. {words}")
        expect(page.locator("[name='depth.A']")).to_be_focused()
    page.locator("[name='depth.A']").fill("")
    page.locator("[name='depth.B']").fill("9-6")
    one.tap("[data-do=save][data-pole=A]")
    expect(said).to_contain_text("Depth of pole B is filled in: save B first, or all poles")
    page.reload()
    page.wait_for_selector("html[data-ready]")
    expect(page.locator("[name='depth.B']")).to_have_value("9-6")
    one.tap("[data-do=save][data-pole=B]")
    page.locator("#toast", has_text="On this phone").wait_for()
    page.wait_for_selector("html[data-view='card']", state="attached")
    one.send_all()
    (event,) = field.events()
    assert (event["pole"], event["readings"]) == ("B", [{"name": "depth", "value": 9.5, "unit": "ft"}])


def test_a_correction_replaces_a_record_and_both_stay(field: Any, phone: Callable[..., Any]) -> None:
    one = phone()
    one.go("record", "22/2", s="grounded")
    one.page.locator("[name=ohms]").fill("84")
    one.page.locator(".extras summary").tap()
    one.page.locator("[name=wind]").fill("12")
    one.tap("[data-do=save]")
    one.page.wait_for_selector("html[data-view='card']", state="attached")
    one.send_all()
    one.page.locator(".rows a", has_text="Correct").first.tap()
    expect(one.page.locator("form.record .note").first).to_contain_text(
        "Corrects the record grounded at 22/2"
    )
    expect(one.page.locator("[name=ohms]")).to_have_value("84")
    one.page.locator("[name=ohms]").fill("8.4")
    one.tap("[data-do=save]")
    one.page.wait_for_selector("html[data-view='card']", state="attached")
    one.send_all()
    first, second = field.events()
    assert (second["supersedes"], second.get("result", "done")) == (first["id"], "done")
    wind = {"name": "wind", "value": 12.0, "unit": "mph"}
    assert first["readings"] == [{"name": "ohms", "value": 84.0, "unit": "ohms"}, wind]
    assert second["readings"] == [{"name": "ohms", "value": 8.4, "unit": "ohms"}, wind]
    assert not second.get("note")
    row = one.page.locator(".rows li", has_text="grounded at 22/2")
    expect(row).to_have_count(2)
    expect(row.locator("a", has_text="Correct")).to_have_count(1)


def test_what_stops_a_step_stands_before_its_record_and_before_no_other(reader: Any) -> None:
    """15/2 was spotted before Rev C moved it: framing is built on that, staking is what ends it."""
    stop = reader.page.locator(".hold", has_text="hub is from before the move of 8.00 ft: restake")
    reader.go("record", "15/2", s="framed")
    expect(stop).to_contain_text("STOP")
    reader.go("record", "15/2", s="staked")
    expect(reader.page.locator("h1", has_text="staked")).to_be_visible()
    expect(stop).to_have_count(0)


def test_a_frame_that_is_wrong_is_the_first_thing_on_its_card(reader: Any, demo_view: JobView) -> None:
    first = reader.page.locator(".card > .hold").first
    failed = [row for row, verdict in enumerate(demo_view.checks.verdict) if str(verdict) == "fail"]
    assert failed
    for row in failed:
        reader.go("card", demo_view.key(row)[1])
        heading = "REVERSED" if demo_view.checks.reversed[row] else "FRAME FAILS"
        expect(first).to_contain_text(heading)
        expect(first).to_contain_text(wrong_at(demo_view, row)[0])


def test_work_not_accepted_stands_first_and_in_what_is_next_before_it_is_sent(
    field: Any, phone: Callable[..., Any]
) -> None:
    one = phone()
    field.signal.lost()
    one.go("record", "13/6", s="framed")
    one.page.locator(".extras summary").tap()
    one.page.locator("[name=rejected]").check()
    one.tap("[data-do=save][data-pole='']")
    first = one.page.locator(".card > .hold").first
    expect(first).to_contain_text("WRONG framed not accepted, recorded on this phone")
    one.go("next", "13/6")
    expect(one.page.locator(".next .hold.wrong")).to_contain_text("13/6")
    expect(one.page.locator(".next-row", has_text="13/6")).to_contain_text("WRONG framed not accepted")
    one.go("line", "")
    one.page.locator("details.mile", has_text="Mile 13:").locator("summary").tap()
    expect(one.page.locator(".cell", has_text="13/6")).to_contain_text("WRONG")


def test_what_appears_under_a_thumb_is_not_saved_by_its_second_tap(reader: Any) -> None:
    one = reader
    one.go("record", "9/2", s="dug")
    assert one.page.evaluate(
        """async () => {
          const { showRecord } = await import('/static/js/field/record.js');
          const { cardOf, headsNumbered } = await import('/static/js/field/pack.js');
          const card = await cardOf(headsNumbered('9/2')[0]);
          const main = document.getElementById('main');
          showRecord(main, card, 'dug');
          const save = () => [...main.querySelectorAll('.save-bar button')].map((button) => button.disabled);
          const before = save();
          await new Promise((resolve) => setTimeout(resolve, 600));
          return [before, save()];
        }"""
    ) == [[True, True, True], [False, False, False]]


def test_a_photo_is_seen_before_it_is_saved_and_can_be_left_out(
    phone: Callable[..., Any], picture: Callable[..., dict[str, Any]]
) -> None:
    one = phone()
    one.go("record", "22/4", s="set")
    one.page.set_input_files("input[name=photo]", [picture(300), picture(300, seed=2, name="IMG_2.png")])
    expect(one.page.locator("[data-photos]")).to_contain_text("2 photos with this record")
    shown = "images => images.map((image) => image.naturalWidth)"
    assert one.page.locator(".taken img").evaluate_all(shown) == [300, 300]
    one.tap("[data-do=drop]")
    expect(one.page.locator("[data-photos]")).to_contain_text("1 photo with this record")


def test_a_record_after_the_day_shown_stays_on_the_card(field: Any, phone: Callable[..., Any]) -> None:
    """The job is shown as of 15 May; a record of today is on the server and must not seem lost."""
    one = phone()
    one.record("22/5", "grounded")
    one.send_all()
    one.open("card", "22/5")
    row = one.page.locator(".steps tr", has_text="grounded")
    expect(row).to_contain_text("done")
    expect(row).to_contain_text("this phone")
