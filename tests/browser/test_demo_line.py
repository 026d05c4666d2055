"""The invented line, served by the real application, looked at as its three readers would."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser


def test_surveyor_sees_the_turned_arm(watch: Callable[..., Any], demo_url: str) -> None:
    """8/2 was set 4.2 degrees off in the generator's plan; its shots say 4.4 with their noise."""
    watched = watch()
    page = watched.open(f"{demo_url}/#structure=8/2")
    panel = page.locator("#panel")
    expect(panel.locator(".verdict-word")).to_have_text("fail")
    expect(panel.locator(".sentences").first).to_contain_text("arm turned 4.4° clockwise")
    expect(panel.locator(".sketch")).to_contain_text("A set 0.49 ft ahead")
    expect(panel.locator(".landmark")).to_contain_text("back to 8/1, face 8/3: pole A is on your left")
    assert watched.complaints == []
    assert watched.strangers() == []


def test_surveyor_sees_a_reversed_frame_as_reversed(watch: Callable[..., Any], demo_url: str) -> None:
    page = watch().open(f"{demo_url}/#structure=6/4")
    expect(page.locator(".reversed")).to_have_text("A and B the other way round")
    expect(page.locator(".holds")).to_contain_text("no wire at 6/4")
    expect(page.locator(".sketch")).to_contain_text("as surveyed, A and B are the other way round")
    heading = page.get_by_role("heading", name="Second evidence", exact=True)
    evidence = page.locator("#panel section", has=heading)
    expect(evidence).to_contain_text("frame turned")
    expect(evidence).to_contain_text("it is the 75-2 of pole A")
    page.locator(".filters summary").click()
    page.select_option("select[name=verdict]", label="A and B reversed")
    expect(page.locator(".shown")).to_have_text("8 of 121 structures")


def test_crew_finds_the_pipeline_by_its_station(watch: Callable[..., Any], demo_url: str) -> None:
    """The buried pipeline at 434+20.00 lies 39.5 ft ahead of 9/2 (433+80.50)."""
    page = watch(phone=True).open(demo_url)
    page.locator("input[name=text]").fill("434+20")
    hit = page.locator(".hits button")
    expect(hit).to_have_text("39.5 ft ahead of 9/2, before 9/3")
    hit.tap()
    expect(page.locator("#panel h2")).to_have_text("9/2")
    expect(page.locator("#panel .holds")).to_contain_text("gas pipeline")


def test_station_that_exists_twice_is_found_twice(watch: Callable[..., Any], demo_url: str) -> None:
    """953+52.50 stands before and after the second equation; the first is structure 18/6 itself."""
    page = watch().open(demo_url)
    page.locator("input[name=text]").fill("953+52.50")
    hits = page.locator(".hits button")
    expect(hits).to_have_count(2)
    expect(hits.nth(0)).to_contain_text("at structure 18/6 region 2")
    expect(hits.nth(1)).to_contain_text(re.compile(r"60\.[78] ft ahead of 18/6, before 19/1 region 3"))


def test_places_of_any_usual_writing_are_found(watch: Callable[..., Any], demo_url: str) -> None:
    page = watch().open(demo_url)
    box = page.locator("input[name=text]")
    box.fill("434+20 12 R")
    expect(page.locator(".hits button")).to_contain_text("12.0 ft right, between 9/2 and 9/3")
    box.press("Enter")
    expect(page.locator("#panel h2")).to_have_text("9/2")
    box.fill("N 914050.99 E 2276177.43")
    expect(page.locator(".hits button")).to_contain_text("298+97.02 (R1), 6.2 ft left")
    box.fill("471+00")
    expect(page.locator(".hits")).to_contain_text("471+00.00 lies in its gap")
    box.fill("hello 9")
    expect(page.locator(".hits")).to_contain_text("names no structure of the list, no station")


def test_manager_counts_the_stages(watch: Callable[..., Any], demo_url: str) -> None:
    """59 are set on 2026-05-15, of them 38 inspected; the last stage counts apart from the one before."""
    page = watch().open(demo_url)
    page.locator(".legend summary").click()
    counts = {
        row.locator("span").nth(1).inner_text(): int(row.locator(".legend-count").inner_text())
        for row in page.locator(".legend section").first.locator("li").all()
    }
    assert counts["set"] + counts["inspected"] == 59
    assert counts["inspected"] == 38
    assert sum(counts.values()) == 121
