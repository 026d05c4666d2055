"""Framing marks beside the map, as a foreman reads them on a phone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser


def test_crew_reads_depths_marks_and_the_caution(watch: Callable[..., Any], demo_url: str) -> None:
    watched = watch(phone=True)
    page = watched.open(f"{demo_url}/#structure=6/4")
    section = page.locator("#panel section", has=page.locator("h3", has_text="Framing marks"))
    expect(section).to_contain_text("Dig A 9.77 ft, B 9.00 ft for a level arm", ignore_case=True)
    expect(section.locator("h4").first).to_contain_text("Pole A: 75.00 ft, 9.77 ft deep")
    arm = section.locator("tr", has=page.locator("th", has_text="arm"))
    expect(arm.first).to_contain_text("66'-0\"")
    expect(arm.last).to_contain_text("61'-0\"")
    expect(section.locator(".caution")).to_contain_text(
        "The owner's stamped drawing and specification govern"
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert watched.complaints == []


def test_an_inch_and_its_fraction_are_never_parted(watch: Callable[..., Any], demo_url: str) -> None:
    page = watch(phone=True).open(f"{demo_url}/#structure=3/4")
    section = page.locator("#panel section", has=page.locator("h3", has_text="Framing marks"))
    lower = section.locator("tr", has=page.locator("th", has_text="lower brace bolt")).first
    length = lower.locator(".whole", has_text="24'-9 3/8\"")
    expect(length).to_have_css("white-space", "nowrap")
    assert "24'-9 3/8" not in " ".join(section.locator(".sentences").all_text_contents())


def test_three_poles_have_depths_for_each(watch: Callable[..., Any], demo_url: str) -> None:
    page = watch().open(f"{demo_url}/#structure=5/5")
    section = page.locator("#panel section", has=page.locator("h3", has_text="Framing marks"))
    expect(section.locator("h4")).to_have_count(3)
    expect(section).to_contain_text("A 9.50 ft, B 10.13 ft, C 10.76 ft")
    expect(section).not_to_contain_text("brace bolt")
