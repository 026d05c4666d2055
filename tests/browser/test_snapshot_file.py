"""The snapshot, opened from the disk with the network cut."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from linemap.report.snapshot import read_assets, snapshot_html

pytestmark = pytest.mark.browser
HOSTILE = "</script><img src=x onerror=alert(1)>"


def test_opens_from_disk_without_a_network(
    watch: Callable[..., Any], make_sample: type[Any], tmp_path: Path
) -> None:
    sample = make_sample(rename={3: HOSTILE}, name=f"Sample {HOSTILE}")
    file = tmp_path / "snapshot.html"
    file.write_text(snapshot_html(sample.answers(), assets=read_assets()), encoding="utf-8")
    watched = watch()
    watched.page.context.set_offline(True)
    page = watched.open(f"{file.as_uri()}#structure=2/3")
    expect(page.locator("#panel h2")).to_have_text("2/3")
    expect(page.locator("h1")).to_have_text(f"Sample {HOSTILE}")
    expect(page.locator("#facts")).to_contain_text("snapshot, as of 2026-05-15")
    page.locator("#structure-row-3").click()
    expect(page.locator("#panel h2")).to_have_text(HOSTILE)
    page.locator("#theme").click()
    expect(page.locator("#theme")).to_have_attribute("aria-pressed", "true")
    assert page.locator("img").count() == 0
    assert watched.requests == [f"{file.as_uri()}"]
    assert watched.complaints == []
