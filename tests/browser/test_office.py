"""The office's pages in a real browser: declare, see what waits, be told beside the field what is wrong."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from playwright.sync_api import expect
from watched_page import LOOKS, faults, opened, ready

from linemap.service.job.job import create_job
from linemap.settings import Settings
from linemap.web.app import create_app
from linemap.web.start import StartOrJob

pytestmark = pytest.mark.browser


def test_declaring_says_what_it_will_do_and_who_did_it(watch: Callable[..., Any], job_url: str) -> None:
    watched = watch()
    page = opened(watched, f"{job_url}/settings")
    work = page.locator("#judging form")
    button = work.get_by_role("button").first
    expect(button).to_be_disabled()
    page.get_by_label("anchor, lead").fill("wide")
    expect(button).to_have_text("Declare anchor, lead")
    work.get_by_label("Document it comes from").fill("specification 7.3")
    work.get_by_label("Your name").fill("Ada Marrow")
    button.click()
    lead = page.get_by_label("anchor, lead")
    expect(lead).to_have_attribute("aria-invalid", "true")
    expect(lead).to_be_focused()
    expect(work.locator(".wrong:not(:empty)")).to_have_text("gives no number; write NAME=NUMBER UNIT: SOURCE")
    lead.fill("0.5 ft")
    lead.press("Enter")
    expect(page.locator("#message")).to_have_text("Declared: anchor, lead.")
    expect(page.locator("#judging-title")).to_be_focused()
    by = page.locator("#set-tolerance-anchor_lead-by")
    expect(by).to_contain_text("declared by Ada Marrow, ")
    expect(by).to_contain_text("from specification 7.3")
    assert not [each for each in watched.complaints if "422" not in each]


@pytest.mark.parametrize(("phone", "scheme"), LOOKS)
def test_the_page_of_settings_has_no_fault(
    watch: Callable[..., Any], demo_url: str, phone: bool, scheme: str
) -> None:
    page = opened(watch(phone=phone, scheme=scheme), f"{demo_url}/settings")
    assert faults(page) == []


def test_an_empty_job_says_what_to_load_on_every_page(
    watch: Callable[..., Any], tmp_path: Path, serve_here: Callable[[FastAPI], str]
) -> None:
    job = tmp_path / "north.linemap"
    create_job(str(job), {"crs": "EPSG:6515"}, now=dt.datetime(2026, 5, 16, tzinfo=dt.UTC))
    url = serve_here(create_app(Settings(job=str(job))))
    watched = watch(phone=True)
    for page in ("/", "/survey", "/progress", "/files", "/settings"):
        shown = opened(watched, url + page)
        expect(shown.locator(".waits")).to_contain_text("No line is loaded yet")
        assert shown.evaluate("document.documentElement.scrollWidth") == 390, page
    shown = watched.page
    shown.goto(f"{url}/field")
    expect(shown.locator("#alarm")).to_contain_text("No line is loaded yet")
    assert watched.complaints == []


def test_a_link_is_shown_once_and_keeping_out_asks_twice(watch: Callable[..., Any], job_url: str) -> None:
    page = opened(watch(phone=True), f"{job_url}/people")
    assert faults(page) == []
    page.get_by_label("Name", exact=True).fill("Ada Marrow")
    page.get_by_label("Address phones").fill(job_url)
    page.get_by_role("button", name="Let in").click()
    expect(page.locator("#made-title")).to_be_focused()
    expect(page.get_by_role("img", name="Square code of the link of Ada Marrow")).to_be_visible()
    expect(page.locator("#message")).to_contain_text("asks who you are now")
    expect(page.get_by_text("Nobody may sign in yet")).to_have_count(2)
    for stale in page.get_by_text("Nobody may sign in yet").all():
        expect(stale).to_be_hidden()
    link = page.locator("#made a").get_attribute("href") or ""
    page.goto(link)
    page.get_by_role("button", name="Sign in on this device").click()
    page.wait_for_url(f"{job_url}/")
    page.goto(f"{job_url}/people")
    ready(page)
    page.get_by_label("Name", exact=True).fill("Bo Quill")
    page.get_by_role("button", name="Let in").click()
    expect(page.locator("#made svg")).to_be_visible()
    assert faults(page) == []
    page.get_by_role("button", name="Done, hide it").click()
    expect(page.locator("#made")).to_be_hidden()
    page.get_by_role("button", name="Keep out Bo Quill").click()
    page.get_by_role("button", name="Press again: keep out Bo Quill").click()
    expect(page.locator("#message")).to_have_text("Bo Quill is kept out.")


@pytest.mark.parametrize("phone", [False, True], ids=["desk", "phone"])
def test_a_choice_of_structures_is_counted_and_taken(
    watch: Callable[..., Any], demo_url: str, phone: bool
) -> None:
    page = opened(watch(phone=phone), f"{demo_url}/exports")
    assert faults(page) == []
    expect(page.locator("#chosen")).to_have_text("121 of 121 structures: 1/1 to 23/2")
    page.get_by_label("From structure").fill("3/1")
    page.get_by_label("To structure").fill("3/3")
    expect(page.locator("#chosen")).to_have_text("3 of 121 structures: 3/1 to 3/3")
    with page.expect_download() as taken:
        page.get_by_role("link", name="CSV").click()
    assert taken.value.suggested_filename == "structures.csv"
    assert len(taken.value.path().read_text(encoding="utf-8").splitlines()) == 4
    page.get_by_label("From structure").fill("9/9")
    expect(page.locator("#chosen")).to_contain_text("has no structure 9/9")
    expect(page.get_by_role("link", name="CSV")).to_have_count(0)
    assert faults(page) == []


LISTS = {
    "centreline.csv": "point,easting,northing\nPI-1,2249500,900000\nPI-2,2261000,900000\n",
    "structures.csv": "structure,easting,northing,elevation,type,pole spacing\n"
    + "".join(f"{k + 1},{2250000 + 900 * k},900000,3900,H,12.5\n" for k in range(12)),
    "shots.csv": "point,northing,easting,elevation,description\n"
    + "".join(
        f"{2 * k + leg},{900000 + (6.25, -6.25)[leg]},{2250000 + 900 * k},3900,STR {k + 1} {'AB'[leg]}\n"
        for k in range(12)
        for leg in (0, 1)
    ),
}


@pytest.mark.parametrize("phone", [False, True], ids=["desk", "phone"])
def test_from_files_to_verdicts(
    watch: Callable[..., Any], tmp_path: Path, serve_here: Callable[[Any], str], phone: bool
) -> None:
    """What a newcomer does with 12 structures: thirteen things, from the files to a verdict for each."""
    url = serve_here(StartOrJob(Settings(job=str(tmp_path / "north.linemap"))))
    for name, text in LISTS.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    page = opened(watch(phone=phone), f"{url}/")
    assert faults(page) == []
    page.set_input_files("#chosen", [tmp_path / name for name in LISTS])
    rows = page.locator("#files > li")
    expect(rows).to_have_count(3)
    expect(rows.filter(has_text="structures.csv")).to_contain_text("12 points, 1 to 12: easting 2,250,000")
    assert faults(page) == []
    drawing = "document.querySelector('#plan canvas').toDataURL()"
    everything = page.evaluate(drawing)
    shots = page.get_by_role("checkbox", name="shots.csv")
    shots.press("Space")
    page.wait_for_function(f"before => {drawing} !== before", arg=everything)
    shots.press("Space")
    page.wait_for_function(f"before => {drawing} === before", arg=everything)
    rows.filter(has_text="structures.csv").get_by_text("Columns (6)").click()
    page.get_by_role("button", name="centreline", exact=True).click()
    expect(rows.filter(has_text="centreline.csv")).to_contain_text("Reads as centreline, 2 of 2 rows used")
    expect(page.get_by_role("rowheader", name="spacing", exact=True)).to_be_visible()
    page.get_by_label("name of the job").fill("North rebuild")
    page.get_by_label("coordinate reference").fill("montana 2011 ft")
    page.get_by_role("button", name="EPSG:6515 NAD83(2011) / Montana (ft), foot 46.7129° N").click()
    expect(page.locator("#where")).to_contain_text("combined factor about 0.999220 at 3,900 ft")
    page.get_by_label("combined factor").fill("about one")
    page.get_by_label("base point").fill("none")
    page.get_by_label("Your name").fill("Ada Marrow")
    page.get_by_role("button", name="Make the job").click()
    expect(page.locator("#set-combined_factor-wrong")).to_contain_text("is no combined factor")
    expect(page.get_by_label("combined factor")).to_be_focused()
    assert faults(page) == []
    page.get_by_label("combined factor").fill("0.999217")
    page.get_by_role("button", name="Make the job").click()
    page.wait_for_url("**/review?id=*")
    page.get_by_label("Why, for the record").fill("first lists of the owner")
    page.get_by_role("button", name="Load 2 points of the centreline, 12 structures, 24 shots").click()
    expect(page.locator("#main")).to_contain_text("12 rows as structures")
    found = page.evaluate("async () => (await (await fetch('/api/job')).json()).counts.verdict.pass")
    assert found == 12


def test_who_is_signed_in_declares_in_their_own_name(watch: Callable[..., Any], job_url: str) -> None:
    page = opened(watch(), f"{job_url}/people")
    page.get_by_label("Name", exact=True).fill("Ada Marrow")
    page.get_by_label("Address phones").fill(job_url)
    page.get_by_role("button", name="Let in").click()
    page.goto(page.locator("#made a").get_attribute("href") or "")
    page.get_by_role("button", name="Sign in on this device").click()
    page.wait_for_url(f"{job_url}/")
    page.goto(f"{job_url}/settings")
    ready(page)
    page.get_by_label("words for the poles").fill("L/R")
    expect(page.locator("#preview")).to_contain_text("1/1 L, 1/1 R")
    page.get_by_label("words for the poles").fill("")
    page.get_by_label("nearest hospital").fill("Cold Ford General")
    page.locator("#emergency form").get_by_role("button").first.click()
    expect(page.locator("#set-hospital-by")).to_contain_text("declared by Ada Marrow")
