"""Map, survey page and phone of a job that declares words for its poles, as people read them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

import httpx2
import pytest
from playwright.sync_api import expect
from pole_letters import letters_in
from watched_page import opened

pytestmark = pytest.mark.browser

LINE = "Brindle Gap - Amber Sill 115 kV"


@pytest.fixture
def worded_url(job_url: str) -> str:
    """Address of a copy of the invented line whose poles are called L and R."""
    changes = [{"name": "pole_words", "part": "", "text": "L/R"}]
    sent = {"changes": changes, "who": "Ode", "source": ""}
    assert httpx2.post(f"{job_url}/api/declarations", json=sent).status_code == 200
    return job_url


def test_the_office_reads_the_words_of_the_owner(
    watch: Callable[..., Any], worded_url: str, written: list[str]
) -> None:
    watched = watch()
    for number in ("2/3", "5/5"):
        page = watched.open(f"{worded_url}/#structure={number}")
        expect(page.locator("#panel h2")).to_have_text(number)
        page.locator(".filters summary").click()
        page.locator(".record-fact summary").click()
        page.locator("details.legend summary").click()
        assert "pole L is on your left" in page.inner_text("#panel")
        shown = page.locator("body").inner_text()
        assert not letters_in(*shown.split("\n"), *page.locator("option").all_inner_texts(), written=written)
        page.reload()
    page = opened(watched, f"{worded_url}/survey")
    expect(page.locator("#causes")).to_contain_text("L and R reversed")
    for details in page.locator("#causes details").all():
        details.evaluate("element => { element.open = true }")
    shown = page.locator("body").inner_text()
    assert not letters_in(*shown.split("\n"), *page.locator("option").all_inner_texts(), written=written)
    assert watched.complaints == []


def test_a_phone_reads_the_words_of_the_owner_and_records_letters(
    watch: Callable[..., Any], worded_url: str, written: list[str]
) -> None:
    watched = watch(phone=True)
    page = opened(watched, f"{worded_url}/field")
    expect(page.locator("body")).not_to_contain_text("Nothing on this phone yet")

    def go(view: str, **more: str) -> str:
        asked = urlencode({"v": view, "n": "14/1", "l": LINE, **more})
        page.evaluate("hash => { location.hash = hash }", asked)
        page.wait_for_selector(f"html[data-view='{view}']", state="attached")
        return page.locator("body").inner_text()

    expect(page.locator("nav").last).to_be_visible()
    go("card")
    page.locator("h1", has_text="14/1").wait_for()
    shown = page.locator("body").inner_text()
    go("record", s="set")
    page.locator("button.save.pole").first.wait_for()
    page.locator("details.extras summary").click()
    shown += page.locator("body").inner_text()
    page.locator("button.save.pole:not([disabled])").nth(1).click()
    page.wait_for_selector("html[data-view='card']", state="attached")
    shown += go("send")
    expect(page.locator("body")).to_contain_text("set, pole R at 14/1")
    shown += page.locator("body").inner_text()
    assert not letters_in(*shown.split("\n"), written=written)
    expect(page.locator("body")).to_contain_text("on the server")
    recorded = httpx2.get(f"{worded_url}/api/list", params={"kind": "records"}).json()
    names = [field["name"] for field in recorded["fields"]]
    rows = [dict(zip(names, row, strict=True)) for row in recorded["rows"]]
    there = [row["pole"] for row in rows if (row["structure"], row["step"]) == ("14/1", "set")]
    assert there == ["B"]
    assert watched.complaints == []
