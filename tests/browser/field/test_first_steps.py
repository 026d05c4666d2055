"""What a phone meets first: a wrong address, a job without crews, a narrow screen, a mile, a sign-in."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, expect

from linemap.domain.record.person import Role
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.job.job import create_job
from linemap.service.people.people import add_person
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.web.app import create_app

pytestmark = pytest.mark.browser

NOW = dt.datetime(2026, 5, 16, 12, tzinfo=dt.UTC)
CENTRELINE = "line,easting,northing\nL,1000,2000\nL,3000,2000\n"
STRUCTURES = "line,structure,easting,northing,type\nL,1,1100,2000,TAN\nL,2,2000,2000,TAN\n"
VIEWS = (
    *((view, "9/2", None) for view in ("card", "next", "line", "briefing", "plan", "send")),
    ("card", "13/1", None),
    ("record", "9/2", "dug"),
    ("record", "9/2", ""),
)
OPEN_ALL = "() => document.querySelectorAll('details').forEach((part) => { part.open = true; })"
#: What is drawn beyond the right edge, in whatever may hide it.
BEYOND = """() => [...document.querySelectorAll('main *')]
  .filter((each) => each.getClientRects().length && each.getBoundingClientRect().right > innerWidth + 0.5)
  .map((each) => each.outerHTML.slice(0, 80))"""


def test_an_address_of_no_structure_says_so_and_opens_no_other(field: Any, phone: Callable[..., Any]) -> None:
    one = phone()
    one.go("card", "9/2")
    for view in ("card", "record", "briefing", "plan"):
        one.page.evaluate("hash => { location.hash = hash }", f"v={view}&n=99%2F9&l=no+line")
        expect(one.page.locator("h1")).to_have_text(re.compile(r"Not found\s+99/9"))
        expect(one.page.get_by_role("alert").filter(has_text="NO SUCH STRUCTURE")).to_be_visible()
        expect(one.page.locator(".record-bar, .save-bar")).to_have_count(0)
    one.page.get_by_role("link", name="Back to 9/2").tap()
    expect(one.page.locator("h1")).to_have_text("9/2")
    # an old link without its line still means the one structure of that number
    one.page.evaluate("location.hash = 'v=card&n=5%2F5'")
    expect(one.page.locator("h1")).to_have_text("5/5")
    # asked for anew without a signal, it is told the same
    field.signal.lost()
    one.page.goto("about:blank")
    one.page.goto(f"{one.url}/field#v=card&n=99%2F9")
    expect(one.page.locator("h1")).to_have_text(re.compile(r"Not found\s+99/9"))
    one.page.locator("input[name=number]").fill("5-5")
    one.page.get_by_role("button", name="Open").tap()
    expect(one.page.locator("h1")).to_have_text("5/5")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_view_is_wider_than_a_small_phone(phone: Callable[..., Any], scheme: str) -> None:
    one = phone(scheme=scheme, viewport={"width": 320, "height": 568})
    for view, number, step in VIEWS:
        one.go(view, number, **({} if step is None else {"s": step}))
        one.page.evaluate(OPEN_ALL)
        one.page.wait_for_timeout(100)
        assert one.page.evaluate(BEYOND) == [], (view, number)
        assert one.page.evaluate("document.documentElement.scrollWidth") == 320, view


def test_a_closed_mile_says_how_far_it_is(field: Any, phone: Callable[..., Any]) -> None:
    one = phone()
    one.go("line")
    mile = one.page.locator("details.mile").first
    expect(mile.locator("summary")).to_have_text(re.compile(r"^Mile 1: 6 structures, \d+ \w+"))
    expect(one.page.locator("details.mile summary", has_text="kB")).to_have_count(0)
    expect(one.page.locator("details.mile", has_text="Mile 9").locator("summary")).to_contain_text("held")
    counts = [int(count) for count in re.findall(r", (\d+) (?!held)", mile.locator("summary").inner_text())]
    mile.locator("summary").tap()
    expect(mile.locator(".cell")).to_have_count(sum(counts))


def test_a_job_without_crews_asks_which_crew_the_phone_is(
    tmp_path: Path,
    serve_here: Callable[[FastAPI], str],
    field_of: Callable[[str], Any],
    phone_of: Callable[[Any], Any],
) -> None:
    job = tmp_path / "new.linemap"
    create_job(str(job), {"crs": "EPSG:6515", "combined_factor": "1", "base_point": "none"}, now=NOW)
    paths = []
    for name, text in (("centreline", CENTRELINE), ("structures", STRUCTURES)):
        paths.append(tmp_path / f"{name}.csv")
        paths[-1].write_text(text, encoding="utf-8")
    with open_job(job) as database:
        load_files(database, LoadRequest(paths=tuple(paths)), now=NOW)
    field = field_of(serve_here(create_app(Settings(job=str(job)))))
    one = phone_of(field)
    one.load()
    one.page.evaluate("location.hash = 'v=record&n=1&l=L&s=dug'")
    expect(one.page.get_by_label("Crew", exact=True)).to_be_visible()
    one.go("next", "")
    expect(one.page.locator("main")).to_contain_text("Which crew is this phone's?")
    one.page.get_by_label("Name of the crew").fill("Heron")
    one.page.get_by_role("button", name="This crew").tap()
    expect(one.page.locator("h1")).to_have_text("Next for Heron")
    one.page.evaluate("location.hash = 'v=record&n=1&l=L&s=dug'")
    one.page.locator("form.record[data-step=dug]").wait_for()
    expect(one.page.get_by_label("Crew", exact=True)).to_be_hidden()
    field.signal.stop()


@pytest.mark.parametrize(
    ("role", "width", "onward"),
    [
        (Role.CREW, 1400, "/field"),
        (Role.INSPECTOR, 390, "/field"),
        (Role.INSPECTOR, 1400, "/"),
        (Role.SURVEYOR, 390, "/"),
    ],
)
def test_who_works_with_a_phone_lands_on_the_field_page(
    browser: Browser, job_url: str, own_job: tuple[str, FastAPI], role: Role, width: int, onward: str
) -> None:
    database = own_job[1].state.database
    code = add_person(database, name="Bo", role=role, device="own", now=dt.datetime.now(dt.UTC))
    touched = width < 700
    context = browser.new_context(
        viewport={"width": width, "height": 844}, is_mobile=touched, has_touch=touched
    )
    page = context.new_page()
    page.goto(f"{job_url}/sign-in#code={code}")
    page.get_by_role("button", name="Sign in on this device").click()
    page.wait_for_function("path => location.pathname === path", arg=onward)
    page.goto(f"{job_url}/sign-in")
    expect(page.locator("#onward")).to_have_attribute("href", onward)
    # nobody who records is without the way to the field page
    expect(page.locator(".main[href='/field'], #field:visible")).to_have_count(1)
    context.close()
