"""The field page over a job on PostgreSQL that has no people: two tabs of one phone, each record once."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from playwright.sync_api import expect

from linemap.settings import Settings
from linemap.web.app import create_app

pytestmark = [pytest.mark.browser, pytest.mark.postgres]

FILES = ("centreline.csv", "equations.csv", "structures_revC.csv")


def linemap(*words: str) -> None:
    subprocess.run([sys.executable, "-m", "linemap", *words], check=True, capture_output=True)


@pytest.fixture
def bare_line(empty_postgresql: str, demo_job: Path) -> str:
    """URL of a job that holds a line and nothing else: no records, no holds, no people."""
    line = [
        "--line",
        "Brindle Gap - Amber Sill 115 kV",
        "--back-end",
        "Brindle Gap",
        "--ahead-end",
        "Amber Sill",
    ]
    linemap("new", empty_postgresql, "--crs", "EPSG:6515", "--combined-factor", "0.999217", *line)
    linemap("load", empty_postgresql, *(str(demo_job.parent / "files" / name) for name in FILES))
    return empty_postgresql


@pytest.fixture
def shown(
    bare_line: str, serve_here: Callable[[FastAPI], str], field_of: Callable[[str], Any]
) -> Iterator[Any]:
    served = field_of(serve_here(create_app(Settings(job=bare_line), today=lambda: dt.date(2026, 5, 16))))
    yield served
    served.signal.stop()
    served.server.close()


def test_two_tabs_record_at_a_line_that_has_nothing_on_record(
    shown: Any, phone_of: Callable[[Any], Any]
) -> None:
    one = phone_of(shown)
    one.load()
    one.open("next")
    expect(one.page.locator("main")).to_contain_text("Nothing is recorded in this job yet")
    one.go("send")
    one.belong("Lark")
    one.go("next")
    expect(one.page.locator(".next-row").first).to_contain_text("staked")
    one.go("card", "9/2")
    expect(one.page.locator(".card")).to_contain_text("No job briefing is recorded here")
    two = type(one)(one.page.context.new_page(), shown.signal.url)
    two.open("card", "9/3")
    shown.signal.lost()
    one.record("9/2", "staked")
    two.record("9/3", "staked")
    expect(one.page.locator("#send-tab .badge")).to_have_text("2")
    shown.signal.back()
    one.send_all()
    expect(two.page.locator("#send-tab .badge")).to_have_count(0)
    assert sorted(event["structure"] for event in shown.events()) == ["9/2", "9/3"]
    two.go("card", "9/2")
    expect(two.page.locator(".steps tr", has_text="staked")).to_contain_text("done")
    assert one.complaints == two.complaints == []
