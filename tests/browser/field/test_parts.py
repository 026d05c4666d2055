"""Punch items, guys one by one and the wire of a span, recorded without a signal."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from playwright.sync_api import expect

from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.store.job import change_settings
from linemap.web.app import create_app

pytestmark = pytest.mark.browser
#: The phone's clock is ours, and the job is shown for a day of May.
LATER = (dt.datetime.now(dt.UTC).date() + dt.timedelta(days=1)).isoformat()
PARTS = {
    "guyed": {"per": "guy", "requires": [], "source": "contract 3.2"},
    "strung": {"per": "span", "requires": ["set"], "source": "contract 3.4"},
}


@pytest.fixture(scope="module")
def field_with_parts(
    demo_job: Path, tmp_path_factory: pytest.TempPathFactory, serve: Callable[[FastAPI], str], field_of: Any
) -> Iterator[Any]:
    """A signal before a server whose job has steps of guys and spans."""
    job = tmp_path_factory.mktemp("parts") / "parts.linemap"
    shutil.copy(demo_job, job)
    with open_job(job) as database, database.writing() as connection:
        change_settings(connection, {"part_step": PARTS})
    served = field_of(serve(create_app(Settings(job=str(job)), today=lambda: dt.date(2026, 5, 16))))
    yield served
    served.signal.stop()
    served.server.close()


@pytest.fixture
def one(field_with_parts: Any, phone_of: Callable[..., Any]) -> Any:
    field_with_parts.begin()
    taken = phone_of(field_with_parts)
    taken.load()
    taken.open("send")
    taken.belong("Mole")
    return taken


def written(one: Any) -> list[Any]:
    return sorted(one.waiting(), key=lambda entry: entry["at"])


def test_an_item_opens_and_closes_on_a_photo_without_a_signal(
    one: Any, field_with_parts: Any, picture: Any
) -> None:
    page = one.page
    field_with_parts.signal.lost()
    one.go("card", "9/1")
    expect(page.locator(".punch-list")).to_contain_text("No open item is recorded here.")
    one.tap(".punch-list a.button")
    page.locator("html[data-view='punch']").wait_for(state="attached")
    page.locator("[name=text]").fill("brace bolt loose on the back face")
    page.locator("[name=part]").select_option("B")
    page.locator("[name=severity]").select_option("stops the work")
    page.locator("[name=owner]").fill("Heron")
    page.locator("[name=due]").fill("2026-05-20")
    one.tap("form.punch-form .save")
    page.locator("#toast", has_text="On this phone: punch item P-").wait_for()
    row = page.locator(".punch-list li")
    expect(row).to_contain_text("brace bolt loose on the back face")
    expect(row).to_contain_text("this phone")
    expect(page.locator(".hold", has_text="PUNCH")).to_contain_text("brace bolt loose")

    one.tap(".punch-list li a.button")
    one.tap("form.punch-form .save")
    expect(page.locator("[data-fault]")).to_have_text("Take a photo, or write what shows that it is done.")
    page.set_input_files("input[name=photo]", picture(400, seed=7, name="tight.png"))
    expect(page.locator("[data-photos]")).to_contain_text("1 photo with this record")
    one.tap("form.punch-form .save")
    page.locator("#toast", has_text="closed").wait_for()
    expect(page.locator(".punch-list > ul")).to_have_count(0)
    expect(page.locator(".punch-list summary")).to_have_text("1 closed")
    expect(page.locator(".hold", has_text="PUNCH")).to_have_count(0)
    opened, closed = (entry["body"] for entry in written(one))
    assert (opened["what"], opened["pole"], opened["content"]["due"]) == ("punch", "B", "2026-05-20")
    assert closed["content"] == {"item": opened["content"]["item"], "action": "closed"}
    assert len(closed["photos"]) == 1

    field_with_parts.signal.back()
    one.send_all()
    panel = field_with_parts.server.get("/api/structure", params={"number": "9/1", "as_of": LATER}).json()
    (item,) = panel["punch"]
    assert (item["open"], item["part"]) == (False, "B")
    assert "on 1 photo" in item["sentence"]
    assert one.strangers() == []
    assert one.complaints == []


def test_guys_are_saved_one_by_one_and_a_span_by_its_name(one: Any, field_with_parts: Any) -> None:
    page = one.page
    field_with_parts.signal.lost()
    one.go("record", "9/2", s="guyed")
    guys = page.locator(".save-bar.per-guy .pole")
    names = guys.locator("b").all_text_contents()
    assert len(names) > 1
    one.tap(f".save-bar [data-part='{names[0]}']")
    page.locator("#toast", has_text=f"guyed {names[0]} at 9/2").wait_for()
    expect(page.locator("tr", has_text="guyed").first).to_contain_text(f"only {names[0]}")
    one.go("record", "9/2", s="guyed")
    expect(guys.first).to_contain_text("again")
    for name in names[1:]:
        one.go("record", "9/2", s="guyed")
        one.tap(f".save-bar [data-part='{name}']")
        page.locator("#toast", has_text=f"guyed {name} at 9/2").wait_for()
    expect(page.locator("tr", has_text="guyed").first).to_contain_text("done")

    one.go("record", "1/1", s="strung")
    one.tap(".save-bar [data-part='1/1 to 1/2']")
    page.locator("#toast", has_text="strung 1/1 to 1/2 at 1/1").wait_for()
    parts = [(entry["body"]["step"], entry["body"]["part"]) for entry in written(one)]
    assert parts == [*(("guyed", name) for name in names), ("strung", "1/1 to 1/2")]

    field_with_parts.signal.back()
    one.send_all()
    arrived = [(event["step"], event["part"]) for event in field_with_parts.events()]
    assert arrived == parts
    assert one.complaints == []


@pytest.mark.parametrize("width", [320, 390])
def test_what_is_new_on_the_card_fits_and_is_named(one: Any, width: int) -> None:
    page = one.page
    page.set_viewport_size({"width": width, "height": 568 if width == 320 else 844})
    for view, number, more in (
        ("card", "9/1", {}),
        ("punch", "9/1", {"i": ""}),
        ("record", "9/2", {"s": "guyed"}),
    ):
        one.go(view, number, **more)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (view, width)
        small = page.evaluate(
            """[...document.querySelectorAll(
                 'main button, main a.button, main select, main input:not([type=file], [type=checkbox])')]
               .filter((one) => one.offsetParent && one.getBoundingClientRect().height < 44)
               .map((one) => one.outerHTML)"""
        )
        assert small == [], (view, width)
