"""Two jobs at one address, one after the other, and two on one machine: neither disturbs the other."""

from __future__ import annotations

import datetime as dt
import shutil
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, expect
from sqlalchemy import update

from linemap.domain.record.person import Role
from linemap.service.people.people import add_person
from linemap.settings import Settings
from linemap.store import schema
from linemap.store.database import open_job
from linemap.web.app import create_app

pytestmark = pytest.mark.browser

PASSWORD = "correct horse battery"


class Jobs(NamedTuple):
    """Two jobs of the same lines at the same data version behind one signal, and where each is served."""

    field: Any
    first: FastAPI
    second: FastAPI
    urls: tuple[str, str]

    def serve(self, index: int) -> None:
        """Serve one of the jobs at the phone's address from now on."""
        self.field.signal.lost()
        self.field.signal.upstream = int(self.urls[index].rsplit(":", 1)[1])
        self.field.signal.back()

    def events(self, index: int) -> list[dict[str, Any]]:
        """Return what one of the jobs has on record from the device of the test."""
        application = (self.first, self.second)[index]
        database = application.state.database
        with database.reading() as connection:
            rows = connection.execute(schema.event.select().where(schema.event.c.crew == "Heron Two"))
            return [dict(row._mapping) for row in rows]


@pytest.fixture
def jobs(
    demo_job: Path, tmp_path: Path, serve_here: Callable[[FastAPI], str], field_of: Callable[[str], Any]
) -> Iterator[Jobs]:
    applications = []
    for name in ("First job", "Second job"):
        path = Path(shutil.copy(demo_job, tmp_path / f"{name[:3]}.linemap"))
        with open_job(path) as database, database.writing() as connection:
            own = {"identity": str(uuid.uuid4()), "incarnation": str(uuid.uuid4()), "name": name}
            connection.execute(update(schema.job).values(**own))
        settings = Settings(job=str(path))
        applications.append(create_app(settings, today=lambda: dt.date(2026, 5, 16)))
    urls = serve_here(applications[0]), serve_here(applications[1])
    field = field_of(urls[0])
    yield Jobs(field, *applications, urls)
    field.signal.stop()
    field.server.close()


def test_records_of_one_job_wait_while_another_is_served_and_the_page_says_so(
    jobs: Jobs, phone_of: Callable[[Any], Any]
) -> None:
    one = phone_of(jobs.field)
    one.load()
    one.go("send")
    one.belong("Heron Two")
    page, alarm = one.page, one.page.locator("#alarm")
    jobs.field.signal.lost()
    one.record("22/1", "dug", "A")
    jobs.serve(1)
    one.go("send")
    one.tap("[data-do=send]")
    # the page of the other job comes by itself as soon as it is on the phone
    expect(alarm).to_contain_text("1 record, 0 photos of First job waits on this phone")
    one.go("send")
    expect(page.locator("h2", has_text="To send: 0 records")).to_be_visible()
    one.tap("[data-do=send]")
    expect(page.locator(".contact")).not_to_contain_text("none yet")
    assert page.evaluate("async () => (await import('/static/js/field/pack.js')).index().job") == "Second job"
    assert [jobs.events(0), jobs.events(1)] == [[], []]
    jobs.serve(0)
    one.open("send")
    one.tap("[data-do=send]")
    expect(page.locator("li", has_text="on the server")).to_have_count(1)
    assert (len(jobs.events(0)), len(jobs.events(1))) == (1, 0)
    expect(alarm).not_to_contain_text("First job")


def test_the_map_shows_the_job_that_is_served(jobs: Jobs, browser: Browser) -> None:
    context = browser.new_context()
    page = context.new_page()
    for index, name in ((0, "First job"), (1, "Second job"), (0, "First job")):
        jobs.serve(index)
        page.goto(f"{jobs.field.signal.url}/")
        expect(page.locator("#title")).to_have_text(name)
        page.wait_for_selector("html[data-ready='1']", state="attached")
        shown = page.evaluate("async () => (await (await fetch('/api/job')).json()).name")
        assert shown == name
    context.close()


def test_a_page_left_open_asks_nothing_of_the_job_served_there_now(jobs: Jobs, browser: Browser) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{jobs.field.signal.url}/")
    page.wait_for_selector("html[data-ready='1']", state="attached")
    jobs.serve(1)
    page.goto(f"{jobs.field.signal.url}/#structure=9/2")
    expect(page.locator("body")).to_contain_text("this address serves another job now")
    context.close()


def test_two_jobs_on_two_ports_keep_both_sign_ins(jobs: Jobs, browser: Browser) -> None:
    context = browser.new_context()
    now = dt.datetime.now(dt.UTC)
    for application, who in ((jobs.first, "Ada"), (jobs.second, "Bo")):
        database = application.state.database
        add_person(database, name=who, role=Role.MANAGER, password=PASSWORD, now=now)
    page = context.new_page()
    for url, who in zip(jobs.urls, ("Ada", "Bo"), strict=True):
        page.goto(f"{url}/sign-in")
        page.fill("input[name=name]", who)
        page.fill("input[name=password]", PASSWORD)
        page.click("button[type=submit]")
        expect(page.locator("#title")).to_be_visible()
    for url, who in zip(jobs.urls, ("Ada", "Bo"), strict=True):
        page.goto(f"{url}/survey")
        asked = page.evaluate("async () => (await (await fetch('/api/session')).json()).name")
        assert asked == who
    context.close()


#: What version 0.1.0 kept on a phone: one database, whatever the job.
OLDER = """async ([job, record]) => {
  const asked = indexedDB.open("linemap-field", 2);
  asked.onupgradeneeded = () => {
    for (const name of ["meta", "miles", "heads"]) asked.result.createObjectStore(name);
    for (const name of ["outbox", "sent", "photos"]) asked.result.createObjectStore(name, { keyPath: "id" });
  };
  await new Promise((resolve, reject) => { asked.onsuccess = resolve; asked.onerror = reject; });
  const change = asked.result.transaction(["meta", "outbox"], "readwrite");
  change.objectStore("meta").put({ job }, "index");
  change.objectStore("meta").put({ crew: "Heron Two", actor: "", device: "phone-1", facing: "back" }, "me");
  change.objectStore("outbox").put(record);
  await new Promise((resolve) => { change.oncomplete = resolve; });
  asked.result.close();
}"""


@pytest.mark.parametrize(("job", "sent"), [("First job", 1), ("Other job", 0)])
def test_what_version_0_1_0_kept_goes_to_the_job_of_that_name_and_to_no_other(
    jobs: Jobs, phone_of: Callable[[Any], Any], job: str, sent: int
) -> None:
    one = phone_of(jobs.field)
    identifier = str(uuid.uuid4())
    body = {
        "id": identifier,
        "line": "Brindle Gap - Amber Sill 115 kV",
        "structure": "22/1",
        "step": "dug",
        "happened_at": "2026-05-16T07:00:00-06:00",
        "crew": "Heron Two",
    }
    record = {
        "id": identifier,
        "kind": "event",
        "at": 1,
        "body": body,
        "state": "waiting",
        "why": "",
        "tried": True,
    }
    one.page.goto(f"{jobs.field.signal.url}/static/css/field.css")
    one.page.evaluate(OLDER, [job, record])
    one.open("send")
    one.tap("[data-do=send]")
    if sent:
        one.page.wait_for_function(
            "async () => (await import('/static/js/field/outbox.js')).sent().length === 1"
        )
        expect(one.page.locator("input[name=crew]")).to_have_value("Heron Two")
    else:
        expect(one.page.locator("#alarm")).to_contain_text(
            "1 record, 0 photos of Other job waits on this phone"
        )
        expect(one.page.locator(".contact")).not_to_contain_text("none yet")
    assert len(jobs.events(0)) == sent
