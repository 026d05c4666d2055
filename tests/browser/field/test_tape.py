"""A crew checks a frame by tape on its phone, without a signal: keys, zones, verdict, what to move."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page, expect
from taped_frames import frame_design
from watched_page import faults

from linemap.domain.crew_check.frame import CheckVerdict
from linemap.domain.crew_check.record import judge_check

pytestmark = pytest.mark.browser

TANGENT, THREE = "8/2", "5/5"


class Taping:
    """A crew at one frame; `off` says how far a reading is from what is expected, by its words."""

    def __init__(self, page: Page, off: Callable[[str, int], float] = lambda words, turn: 0.0) -> None:
        self.page = page
        self.off = off
        self.taps = 0
        self.entries = 0
        self.asked: list[str] = []

    def tap(self, selector: str) -> None:
        self.page.locator(selector).tap()
        self.taps += 1

    def enter(self) -> None:
        """Type one reading with the page's own keys."""
        words = f"{self.page.locator('.from').inner_text()} {self.page.locator('.to').inner_text()}"
        expected = float(self.page.locator(".expected b").inner_text().split()[0])
        turn = self.asked.count(words)
        for sign in f"{100 * (expected + self.off(words, turn)):.0f}":
            self.tap(f"[data-tape=key][data-sign='{sign}']")
        self.asked.append(words)
        self.entries += 1
        self.tap(".key.next")

    def all(self) -> None:
        while self.page.locator("[data-entry]").count():
            self.enter()
        self.page.locator(".verdict").wait_for()

    @property
    def verdict(self) -> str:
        return str(self.page.locator(".verdict").get_attribute("data-verdict"))


def opened(one: Any, number: str) -> Page:
    one.open("card", number)
    page: Page = one.page
    page.get_by_text("Check the frame by tape").tap()
    page.locator(".frame-check").wait_for()
    return page


def test_a_quick_check_takes_four_entries_and_is_a_record_that_the_job_judges_alike(
    field: Any, phone: Callable[..., Any]
) -> None:
    one = phone()
    field.signal.lost()
    page = opened(one, TANGENT)
    crew = Taping(page)
    expect(page.locator(".stake-mark")).to_have_count(6)
    expect(page.locator(".stake-mark").first).to_contain_text("stake toward 8/1, 25 ft from A")
    crew.tap("[data-tape=start]")
    expect(page.locator(".from")).to_have_text("From stake toward 8/3, 25 ft from A")
    expect(page.locator(".to")).to_have_text("to pole A, the face nearest to the stake")
    expect(page.locator(".expected")).to_contain_text(re.compile(r"good 23\.\d\d to 25\.\d\d, again to"))
    crew.all()
    assert crew.verdict == "pass"
    assert [words.split(" to ")[0] for words in crew.asked] == [
        "From stake toward 8/3, 25 ft from A",
        "From stake toward 8/3, 25 ft from A",
        "From stake beyond B, 25 ft out",
        "From pole A, face toward B",
    ]
    crew.tap("[data-tape=save]")
    # four entries of four digits each with Next, and a tap to begin and to save
    assert (crew.entries, crew.taps) == (4, 22)
    expect(page.locator("#toast")).to_contain_text("check by tape at 8/2, pass")
    expect(page.locator(".history li").first).to_contain_text("check by tape: pass")
    field.signal.back()
    one.send_all()
    (event,) = field.events()
    assert event["what"] == "check"
    judged = judge_check(event["content"], frame_design())
    assert (judged.said, judged.verdict) == (CheckVerdict.PASS, CheckVerdict.PASS)
    for name, (value, sigma) in json.loads(event["content"])["quantities"].items():
        assert judged.quantities[name] == pytest.approx((value, sigma), abs=1e-5)


def test_a_turned_frame_is_taped_in_full_and_again_before_a_pole_is_named(
    field: Any, phone: Callable[..., Any]
) -> None:
    def turned(words: str, turn: int) -> float:
        """Pole B stands 0.40 ft too far back, as the stakes at A see it."""
        if "pole B, the face" not in words or "beyond" in words:
            return 0.0
        return 0.36 if "8/3" in words else -0.36

    one = phone()
    page = opened(one, TANGENT)
    crew = Taping(page, turned)
    crew.tap("[data-tape=start]")
    crew.all()
    assert (crew.verdict, crew.entries) == ("cannot tell", 4)
    expect(page.locator(".frame-check")).to_contain_text("a mistake would not show in them")
    crew.tap("[data-tape=go]")
    crew.all()
    assert (crew.verdict, crew.entries) == ("fail", 7)
    expect(page.locator(".frame-check")).to_contain_text("Move nothing yet")
    assert page.locator(".hold").count() == 0
    crew.tap("[data-tape=go]")
    crew.all()
    assert (crew.verdict, crew.entries) == ("fail", 14)
    expect(page.locator(".hold")).to_contain_text(re.compile(r"MOVE pole B 0\.4\d ft toward 8/3"))
    expect(page.locator(".found li").first).to_contain_text(re.compile(r"turned 1\.8\d° clockwise .* OUT"))
    crew.tap("[data-tape=save]")
    expect(page.locator("#toast")).to_contain_text("check by tape at 8/2, fail")
    # the full check: seven entries, taped twice, and six taps between
    assert crew.taps == 14 * 5 + 4
    one.send_all()
    (event,) = field.events()
    assert len(json.loads(event["content"])["readings"]) == 14
    judged = judge_check(event["content"], frame_design())
    assert (judged.said, judged.verdict, judged.why) == (CheckVerdict.FAIL, CheckVerdict.FAIL, "")
    ((letter, ahead, right),) = judged.moves
    assert (letter, right) == ("B", 0.0)
    assert ahead == pytest.approx(0.4, abs=0.03)


def test_a_misread_foot_is_named_and_two_readings_are_repeated(phone: Callable[..., Any]) -> None:
    def misread(words: str, turn: int) -> float:
        return 1.0 if "8/3" in words and "pole B, the face" in words and turn == 0 else 0.0

    page = opened(phone(), TANGENT)
    crew = Taping(page, misread)
    crew.tap("[data-tape=start]")
    crew.all()
    crew.tap("[data-tape=go]")
    crew.all()
    assert crew.verdict == "contradict"
    named = page.locator(".frame-check ul").first.locator("li")
    expect(named).to_have_count(2)
    assert any("toward 8/3" in text and "read 1.00 ft too long" in text for text in named.all_inner_texts())
    crew.tap("[data-tape=go]")
    crew.all()
    expect(page.locator(".frame-check")).to_contain_text("A third one decides")
    crew.tap("[data-tape=go]")
    crew.all()
    assert (crew.verdict, crew.entries) == ("pass", 10)


def test_lost_stakes_change_what_is_asked_until_nothing_proves_the_frame(phone: Callable[..., Any]) -> None:
    page = opened(phone(), TANGENT)
    page.locator(".stake-mark", has_text="stake toward 8/3, 25 ft from A").tap()
    expect(page.locator("[data-tape=start]")).to_contain_text("Tape 4 readings")
    page.locator("[data-tape=start]").tap()
    expect(page.locator(".from")).to_have_text("From stake toward 8/3, 25 ft from B")
    page.locator("[data-tape=back]").tap()
    for words in ("8/3, 25 ft from B", "8/1, 25 ft from A", "8/1, 25 ft from B"):
        page.locator(".stake-mark", has_text=words).tap()
    expect(page.locator(".hold")).to_contain_text("no readings from what stands prove this frame")
    expect(page.locator("[data-tape=start]")).to_have_count(0)
    page.locator(".stake-mark", has_text="8/1, 25 ft from B").tap()
    expect(page.locator("[data-tape=start]")).to_contain_text("Tape 5 readings")


def test_a_frame_between_its_limits_is_taped_with_readings_more_from_stakes_that_stand(
    phone: Callable[..., Any],
) -> None:
    def between(words: str, turn: int) -> float:
        """The poles stand 0.20 ft too far apart: right at the tolerance."""
        return {"From pole A, f": 0.20, "From stake bey": -0.10}.get(words[:14], 0.0)

    one = phone()
    page = opened(one, TANGENT)
    crew = Taping(page, between)
    crew.tap("[data-tape=start]")
    crew.all()
    crew.tap("[data-tape=go]")
    crew.all()
    assert (crew.verdict, crew.entries) == ("cannot tell", 7)
    expect(page.locator("ul.found")).to_contain_text(
        re.compile(r"spacing 12\.\d\d ft, 0\.\d\d ft too long .* unknown")
    )
    expect(page.locator(".frame-check li", has_text="25 ft from B to pole")).to_have_count(2)
    crew.tap("[data-tape=go]")
    crew.all()
    assert crew.entries == 9
    crew.tap("[data-tape=stakes]")
    page.locator(".stake-mark", has_text="8/3, 25 ft from B").tap()
    page.locator("[data-tape=start]").tap()
    crew.all()
    assert crew.verdict == "cannot tell"


def test_a_check_survives_a_page_that_is_closed_and_can_begin_anew(phone: Callable[..., Any]) -> None:
    page = opened(phone(), TANGENT)
    crew = Taping(page)
    crew.tap("[data-tape=start]")
    crew.enter()
    crew.enter()
    page.wait_for_timeout(200)
    page.reload()
    page.locator("[data-entry]").wait_for()
    expect(page.locator(".taping h1")).to_contain_text("reading 3 of 4")
    page.locator("[data-tape=back]").tap()
    expect(page.locator(".taping h1")).to_contain_text("reading 2 of 4")
    page.locator("[data-tape=back]").tap()
    page.locator("[data-tape=back]").tap()
    page.locator("[data-tape=start]").tap()
    crew.all()
    assert crew.verdict == "pass"


def test_typing_shows_the_zone_and_what_is_no_length_is_not_taken(phone: Callable[..., Any]) -> None:
    page = opened(phone(), TANGENT)
    page.locator("[data-tape=start]").tap()
    box, zone = page.locator("[name=read]"), page.locator("[data-zone]")
    for typed, said, words in (
        ("24.36", "good", "24.36 ft GOOD BY ITSELF"),
        ("24-4 3/8", "good", "24.36 ft GOOD BY ITSELF"),
        ("2546", "again", "25.46 ft TAPE IT AGAIN, 1.1"),
        ("26.36", "wrong", "26.36 ft WRONG, 2.00 ft long"),
    ):
        box.fill(typed)
        expect(zone).to_have_attribute("data-zone", said)
        expect(zone).to_contain_text(words)
    for typed in ("", "24.3.6", "2436000", "."):
        box.fill(typed)
        box.press("Enter")
        expect(page.locator(".taping h1")).to_contain_text("reading 1 of 4")
        expect(zone).to_have_attribute("data-zone", "wrong")
    box.fill("24.36")
    box.press("Enter")
    expect(page.locator(".taping h1")).to_contain_text("reading 2 of 4")


def test_girths_and_slope_go_into_what_is_expected(phone: Callable[..., Any]) -> None:
    page = opened(phone(), TANGENT)
    page.locator("[name='girth.A']").fill("4.8")
    page.locator("[data-tape=start]").tap()
    expect(page.locator("[data-fault]")).to_contain_text("4.8 in is no girth of pole A")
    page.locator("[name='girth.A']").fill("48.25")
    page.locator("[name='girth.B']").fill("50")
    page.locator("[name=slope]").check()
    page.locator("[data-tape=start]").tap()
    expect(page.locator(".expected b")).to_have_text(f"{25 - 48.25 / 12 / (2 * np.pi):.2f} ft")
    page.locator("[name=rise]").fill("4")
    page.locator("[name=read]").fill(f"{np.hypot(24.36, 4.0):.2f}")
    expect(page.locator("[data-zone]")).to_contain_text("GOOD BY ITSELF, as expected")
    page.locator("[name=rise]").fill("30")
    page.locator("[name=read]").press("Enter")
    expect(page.locator("[data-zone]")).to_contain_text("no length to there with that rise")


def test_three_poles_take_six_readings(phone: Callable[..., Any]) -> None:
    page = opened(phone(), THREE)
    if page.locator("[name=slope]").is_checked():
        page.locator("[name=slope]").uncheck()
    crew = Taping(page)
    crew.tap("[data-tape=start]")
    crew.all()
    assert (crew.verdict, crew.entries) == ("pass", 6)
    expect(page.locator(".found li")).to_have_count(6)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_wrong_with_its_three_pages(phone: Callable[..., Any], scheme: Any) -> None:
    page = opened(phone(), TANGENT)
    page.emulate_media(color_scheme=scheme)
    crew = Taping(page)
    assert faults(page) == []
    crew.tap("[data-tape=start]")
    assert faults(page) == []
    crew.all()
    assert faults(page) == []


@pytest.mark.parametrize("size", [(390, 844), (320, 568)], ids=["390x844", "320x568"])
def test_what_is_to_be_read_stands_above_the_keys_and_nothing_hangs_over(
    phone: Callable[..., Any], size: tuple[int, int]
) -> None:
    one = phone()
    one.page.set_viewport_size({"width": size[0], "height": size[1]})
    page = opened(one, TANGENT)
    page.locator("[data-tape=start]").tap()
    boxes = {
        name: page.locator(name).bounding_box() for name in (".from", ".to", ".expected", ".entry", ".keypad")
    }
    assert all(boxes.values())
    tops = [box["y"] for box in boxes.values() if box]
    assert tops == sorted(tops)
    said, entry, keys = boxes[".expected"], boxes[".entry"], boxes[".keypad"]
    assert said
    assert entry
    assert keys
    assert said["y"] + said["height"] <= entry["y"] + 1
    assert entry["y"] + entry["height"] <= keys["y"] + 1
    assert keys["y"] + keys["height"] <= size[1] + 1
    for key in page.locator(".key").all():
        box = key.bounding_box()
        assert box
        assert min(box["width"], box["height"]) >= 44
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
