"""The bench for shots in a real browser: list, map, keys, what is said of shots, and taking it back."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from crew_words import crew_file, not_surveyed
from fastapi import FastAPI
from playwright.sync_api import Locator, Page, expect
from watched_page import LOOKS, faults, opened, ready

from linemap.domain.record.person import Role
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.people.people import add_person, sign_in_by_code
from linemap.service.view.build import build_view
from linemap.web.session import cookie_name

pytestmark = pytest.mark.browser


#: World pixels of the two poles nearest to shot 5008 of 3/5, and of the shot.
PLACES = """async () => {
  const { worldX, worldY } = await import('/static/js/map/geo.js');
  const { shots } = await (await fetch('/api/survey/shots')).json();
  const found = shots.find((each) => each.file === 'shots_2026-04-16.csv' && each.point === '5008');
  return [...found.near.slice(0, 2), found].map(({ at }) => [worldX(at[0]), worldY(at[1])]);
}"""


#: Wait until an element has stood where it is for a third of a second.
RESTS = """element => new Promise((done) => {
  let top = NaN, rests = 0;
  const look = () => {
    const now = element.getBoundingClientRect().top;
    rests = now === top ? rests + 1 : 0;
    top = now;
    if (rests < 20) requestAnimationFrame(look);
    else done();
  };
  look();
})"""


def bench(watched: Any, url: str) -> Page:
    page = opened(watched, f"{url}/survey")
    expect(page.locator("#bench")).to_be_visible()
    return page


def entry(page: Page, words: str) -> Locator:
    return page.locator("#bench-list [role=option]").filter(has_text=words)


def press(shot: Locator) -> None:
    """Press an entry once it rests: causes above it are drawn, and move it, as they come into sight."""
    shot.scroll_into_view_if_needed()
    shot.evaluate(RESTS)
    shot.click()


def signed(page: Page, *, note: str = "") -> None:
    page.locator("#bench-say [name=who]").fill("P. Chief")
    page.locator("#bench-say [name=note]").fill(note)


def drawn(page: Page) -> str:
    return str(page.evaluate("() => document.querySelector('#bench-map canvas').toDataURL()"))


def test_one_of_two_shots_is_set_aside_and_taken_back(watch: Callable[..., Any], job_url: str) -> None:
    watched = watch()
    page = bench(watched, job_url)
    expect(page.locator("#bench-lead")).to_contain_text("13 of 125 shots wait for somebody")
    page.locator("#bench-filter [name=text]").fill("3-5 b")
    expect(entry(page, "3-5 B GL")).to_have_count(2)
    press(entry(page, "5008"))
    shot = page.locator("#bench-shot")
    expect(shot.locator(".then")).to_contain_text("with point 5007 of shots_2026-04-16.csv: arm turned 0.0°")
    expect(shot.locator("[data-near]").first).to_have_text(
        re.compile(r"Assign to 3/5 B 6\.21 ft off: 6\.21 ft ahead")
    )
    signed(page)
    shot.get_by_role("button", name="Set 5008 aside").click()
    expect(page.locator("#bench-say [name=note]")).to_be_focused()
    expect(page.locator("#bench-done")).to_be_empty()
    signed(page, note="rod on the wrong pole")
    shot.get_by_role("button", name="Set 5008 aside").click()
    done = page.locator("#bench-done")
    expect(done.locator("h3")).to_be_focused()
    expect(done).to_contain_text("3/5: cannot tell → pass")
    expect(page.locator("#causes")).not_to_contain_text("shot 2 times")
    panel = page.context.new_page()
    panel.goto(f"{job_url}/#structure=3/5")
    expect(panel.locator("#panel")).to_contain_text(
        "point 5008 of shots_2026-04-16.csv: set aside by P. Chief"
    )
    expect(panel.locator(".verdict-word")).to_have_text("pass")
    panel.close()
    page.reload()
    ready(page)
    page.locator("#bench-filter [name=became]").select_option("set aside")
    expect(entry(page, "5008")).to_contain_text("set aside, P. Chief")
    expect(page.locator("#bench-shot .stands")).to_contain_text("P. Chief, 20")
    expect(page.locator("#bench-shot .stands")).to_contain_text("rod on the wrong pole")
    page.get_by_role("button", name="Take this decision back").click()
    expect(page.locator("#bench-done")).to_contain_text("3/5: pass → cannot tell")
    expect(page.locator("#bench-lead")).to_contain_text("13 of 125")
    assert watched.complaints == []
    assert watched.strangers() == []


def test_chosen_shots_go_each_to_its_nearest_pole_and_back_with_one_press(
    watch: Callable[..., Any], job_url: str
) -> None:
    page = bench(watch(), job_url)
    page.locator("#bench-filter [name=text]").fill("STR 2/4")
    expect(page.locator("#bench-list [role=option]")).to_have_count(2)
    page.get_by_role("button", name="Choose all listed").click()
    expect(page.locator("#say-about")).to_have_text("2 shots chosen")
    signed(page, note="field book p. 12")
    page.get_by_role("button", name="Each to its nearest pole, at most 0.03 ft off").click()
    done = page.locator("#bench-done")
    expect(done).to_contain_text("2/4: cannot tell → pass; 2/5: not surveyed → pass")
    done.get_by_role("button", name="Undo: take this back").click()
    expect(done).to_contain_text("2/4: pass → cannot tell; 2/5: pass → not surveyed")
    expect(page.locator("ol.history li")).to_have_count(4)


def test_a_shot_nothing_read_gets_what_the_fields_say(watch: Callable[..., Any], job_url: str) -> None:
    page = bench(watch(), job_url)
    page.locator("#bench-filter [name=became]").select_option("unread")
    expect(entry(page, "5038")).to_contain_text("not read")
    signed(page)
    say = page.locator("#bench-say")
    say.locator("[name=structure]").fill("9-3")
    say.get_by_role("button", name="Assign", exact=True).click()
    expect(page.locator("#message")).to_contain_text("a pole has one; name the pole")
    say.locator("[name=structure]").fill("99/9")
    say.locator("[name=pole]").select_option("B")
    say.get_by_role("button", name="Assign", exact=True).click()
    expect(page.locator("#message")).to_contain_text("no structure 99/9")
    say.locator("[name=kind]").select_option("crossing")
    expect(say.locator("[name=structure]")).to_be_disabled()
    say.locator("[name=kind]").select_option("check")
    expect(say.locator("[name=pole]")).to_be_disabled()
    # a check shot may be of a control point
    say.locator("[name=structure]").fill("")
    say.get_by_role("button", name="Assign", exact=True).click()
    expect(page.locator("#bench-done")).to_contain_text("shots assigned, row 38 of shots_2026-05-13.csv")
    page.locator("#bench-filter [name=became]").select_option("assigned")
    expect(entry(page, "5038")).to_contain_text("assigned, P. Chief")
    expect(page.locator("#bench-shot .stands")).to_contain_text("assigned as a check shot by P. Chief")


def test_keys_go_through_the_list_and_choose(watch: Callable[..., Any], demo_url: str) -> None:
    page = bench(watch(), demo_url)
    shots = page.locator("#bench-list")
    shots.focus()
    before = drawn(page)
    for key in ("End", "ArrowUp", " ", "ArrowUp", " ", "Shift+ArrowUp"):
        page.keyboard.press(key)
    active = page.locator(f"#{shots.get_attribute('aria-activedescendant')}")
    expect(active).to_contain_text("5014")
    expect(page.locator("#say-about")).to_have_text("3 shots chosen")
    expect(page.locator("#bench-list [aria-selected=true]")).to_have_count(3)
    page.keyboard.press(" ")
    expect(page.locator("#bench-list [aria-selected=true]")).to_have_count(2)
    expect(shots).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Set 5014 aside")).to_be_focused()
    assert drawn(page) != before


def test_a_pole_of_the_map_goes_into_the_fields(watch: Callable[..., Any], demo_url: str) -> None:
    page = bench(watch(), demo_url)
    page.locator("#bench-filter [name=text]").fill("3-5 B")
    press(entry(page, "5008"))
    box = page.locator("#bench-map").bounding_box()
    assert box is not None
    (bx, by), (ax, ay), (sx, sy) = page.evaluate(PLACES)
    # the map shows the shot and the two poles about its middle, as near as it comes
    middle = [(min(v) + max(v)) / 2 for v in ((ax, bx, sx), (ay, by, sy))]
    for zoom in (21.0, 20.75, 20.5, 20.25, 20.0):
        x = box["width"] / 2 + (ax - middle[0]) * 2**zoom
        y = box["height"] / 2 + (ay - middle[1]) * 2**zoom
        page.locator("#bench-map").click(position={"x": x, "y": y})
        if page.locator("#bench-say [name=structure]").input_value():
            break
    expect(page.locator("#bench-picked")).to_have_text("Pole 3/5 A as designed")
    expect(page.locator("#bench-say [name=structure]")).to_have_value("3/5")
    expect(page.locator("#bench-say [name=pole]")).to_have_value("A")


def test_all_shots_a_crew_describes_alike_are_read_by_one_press(
    watch: Callable[..., Any], own_job: tuple[str, FastAPI], tmp_path: Path
) -> None:
    url, application = own_job
    database = application.state.database
    now = dt.datetime(2026, 5, 16, 9, tzinfo=dt.UTC)
    view = build_view(database, today=now.date())
    bare = not_surveyed(view)[:6]
    for name, numbers in (("crew_1.csv", bare[:3]), ("crew_2.csv", bare[3:])):
        path = crew_file(view, tmp_path, name, numbers)
        load_files(database, LoadRequest(paths=(path,), kind="shots"), now=now)
    watched = watch()
    page = bench(watched, url)
    page.locator("#bench-filter [name=became]").select_option("unread")
    expect(page.locator("#bench-list [role=option]")).to_have_count(13)
    press(entry(page, f"FOX {bare[0].replace('/', '-')}"))
    expect(page.locator("#bench-shot h3")).to_contain_text("FOX")
    signed(page, note="crew's own words")
    say = page.locator("#bench-say")
    say.get_by_role("button", name="Read all described alike").click()
    expect(say.locator("[name=pattern]")).to_have_value("FOX <structure> = pole A")
    expect(say.locator("[name=pattern]")).to_be_focused()
    expect(page.locator("#alike-found")).to_contain_text(
        "6 shots would be read as a pole each, at most 0.02 ft off the design."
    )
    say.locator("[name=pattern]").fill("FOX <structure> = tree")
    expect(page.locator("#alike-found")).to_contain_text("nothing a shot can be of")
    say.locator("[name=pattern]").fill("OWL <structure> = pole B")
    expect(page.locator("#alike-found li").first).to_contain_text(f"{bare[0]} B, 0.02 ft off")
    say.locator("[name=pattern]").fill("FOX <structure> = pole A")
    assert faults(page) == []
    say.get_by_role("button", name="Read them so").click()
    expect(page.locator("#bench-done")).to_contain_text("shots read by pattern, FOX <structure>")
    expect(page.locator("#bench-list [role=option]")).to_have_count(7)
    page.locator("#bench-done").get_by_role("button", name="Undo: take this back").click()
    expect(page.locator("#bench-list [role=option]")).to_have_count(13)
    # the pattern that is none was refused
    assert [words for words in watched.complaints if "422" not in words] == []


@pytest.mark.parametrize("role", [Role.SURVEYOR, Role.INSPECTOR, Role.CREW, Role.VIEWER])
def test_who_may_look_and_who_may_decide(
    watch: Callable[..., Any], own_job: tuple[str, FastAPI], role: Role
) -> None:
    url, application = own_job
    now = dt.datetime.now(dt.UTC)
    database = application.state.database
    code = add_person(database, name="Ada", role=role, device="browser", now=now)
    token = sign_in_by_code(database, code, address="test", now=now)
    assert token is not None
    watched = watch()
    watched.page.context.add_cookies(
        [{"name": cookie_name(application.state.identity), "value": token, "url": url}]
    )
    page = opened(watched, f"{url}/survey")
    looks, decides = role in {Role.SURVEYOR, Role.INSPECTOR}, role is Role.SURVEYOR
    expect(page.locator("#bench")).to_be_visible(visible=looks)
    expect(page.locator("#bench-list [role=option]")).to_have_count(13 if looks else 0)
    expect(page.locator("#bench-say button")).to_have_count(6 if decides else 0)
    expect(page.locator("#bench-shot button")).to_have_count(1 if decides else 0)
    assert watched.complaints == []


@pytest.mark.parametrize(("phone", "scheme"), LOOKS)
def test_the_bench_is_accessible(watch: Callable[..., Any], job_url: str, phone: bool, scheme: str) -> None:
    watched = watch(phone=phone, scheme=scheme)
    page = bench(watched, job_url)
    press(entry(page, "5008").last.locator("[data-tick]"))
    signed(page, note="rod on the wrong pole")
    page.locator("#bench-say").get_by_role("button", name="Set aside").click()
    expect(page.locator("#bench-done h3")).to_be_visible()
    page.locator("#bench-filter [name=became]").select_option("all")
    expect(page.locator("#bench-list [role=option]")).to_have_count(18)
    assert faults(page) == []
    assert watched.complaints == []


def test_hostile_words_stay_words(watch: Callable[..., Any], job_url: str) -> None:
    page = bench(watch(), job_url)
    hostile = '"><img src=x onerror=alert(1)>'
    press(entry(page, "5008").last)
    page.locator("#bench-say [name=who]").fill(hostile)
    page.locator("#bench-say [name=note]").fill(hostile)
    page.locator("#bench-say").get_by_role("button", name="Set aside").click()
    page.locator("#bench-filter [name=became]").select_option("set aside")
    expect(page.locator("#bench-shot .stands")).to_contain_text(hostile)
    assert page.locator("main img").count() == 0
