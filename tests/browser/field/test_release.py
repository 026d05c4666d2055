"""The release of a hold on the hold itself: offered to whom it names, on the map and in the field."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from linemap.domain.record.person import Role

pytestmark = pytest.mark.browser

LINE = "Brindle Gap - Amber Sill 115 kV"
OFFICE = ("environmental lead",)


def releases_of(page: Page, hold: str) -> list[dict[str, Any]]:
    holds: list[dict[str, Any]] = page.evaluate(
        "async () => (await (await fetch('/api/holds')).json()).holds"
    )
    found: list[dict[str, Any]] = next(each for each in holds if each["id"] == hold)["releases"]
    return found


def test_the_one_a_hold_names_releases_it_at_the_structure(office: Any) -> None:
    page = office.page_of("Ada Marrow", Role.INSPECTOR, releases=OFFICE)
    page.goto(f"{office.url}/field")
    page.get_by_text("structures on the phone").or_(page.locator(".next")).first.wait_for()
    office.card(page, "7/3")
    page.locator(".release summary", has_text="Release hold HW-1").click()
    expect(page.locator(".release")).to_contain_text("Signed as Ada Marrow")
    page.locator(".release button").click()
    assert releases_of(page, "HW-1") == []  # nothing was written of what ends it
    page.locator(".release textarea").fill("mats in place, photo 14")
    page.locator(".release button").click()
    expect(page.locator("#toast")).to_contain_text("hold HW-1 released")
    (release,) = releases_of(page, "HW-1")
    assert (release["who"], release["role"], release["evidence"]) == (
        "Ada Marrow",
        "inspector",
        "mats in place, photo 14",
    )
    assert dt.datetime.fromisoformat(release["recorded_at"]).utcoffset() is not None


def test_nobody_else_is_offered_it(office: Any) -> None:
    for name, role in (("Rae Holm", Role.CREW), ("Ida Penn", Role.INSPECTOR)):
        page = office.page_of(name, role)
        page.goto(f"{office.url}/field")
        page.locator(".next, .line").first.wait_for()
        office.card(page, "7/3")
        expect(page.locator(".hold", has_text="until 29 May 2026")).to_be_visible()
        page.wait_for_load_state("networkidle")
        expect(page.locator(".release")).to_have_count(0)


def test_it_stands_on_the_map_too(office: Any) -> None:
    page = office.page_of("Ada Marrow", Role.INSPECTOR, releases=OFFICE)
    page.set_viewport_size({"width": 1300, "height": 900})
    page.goto(f"{office.url}/#structure=7/3")
    page.reload()
    page.locator(".release summary", has_text="Release hold HW-1").click()
    page.locator("[data-hold] textarea").fill("mats in place")
    page.locator("[data-hold] button").click()
    expect(page.locator("[data-hold] [data-said]")).to_contain_text("Recorded: hold HW-1 released")
    assert len(releases_of(page, "HW-1")) == 1
