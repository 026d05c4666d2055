"""Records by section in the browser: every number opens the list behind it, by keyboard too."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect
from watched_page import opened

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("phone", [False, True])
def test_a_number_opens_the_structures_behind_it(
    watch: Callable[..., Any], demo_url: str, phone: bool
) -> None:
    page = opened(watch(phone=phone), f"{demo_url}/progress")
    head = page.get_by_role("rowheader", name="set", exact=True)
    row = page.locator("#closeout tr").filter(has=head)
    number = row.get_by_role("button", name="lack").first
    count = int(number.inner_text().split()[0])
    number.focus()
    page.keyboard.press("Enter")
    listed = page.locator("#behind .places a")
    expect(listed).to_have_count(count)
    expect(page.locator("#behind-title")).to_contain_text("set: not recorded")
    assert listed.first.get_attribute("href").startswith("/#structure=")
    page.keyboard.press("Escape")
    expect(number).to_be_focused()
    page.locator("#closeout").get_by_role("button", name="By mile").click()
    expect(page.locator("#closeout-title")).to_have_text("Records by mile")
    expect(page.locator("#closeout thead th").nth(1)).to_have_text("mile 1")
