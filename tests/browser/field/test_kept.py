"""What a phone keeps: its memory, what it sent, what it saw of the record; and losses on either side."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx2
import pytest
from fastapi import FastAPI
from playwright.sync_api import Page, expect

from linemap.domain.record.person import Role
from linemap.service.people.people import add_person
from linemap.service.record.keeping import back_up, bring_back
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.web.app import create_app

pytestmark = pytest.mark.browser

TODAY = dt.date(2026, 5, 16)
#: What a browser drops when the machine's memory is short.
EVICTED = "indexeddb,cache_storage,service_workers,file_systems"
READ = """async (name) => {
  const { all } = await import('/static/js/field/db.js');
  return (await all(name)).map(({ data, ...rest }) => ({ ...rest, bytes: data?.byteLength }));
}"""


def application(job: Path) -> FastAPI:
    return create_app(Settings(job=str(job)), today=lambda: TODAY)


class Server:
    """A job served behind one address, that can be exchanged for another one while phones look away."""

    def __init__(self, field_of: Callable[[str], Any], serve: Callable[[FastAPI], str], job: Path) -> None:
        self.serve, self.job = serve, job
        self.application = application(job)
        self.field = field_of(serve(self.application))

    def exchange(self, job: Path) -> None:
        self.field.signal.lost()
        self.application = application(job)
        self.field.signal.upstream = int(self.serve(self.application).rsplit(":", 1)[1])
        self.field.signal.back()

    @property
    def database(self) -> Any:
        return self.application.state.database

    def ask(self, method: str, path: str, **more: Any) -> httpx2.Response:
        """Ask on the way the phones go."""
        return httpx2.request(method, f"{self.field.signal.url}{path}", timeout=20.0, **more)

    def back_up(self, to: Path) -> None:
        back_up(self.database, to, now=dt.datetime.now().astimezone())

    def events(self, ids: list[str]) -> list[dict[str, Any]]:
        """Return what is on record under these identifiers, each as often as it is there, in its order."""
        with self.database.reading() as connection:
            rows = connection.exec_driver_sql("SELECT * FROM event ORDER BY seq").mappings()
            return [dict(row) for row in rows if row["id"] in ids]

    def photos(self) -> dict[str, bool]:
        with self.database.reading() as connection:
            rows = connection.exec_driver_sql("SELECT id, sha256 FROM photo")
            return {row[0]: row[1] != "" for row in rows}


@pytest.fixture
def server(
    demo_job: Path, tmp_path: Path, serve_here: Callable[[FastAPI], str], field_of: Callable[[str], Any]
) -> Any:
    return Server(field_of, serve_here, Path(shutil.copy(demo_job, tmp_path / "own.linemap")))


def here(page: Page, store: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = page.evaluate(READ, store)
    return found


def record_with_photo(one: Any, number: str, step: str, picture: dict[str, Any]) -> None:
    one.go("record", number, s=step)
    one.page.locator("input[name=photo]").set_input_files(picture)
    one.page.locator("[data-photos]", has_text="1 photo").wait_for()
    one.tap("[data-do=save][data-pole='']")
    one.page.locator("#toast", has_text="On this phone").wait_for()
    one.page.wait_for_selector("html[data-view='card']", state="attached")


def refresh(one: Any) -> None:
    one.go("send")
    one.tap("[data-do=send]")
    expect(one.page.locator("[data-do=send]")).to_have_text("Send now")
    one.page.wait_for_timeout(300)
    expect(one.page.locator("[data-do=send]")).to_have_text("Send now")


def test_what_was_sent_stays_until_a_copy_holds_it(
    server: Server, phone_of: Callable[[Any], Any], picture: Callable[..., Any], tmp_path: Path
) -> None:
    one = phone_of(server.field)
    one.load()
    one.open("send")
    one.belong("Heron")
    expect(one.page.locator(".keeping")).to_contain_text("No copy of the job is on record")
    record_with_photo(one, "9/4", "staked", picture(60))
    one.send_all()
    keeping = one.page.locator(".keeping")
    expect(keeping).to_contain_text("1 record that the server has, 1 of them in no copy yet")
    (kept,) = here(one.page, "kept")
    assert kept["bytes"] > 0
    # days go by: it stays
    one.page.evaluate(
        """async () => {
          const { all, write } = await import('/static/js/field/db.js');
          const old = await all('sent');
          await write(['sent'], (store) => old.forEach((each) =>
            store('sent').put({ ...each, at: each.at - 9 * 864e5 })));
        }"""
    )
    one.open("send")
    expect(one.page.locator(".keeping")).to_contain_text("1 of them in no copy yet")
    expect(one.page.locator("main")).to_contain_text("Nothing in the last days")
    server.back_up(tmp_path / "copy.linemap")
    refresh(one)
    expect(one.page.locator(".keeping")).to_contain_text("Nothing this phone sent is kept on it")
    expect(one.page.locator(".keeping")).to_contain_text(
        re.compile(r"Newest copy of the job: \d\d:\d\d, up to event")
    )
    assert (here(one.page, "sent"), here(one.page, "kept")) == ([], [])


def test_a_restored_server_is_given_again_what_it_lacks(
    server: Server, phone_of: Callable[[Any], Any], picture: Callable[..., Any], tmp_path: Path
) -> None:
    one = phone_of(server.field)
    one.load()
    one.open("send")
    one.belong("Heron")
    one.record("9/4", "staked")
    one.send_all()
    server.back_up(tmp_path / "copy.linemap")
    record_with_photo(one, "9/5", "staked", picture(60))
    one.go("card", "9/6")
    one.tap("[data-do=claim]")
    one.record("9/6", "staked", "")
    one.send_all()
    ids = [entry["id"] for entry in here(one.page, "sent")]
    first = {event["id"]: event for event in server.events(ids)}
    pictures = server.photos()
    assert (len(ids), len(first), list(pictures.values())) == (4, 3, [True])

    bring_back(tmp_path / "copy.linemap", str(tmp_path / "again.linemap"))
    server.exchange(tmp_path / "again.linemap")
    assert len(server.events(ids)) == 1
    one.open("send")
    alarm = one.page.locator("#alarm")
    expect(alarm).to_contain_text("The job was brought back from a copy")
    expect(alarm).to_contain_text("3 records and 1 photo of this phone were missing and are sent again")
    expect(one.page.locator("h2", has_text="To send: 0 records, 0 photos")).to_be_visible()
    expect(one.page.locator(".keeping")).to_contain_text("in no copy yet")
    second = server.events(ids)
    # once each, in a chain that holds, received again, and otherwise word for word what was sent
    assert len(second) == 3
    assert server.photos() == pictures
    assert server.ask("GET", "/api/claims").json()["claims"][0]["structure"] == "9/6"
    for event in second:
        before = first[event["id"]]
        own = {name for name in event if event[name] != before[name]}
        assert own <= {"seq", "received_at", "skew_s", "chain_hash"}, (own, event)
        assert (event["received_at"] > before["received_at"]) == (event["structure"] != "9/4")
    one.tap("[data-do=understood]")
    expect(alarm).to_be_hidden()
    # nothing goes out a third time
    posts = server.field.signal.posts
    refresh(one)
    assert len(server.events(ids)) == 3
    assert server.field.signal.posts == posts
    one.open("send")
    expect(one.page.locator("#alarm")).to_be_hidden()


def test_a_copy_put_in_the_place_of_the_job_by_hand_is_noticed_too(
    server: Server, phone_of: Callable[[Any], Any], tmp_path: Path
) -> None:
    """The same incarnation and a record that went on otherwise: only the link this phone saw tells."""
    one = phone_of(server.field)
    one.load()
    one.open("send")
    one.belong("Heron")
    with open_job(server.job) as database, database.reading() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copy(server.job, tmp_path / "by hand.linemap")
    one.record("9/4", "staked")
    one.send_all()
    refresh(one)
    (sent,) = here(one.page, "sent")
    server.exchange(tmp_path / "by hand.linemap")
    for structure in ("9/5", "9/6"):
        other = {
            **sent["body"],
            "id": str(uuid.uuid4()),
            "structure": structure,
        }
        answer = server.ask(
            "POST", "/api/events", json={"sent_at": "2026-05-16T12:00:00Z", "events": [other]}
        )
        assert answer.json()["results"][0]["outcome"] == "stored"
    one.open("send")
    expect(one.page.locator("#alarm")).to_contain_text("The record is not the one this phone saw on")
    expect(one.page.locator("#alarm")).to_contain_text("1 record of this phone was missing and is sent again")
    assert len(server.events([sent["id"]])) == 1
    assert "NOT HERE ARE ITS events" in server.ask("GET", "/settings").text


def evict(one: Any) -> None:
    session = one.page.context.new_cdp_session(one.page)
    origin = one.url
    session.send("Storage.clearDataForOrigin", {"origin": origin, "storageTypes": EVICTED})
    session.detach()


def test_memory_that_was_dropped_while_closed_is_said_at_once(
    field: Any, phone: Callable[..., Any], picture: Callable[..., Any]
) -> None:
    one = phone()
    device = one.page.locator("form.who small").inner_text()
    field.signal.lost()
    record_with_photo(one, "9/4", "staked", picture(60))
    one.record("9/5", "staked")
    assert len(one.waiting()) == 2
    field.signal.back()
    one.page.goto(f"{one.url}/health")
    evict(one)
    one.open("send")
    alarm = one.page.locator("#alarm")
    expect(alarm).to_contain_text("LOST")
    expect(alarm).to_contain_text(re.compile(r"it was there on \d+ \w+ \d\d:\d\d"))
    expect(alarm).to_contain_text("2 records and 1 photo that had not been sent are GONE")
    expect(one.page.locator("form.who small")).to_have_text(device)
    one.open("line")
    expect(alarm).to_contain_text("2 records and 1 photo")
    one.tap("[data-do=understood]")
    expect(one.page.locator("#alarm", has_text="LOST")).to_have_count(0)
    one.open("send")
    expect(one.page.locator("#alarm", has_text="LOST")).to_have_count(0)


def test_memory_that_is_dropped_under_the_open_page_is_written_again(
    field: Any, phone: Callable[..., Any]
) -> None:
    one = phone()
    field.signal.lost()
    one.record("9/4", "staked")
    (waiting,) = one.waiting()
    field.signal.back()
    one.page.evaluate("document.cookie")
    evict(one)
    alarm = one.page.locator("#alarm")
    expect(alarm).to_contain_text(
        "1 record that waited was still in the open page and is on this phone again"
    )
    one.page.wait_for_selector("html[data-ready='1']", state="attached")
    expect(alarm).to_contain_text("1 record that waited was still in the open page")
    one.send_all()
    assert [event["id"] for event in field.events()] == [waiting["id"]]


@pytest.mark.parametrize(("kept", "words"), [(True, "Kept for good"), (False, "May be dropped")])
def test_whether_memory_is_kept_is_asked_and_shown(phone: Callable[..., Any], kept: bool, words: str) -> None:
    """Chromium decides by how much a page is used; both answers are given here in its place."""
    one = phone()
    given = str(kept).lower()
    one.page.add_init_script(
        "window.asked = 0;"
        f"StorageManager.prototype.persisted = async () => window.asked > 0 && {given};"
        "StorageManager.prototype.persist = async () => { window.asked += 1; return "
        f"{given}; }};"
    )
    one.open("send")
    keeping = one.page.locator(".keeping")
    expect(keeping).to_contain_text(words)
    expect(keeping).to_contain_text(re.compile(r"[\d.]+ [kM]B of [\d.]+ GB are used"))
    assert one.page.evaluate("window.asked") == 1
    button = one.page.get_by_role("button", name="Ask the browser to keep it")
    expect(button).to_have_count(0 if kept else 1)
    if not kept:
        button.tap()
        assert one.page.evaluate("window.asked") == 2


def test_a_phone_without_any_mark_is_told_by_the_job_what_came_from_it(
    own_job: tuple[str, FastAPI], field_of: Callable[[str], Any], phone_of: Callable[[Any], Any]
) -> None:
    """The browser dropped all that scripts can write, as some do after a week; who is signed in stayed."""
    url, app = own_job
    now = dt.datetime.now(dt.UTC)
    code = add_person(app.state.database, name="Ada", role=Role.CREW, device="truck phone", now=now)
    one = phone_of(field_of(url))
    page = one.page
    page.goto(f"{one.url}/sign-in#code={code}")
    page.get_by_role("button", name="Sign in on this device").tap()
    page.wait_for_url("**/field*")
    one.load()
    one.record("9/4", "staked")
    one.send_all()
    expect(one.page.locator("#alarm", has_text="LOST")).to_have_count(0)
    page.goto(f"{one.url}/health")
    evict(one)
    page.evaluate("localStorage.clear()")
    page.context.clear_cookies(name=re.compile("linemap-kept"))
    one.open("line")
    alarm = page.locator("#alarm")
    expect(alarm).to_contain_text("This phone starts empty, but the job has 1 record that came from it")
    expect(alarm).to_contain_text("What it had not sent since is gone")


def signed_in(one: Any, server: Server, name: str) -> None:
    now = dt.datetime.now(dt.UTC)
    code = add_person(server.database, name=name, role=Role.CREW, device=f"phone of {name}", now=now)
    one.page.goto(f"{one.url}/sign-in#code={code}")
    one.page.get_by_role("button", name="Sign in on this device").tap()
    one.page.wait_for_url("**/field*")
    one.load()


def test_handed_over_and_given_back_to_a_restored_job_a_record_keeps_its_four_names(
    server: Server, phone_of: Callable[[Any], Any], tmp_path: Path
) -> None:
    ada, bo = phone_of(server.field), phone_of(server.field)
    signed_in(ada, server, "Ada")
    signed_in(bo, server, "Bo")
    for one in (ada, bo):
        one.open("send")  # hears who is signed in
        refresh(one)
    server.back_up(tmp_path / "copy.linemap")
    server.field.signal.lost()
    ada.open("record", "9/4", s="staked")
    ada.page.locator("summary", has_text="Note, more readings, who").tap()
    ada.page.locator("input[name=actor]").fill("Cy Helper")
    ada.tap("[data-do=save][data-pole='']")
    ada.page.locator("#toast", has_text="On this phone").wait_for()
    ada.page.wait_for_selector("html[data-view='card']", state="attached")
    (own,) = ada.waiting()
    ada.page.evaluate("location.hash = 'v=hand'")
    ada.tap("[data-do=file]")
    with ada.page.expect_download() as waited:
        ada.page.get_by_role("link", name="Save the file").tap()
    waited.value.save_as(tmp_path / "handed.txt")
    bo.go("hand", "")
    bo.page.locator("input[name=handed]").set_input_files(tmp_path / "handed.txt")
    expect(bo.page.locator("[data-hand]")).to_contain_text("1 record")
    server.field.signal.back()
    bo.send_all()
    refresh(bo)
    names = {"actor": "Cy Helper", "signed_by": "Ada", "device": "phone of Ada"}

    def stands(sent_by: set[str]) -> None:
        (event,) = server.events([own["id"]])
        assert {name: event[name] for name in names} == names
        assert event["sent_by"] in sent_by

    stands({"Bo"})
    bring_back(tmp_path / "copy.linemap", str(tmp_path / "again.linemap"))
    server.exchange(tmp_path / "again.linemap")
    assert server.events([own["id"]]) == []
    ada.open("send")
    bo.open("send")
    for one in (ada, bo):
        refresh(one)
        expect(one.page.locator("h2", has_text="To send: 0 records, 0 photos")).to_be_visible()
    stands({"Ada", "Bo"})
