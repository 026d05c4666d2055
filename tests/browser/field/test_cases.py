"""Cases in a browser: told to who answers them, closed with evidence; records that go where they belong."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from playwright.sync_api import Page, expect

from linemap.domain.record.person import Role
from linemap.service.view.view import JobView
from linemap.settings import Settings
from linemap.web.app import create_app

pytestmark = pytest.mark.browser

LEAD = ("environmental lead",)


@pytest.fixture
def own_job(demo_job: Path, tmp_path: Path, serve_here: Callable[[FastAPI], str]) -> tuple[str, FastAPI]:
    """Address and application of a job that is shown for today: what a phone records now stands in it."""
    job = shutil.copy(demo_job, tmp_path / "now.linemap")
    shown = dt.datetime.now(dt.UTC).date() + dt.timedelta(days=1)
    application = create_app(Settings(job=str(job), as_of=shown), today=lambda: shown)
    return serve_here(application), application


def loaded(office: Any, page: Page) -> None:
    page.goto(f"{office.url}/field#v=line")
    page.locator("[data-do=load]").click()
    page.locator("[data-progress]", has_text="The whole line is on this phone").wait_for()


def test_a_hole_dug_without_the_monitor_is_told_to_the_lead_at_once_who_closes_it(office: Any) -> None:
    lead = office.page_of("Ada Marrow", Role.INSPECTOR, releases=LEAD)
    lead.set_viewport_size({"width": 1400, "height": 900})
    count = lead.locator(".cases-for-you")
    expect(count).to_contain_text("for you")
    before = int(str(count.text_content()).split()[0])
    crew = office.page_of("Cy Holm", Role.CREW)
    loaded(office, crew)
    crew.goto(f"{office.url}/field#v=record&n=21/3&s=dug")
    crew.locator("form.record input[name=crew]").first.fill("Heron")
    crew.locator("[data-do=save][data-pole='']").click()
    crew.locator("#toast", has_text="On this phone").wait_for()
    crew.wait_for_selector("html[data-view='card']", state="attached")
    crew.goto(f"{office.url}/field#v=send")
    crew.locator("h2", has_text="To send: 0 records").wait_for()
    crew.locator(".rows li", has_text="on the server").wait_for()
    expect(count).to_contain_text(f"{before + 1} cases for you", timeout=90_000)
    assert lead.title().startswith(f"({before + 1})")
    # the crew sees the case on its card, and no form
    office.card(crew, "21/3")
    case = crew.locator(".case", has_text="under hold HC-1")
    expect(case).to_contain_text("To be answered by environmental lead, or the manager")
    expect(crew.locator(".case-form")).to_have_count(0)
    # the lead finds it in list and panel
    lead.locator("details.filters summary").click()
    lead.locator("select[name=cases]").select_option("open")
    lead.locator(".grid-row", has_text="21/3").click()
    panel = lead.locator("#panel .case", has_text="under hold HC-1")
    expect(panel.locator(".case-form")).to_have_count(1)
    # and closes it on her phone
    phone = office.contexts[0].new_page()
    loaded(office, phone)
    expect(phone.locator("#alarm")).to_contain_text("FOR YOU")
    office.card(phone, "21/3")
    form = phone.locator("li.case-act", has_text="Answer or close").first
    form.locator("summary").click()
    form.locator("button[value=close]").click()
    assert phone.locator("#toast", has_text="Closed").count() == 0, "without evidence nothing is closed"
    form.locator("textarea").fill("B. Reed was there, photo 14")
    form.locator("button[value=close]").click()
    expect(phone.locator("#toast")).to_contain_text("Closed on this phone")
    phone.goto(f"{office.url}/field#v=send")
    phone.locator(".rows li", has_text="on the server").wait_for()
    expect(count).to_contain_text(f"{before} case", timeout=90_000)
    closed = lead.evaluate("async () => (await (await fetch('/api/cases?state=closed')).json()).cases")
    (found,) = [each for each in closed if each["number"] == "21/3"]
    assert [(each["act"], each["who"], each["text"]) for each in found["acts"]] == [
        ("close", "Ada Marrow", "B. Reed was there, photo 14")
    ]


def test_what_is_entered_goes_along_to_the_right_place(
    phone: Callable[..., Any], demo_view: JobView, field: Any, picture: Callable[..., Any]
) -> None:
    one = phone()
    row = demo_view.row("", "2/5")
    lon, lat = float(demo_view.figures.longitude[row]), float(demo_view.figures.latitude[row])
    one.page.context.set_geolocation({"longitude": lon, "latitude": lat, "accuracy": 5.0})
    field.signal.lost()
    one.go("record", "5/2", s="dug")
    one.page.locator("details.extras summary").tap()
    depth = one.page.locator("form.record input[name^=depth]").first
    name = depth.get_attribute("name")
    depth.fill("9.5")
    one.page.set_input_files("input[name=photo]", picture(300))
    one.page.locator("[data-photos]", has_text="1 photo").wait_for()
    one.tap("[data-place] button")
    one.page.locator("h1", has_text="2/5").wait_for()
    expect(one.page.locator(f"form.record input[name='{name}']")).to_have_value("9.5")
    expect(one.page.locator("[data-photos]")).to_contain_text("1 photo")
    one.tap("[data-do=save][data-pole='']")
    one.page.locator("#toast", has_text="On this phone").wait_for()
    one.page.wait_for_selector("html[data-view='card']", state="attached")
    field.signal.back()
    one.send_all()
    (event,) = field.events()
    assert (event["structure"], len(event["photos"])) == ("2/5", 1)
    assert 9.5 in [each["value"] for each in event["readings"]]


def test_a_record_is_moved_on_the_phone_without_a_signal(phone: Callable[..., Any], field: Any) -> None:
    one = phone()
    one.record("23/1", "staked")
    one.send_all()
    field.signal.lost()
    one.go("send")
    (done,) = field.events()
    one.page.evaluate("id => { location.hash = `v=move&id=${id}` }", done["id"])
    one.page.locator("form[data-move] input[name=to]").fill("23/2")
    one.page.locator("form[data-move] button").click()
    expect(one.page.locator("#toast")).to_contain_text("Moved to 23/2 on this phone")
    expect(one.page.locator(".steps tr", has_text="staked")).to_contain_text("this phone")
    field.signal.back()
    one.send_all()
    moved = field.events()[-1]
    assert (moved["what"], moved["structure"]) == ("moved", "23/1")
    card = field.server.get("/api/structure", params={"number": "23/2"}).json()
    assert any(each["id"] == done["id"] for each in card["history"])
