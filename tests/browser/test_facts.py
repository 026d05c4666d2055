"""Recording what was seen, on the panel of a structure."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import expect
from watched_page import violations

pytestmark = pytest.mark.browser


def test_the_ground_wire_of_2_3_is_recorded_and_settles_labels_or_frame(
    watch: Callable[..., Any], job_url: str
) -> None:
    watched = watch()
    page = watched.page
    page.goto(f"{job_url}/#structure=2/3")
    form = page.locator(".record-fact form")
    page.locator(".record-fact summary").click()
    expect(form.get_by_label("Length burned in, ft")).to_be_visible()
    form.get_by_label("What was seen").select_option("ground wire")
    expect(form.get_by_label("Length burned in, ft")).to_have_count(0)
    expect(form.get_by_label("Day it was seen")).to_have_value("2026-05-15")
    form.locator("select[name=pole]").select_option("A")
    form.get_by_label("Your name").fill("R. Calder")
    form.get_by_role("button", name="Record it").click()
    said = page.locator(".record-fact [data-said]")
    expect(said).to_contain_text("second evidence: labels reversed")
    expect(said).to_contain_text("before: still open")
    assert violations(page, "#panel") == []
    said.get_by_role("button", name="Show 2/3 with it").click()
    expect(page.locator("#panel")).to_contain_text("R. Calder, 2026-05-15")
    assert watched.strangers() == []
