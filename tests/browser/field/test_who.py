"""A phone that changes hands: what was recorded under one person stays theirs when another brings it."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from fastapi import FastAPI
from playwright.sync_api import Page, expect

from linemap.domain.record.chain import event_values
from linemap.domain.record.person import Role
from linemap.service.people.people import add_person, revoke
from linemap.settings import Settings
from linemap.store.database import Database
from linemap.store.events import since
from linemap.web.app import create_app

pytestmark = pytest.mark.browser


class Crew(NamedTuple):
    """A job with two people of a crew, and a phone."""

    field: Any
    database: Database
    phone: Any

    def sign_in(self, name: str) -> Page:
        """Open a link of a person on the phone and tap it."""
        now = dt.datetime.now(dt.UTC)
        code = add_person(self.database, name=name, role=Role.CREW, device=f"phone of {name}", now=now)
        page: Page = self.phone.page
        page.goto("about:blank")
        page.goto(f"{self.phone.url}/sign-in#code={code}")
        page.locator("#take").tap()
        page.wait_for_url("**/field*")
        page.wait_for_selector("html[data-ready='1']", state="attached")
        page.wait_for_function(
            """async (name) => (await import('/static/js/field/me.js')).signature().signed_by === name""",
            arg=name,
        )
        return page

    def events(self) -> list[dict[str, Any]]:
        """Return what is on record from people who signed in."""
        with self.database.reading() as connection:
            events = [each.event for each in since(connection, 0)]
        return [event_values(event) for event in events if event.sent_by]


@pytest.fixture
def crew(
    demo_job: Path,
    tmp_path: Path,
    serve_here: Callable[[FastAPI], str],
    field_of: Callable[[str], Any],
    phone_of: Callable[..., Any],
) -> Iterator[Crew]:
    job = Path(shutil.copy(demo_job, tmp_path / "people.linemap"))
    application = create_app(Settings(job=str(job), network=True), today=lambda: dt.date(2026, 5, 16))
    database = application.state.database
    add_person(database, name="Em", role=Role.MANAGER, now=dt.datetime.now(dt.UTC))
    url = serve_here(application)
    field = field_of(url)
    yield Crew(field, database, phone_of(field))
    field.signal.stop()
    field.server.close()


def test_a_phone_that_is_revoked_and_signed_in_by_another_sends_each_record_under_its_own_names(
    crew: Crew,
) -> None:
    phone = crew.phone
    page = crew.sign_in("Ada")
    phone.load()
    phone.go("send")
    phone.belong("Heron")
    crew.field.signal.lost()
    phone.record("22/1", "dug", "A")
    phone.go("record", "22/2", s="dug")
    page.locator("details.extras summary").tap()
    page.fill("input[name=actor]", "Old Hand")
    phone.tap("[data-do=save][data-pole='']")
    page.locator("#toast", has_text="On this phone").wait_for()
    page.wait_for_selector("html[data-view='card']", state="attached")
    assert len(phone.waiting()) == 2
    revoke(crew.database, "Ada", now=dt.datetime.now(dt.UTC))
    crew.field.signal.back()
    phone.send()
    expect(page.locator(".sending [role=status]")).to_contain_text("asks for a sign-in")
    assert crew.events() == []
    # the phone hears that nobody is signed in on it any more
    phone.open("send")
    page.wait_for_function(
        """async () => (await import('/static/js/field/me.js')).signature().signed_by === ''"""
    )

    crew.sign_in("Bo")
    phone.record("22/3", "dug", "A")
    phone.send_all()
    names = ("structure", "actor", "signed_by", "signed_how", "sent_by", "device")
    four = [tuple(each[name] for name in names) for each in crew.events()]
    assert sorted(four) == [
        ("22/1", "Ada", "Ada", "proven", "Bo", "phone of Ada"),
        ("22/2", "Old Hand", "Ada", "proven", "Bo", "phone of Ada"),
        ("22/3", "Bo", "Bo", "proven", "Bo", "phone of Bo"),
    ]
    phone.go("send")
    expect(page.locator("li", has_text="22/2").first).to_contain_text("done by Old Hand, signed in was Ada")
    expect(page.locator("li", has_text="22/3").first).not_to_contain_text("signed in was")

    # what Ada recorded is not Bo's to take back, and the phone says so
    page.locator("li", has_text="at 22/1").locator("[data-do=undo]").tap()
    phone.send()
    refused = page.locator("li", has_text="REFUSED")
    expect(refused).to_contain_text("recorded by Ada: its author, an inspector or a manager takes it back")
    phone.go("card", "22/1")
    expect(page.locator(".steps tr", has_text="dug")).to_contain_text("done")
    assert [each["result"] for each in crew.events() if "result" in each] == []


def test_a_step_of_others_is_kept_and_not_counted(crew: Crew) -> None:
    phone = crew.phone
    page = crew.sign_in("Ada")
    phone.load()
    phone.go("send")
    phone.belong("Heron")
    phone.go("record", "13/5", s="inspected")
    note = page.locator(".note", has_text="Counts as done once inspector or manager records it too")
    expect(note).to_be_visible()
    phone.tap("[data-do=save][data-pole='']")
    page.locator("#toast", has_text="On this phone").wait_for()
    page.wait_for_selector("html[data-view='card']", state="attached")
    phone.send_all()
    asked = page.locator("li", has_text="inspected at 13/5")
    expect(asked).to_contain_text("not counted as done until inspector or manager records it too")
    (event,) = crew.events()
    assert (event["step"], event["role"], event["signed_how"]) == ("inspected", "crew", "proven")


@pytest.mark.parametrize(("width", "height", "scheme"), [(390, 844, "light"), (320, 568, "dark")])
def test_the_names_fit_on_the_page_of_what_is_sent(
    crew: Crew, phone_of: Callable[..., Any], tmp_path: Path, width: int, height: int, scheme: str
) -> None:
    small = crew._replace(
        phone=phone_of(crew.field, viewport={"width": width, "height": height}, color_scheme=scheme)
    )
    page = small.sign_in("Ada Longname of the Northern Survey")
    small.phone.go("record", "22/2", s="dug")
    page.locator("details.extras summary").tap()
    page.fill("input[name=actor]", "Somebody with another long name")
    page.fill("input[name=crew]", "Heron")
    small.phone.tap("[data-do=save][data-pole='']")
    page.locator("#toast", has_text="On this phone").wait_for()
    page.wait_for_selector("html[data-view='card']", state="attached")
    small.phone.send_all()
    expect(page.locator("li", has_text="22/2").first).to_contain_text(
        "done by Somebody with another long name"
    )
    expect(page.locator("form.who")).to_contain_text("signed in is Ada Longname of the Northern Survey")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.locator("li", has_text="22/2").first.scroll_into_view_if_needed()
    page.screenshot(path=str(tmp_path / f"send-{width}.png"), full_page=True)
