"""The progress page as a manager uses it: the number, the list behind it, the chart and its table."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect
from watched_page import LOOKS, opened, violations

pytestmark = pytest.mark.browser


def test_the_morning_call_is_answered_above_the_fold(watch: Callable[..., Any], demo_url: str) -> None:
    watched = watch()
    page = opened(watched, f"{demo_url}/progress")
    head = page.locator("#head")
    expect(head).to_contain_text("59 of 121 set, 68 planned by Fri 15 May 2026: 9 behind")
    expect(head).to_contain_text("all but one set about Thu 2 Jul 2026")
    expect(head).to_contain_text("last structure (14/2) not before Mon 17 Aug 2026")
    assert (head.bounding_box() or {"y": 9e9})["y"] < 400
    assert watched.complaints == []
    assert watched.strangers() == []


def test_a_number_opens_the_list_behind_it(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/progress")
    row = page.locator("#counts tr", has_text="set").filter(
        has=page.get_by_role("rowheader", name="set", exact=True)
    )
    button = row.get_by_role("button", name="59: set: done")
    button.click()
    dialog = page.locator("#behind")
    expect(dialog).to_contain_text("59 structures")
    expect(dialog.get_by_role("link", name="12/3", exact=True)).to_have_attribute("href", "/#structure=12/3")
    assert dialog.get_by_role("link").count() == 59
    page.keyboard.press("Escape")
    expect(dialog).not_to_be_visible()
    expect(button).to_be_focused()


def test_charts_have_their_table(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/progress")
    expect(page.locator("#curve svg").first).to_be_visible()
    page.locator("#curve summary").click()
    cells = page.locator("#curve tr", has_text="2026-05-11").locator("td")
    assert cells.all_inner_texts() == ["68", "59"]
    page.locator("#strip summary").click()
    mile = page.locator("#strip tr").filter(has=page.get_by_role("rowheader", name="7", exact=True))
    expect(mile).to_contain_text("4 of 6")
    expect(mile).to_contain_text("7/3, 7/4")


def test_another_day_is_shown_and_its_address_can_be_sent(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/progress")
    page.locator("input[name=as_of]").fill("2026-04-24")
    page.get_by_role("button", name="Show", exact=True).click()
    expect(page.locator("#head")).to_contain_text("33 of 121 set, 40 planned")
    assert "as_of=2026-04-24" in page.url
    again = opened(watch(), page.url)
    expect(again.locator("#head")).to_contain_text("33 of 121 set, 40 planned")


def test_what_was_known_on_a_day(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/progress")
    page.locator("input[name=known_by]").fill("2026-05-12")
    page.get_by_role("button", name="Show", exact=True).click()
    expect(page.locator("#head")).to_contain_text("As known by 2026-05-12")
    expect(page.locator("#head")).to_contain_text("58 of 121 set")


def test_a_refusal_is_read_out_and_the_page_stays(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/progress")
    page.route("**/api/progress?*", lambda route: route.abort())
    page.get_by_role("button", name="Show", exact=True).click()
    expect(page.get_by_role("alert")).to_contain_text("no contact with the server")
    expect(page.locator("#head")).to_contain_text("59 of 121 set")


def test_report_of_a_day(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/progress")
    page.locator("#period-days input[name=first]").fill("2026-05-13")
    page.locator("#period-days input[name=last]").fill("2026-05-13")
    page.get_by_role("button", name="Show the report").click()
    row = page.locator("#period tr", has_text="Heron")
    expect(row).to_contain_text("3 framed")
    expect(row).to_contain_text("13/1, 13/3, 13/4")
    expect(page.locator("#period")).to_contain_text("framed recorded twice: Heron, Raven")


@pytest.mark.parametrize(("phone", "scheme"), LOOKS)
def test_page_is_accessible_and_fits(
    watch: Callable[..., Any], demo_url: str, phone: bool, scheme: str
) -> None:
    watched = watch(phone=phone, scheme=scheme)
    page = opened(watched, f"{demo_url}/progress")
    for summary in page.locator("summary").all():
        summary.click()
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert watched.complaints == []


def test_paper_has_the_tables_and_no_controls(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/progress")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    expect(page.locator("#filter")).not_to_be_visible()
    expect(page.locator("#curve table")).to_be_visible()
    expect(page.locator("#strip table")).to_be_visible()
    expect(page.locator("#caution")).to_contain_text("Treat every wire as energized")


def test_a_viewer_is_offered_no_sheet_that_would_be_refused(watch: Callable[..., Any], demo_url: str) -> None:
    viewer = {"signed_in": True, "name": "Guest", "role": "viewer", "device": "", "local": False}
    watched = watch()
    watched.page.route("**/api/session", lambda route: route.fulfill(json=viewer))
    page = opened(watched, f"{demo_url}/progress")
    expect(page.locator("#head")).to_contain_text("59 of 121 set")
    expect(page.locator("#sheets")).to_be_hidden()


def test_the_sheets_to_print_are_of_the_day_shown(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/progress?as_of=2026-04-24")
    links = page.locator("#sheets a")
    assert [text.strip() for text in links.all_inner_texts()] == [
        "Progress report, letter",
        "Progress report, A4",
        "Progress strip, letter",
        "Progress strip, A4",
    ]
    for place in range(4):
        address = links.nth(place).get_attribute("href") or ""
        assert "as_of=2026-04-24" in address
        answer = page.request.get(f"{demo_url}{address}")
        assert (answer.status, answer.headers["content-type"]) == (200, "application/pdf")
