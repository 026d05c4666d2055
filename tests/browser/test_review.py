"""Loading in a real browser: files brought, read, reviewed on map and list, accepted, undone; keys, phone."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from playwright.sync_api import Page, expect
from watched_page import faults, ready, violations

from linemap.domain.record.person import Role
from linemap.service.files.proposal import add_proposal_file, begin
from linemap.service.people.people import add_person, sign_in_by_code
from linemap.store.changes import change_proposal
from linemap.web.session import cookie_name

pytestmark = pytest.mark.browser

HOLD = "id,activities,structures,reason,set by,releese by\nHZ-9,framing,13/6,wet ground,Otter,Otter\n"
#: The map as it is drawn.
DRAWN = "() => document.querySelector('#plan canvas').toDataURL()"


def changed_structures(demo_files: Path) -> bytes:
    """Return the structure list with some moved, some taken out, one renumbered."""
    rows = list(csv.reader((demo_files / "structures_revC.csv").read_text("utf-8").splitlines()))
    number, easting = rows[2].index("Structure"), rows[2].index("Easting (ft)")
    kept = []
    for row in rows:
        if row[number] in {"5/5", "12/3"}:
            row[easting] = f"{float(row[easting].replace(',', '')) + 82.4:.3f}"
        if row[number] == "16/2":
            row[number] = "16/2A"
        if row[number] not in {"2/3", "9/1"}:
            kept.append(row)
    text = io.StringIO()
    csv.writer(text).writerows(kept)
    return text.getvalue().encode()


def brought(page: Page, url: str, **files: str | bytes) -> None:
    """Bring files on the page of files, and wait until they are read."""
    page.goto(f"{url}/files")
    ready(page)
    page.set_input_files(
        "#chosen",
        [
            {
                "name": name.replace("__", "."),
                "mimeType": "text/csv",
                "buffer": text.encode() if isinstance(text, str) else text,
            }
            for name, text in files.items()
        ],
    )
    page.wait_for_url("**/review?id=*")
    ready(page)


def test_a_hold_is_loaded_and_the_load_undone(watch: Callable[..., Any], job_url: str) -> None:
    watched = watch()
    page = watched.page
    brought(page, job_url, holds__csv=HOLD)
    expect(page.locator("#top")).to_be_focused()
    expect(page.locator("#sum")).to_contain_text("holds.csv: holds; 1 of 1 row would be used")
    expect(page.locator("#files")).to_contain_text("those it does not name stay")
    expect(page.locator("#consequences")).to_contain_text("13/6")
    main = page.locator("button.main")
    expect(main).to_have_text("Load 1 hold, end 0")
    expect(main).to_be_disabled()
    expect(page.locator("#missing")).to_have_text("Say why, for the record.")
    # nothing takes the column until somebody says so
    page.get_by_role("button", name="Read it as release_by").click()
    expect(page.locator("#message")).to_contain_text("Give your name")
    page.locator("input[name=by]").fill("Otter")
    page.get_by_role("button", name="Read it as release_by").click()
    expect(page.locator(".unread")).to_have_count(0)
    page.locator("input[name=reason]").fill("sent by the office")
    expect(main).to_be_enabled()
    main.click()
    expect(page.locator("#done-title")).to_be_focused()
    assert faults(page) == []
    page.get_by_role("link", name="Files and changes").click()
    ready(page)
    row = page.locator(".change").filter(has_text="sent by the office")
    expect(row).to_contain_text("Loaded: holds.csv")
    expect(row).to_contain_text("Otter")
    row.get_by_role("button", name="Undo").click()
    page.wait_for_url("**/review?id=*")
    expect(page.locator("#top")).to_have_text("Review an undo")
    for box in page.locator("input[name=removes]").all():
        box.check()
    page.locator("input[name=reason]").fill("the wrong line")
    page.locator("button.main").click()
    expect(page.locator("#done-title")).to_be_focused()
    page.goto(f"{job_url}/files")
    expect(page.locator(".change").filter(has_text="sent by the office")).to_contain_text("Undone since")
    assert watched.complaints == []
    assert watched.strangers() == []


def test_holds_that_would_end_are_crossed_and_need_their_word(
    watch: Callable[..., Any], job_url: str
) -> None:
    watched = watch(phone=True)
    page = watched.page
    brought(page, job_url, holds__csv=HOLD)
    expect(page.locator("#plan-legend")).not_to_contain_text("hold that ends")
    page.locator("input[name=ends]").check()
    expect(page.locator("button.main")).to_have_text(re.compile(r"Load 1 hold, end (?!0)\d+"))
    expect(page.locator("input[name=ends]")).to_be_focused()
    expect(page.locator("#plan-legend")).to_contain_text("hold that ends")
    harm = page.locator(".consequence.harm")
    expect(harm).to_contain_text("hold HN-1 ends")
    before = page.evaluate(DRAWN)
    harm.get_by_role("button", name="hold HN-1 ends").click()
    expect(page.locator("#picked")).to_have_text("hold HN-1 ends")
    assert page.evaluate(DRAWN) != before
    page.locator("input[name=reason]").fill("all over")
    page.locator("input[name=by]").fill("Otter")
    expect(page.locator("#missing")).to_contain_text("boxes above")
    expect(page.locator("button.main")).to_be_disabled()
    assert faults(page) == []
    page.locator("input[name=removes]").check()
    expect(page.locator("#missing")).to_be_empty()
    page.locator("button.main").click()
    expect(page.locator("#done")).to_contain_text("holds end: HW-1")
    assert watched.complaints == []


def test_structures_that_move_and_go_are_on_the_map(
    watch: Callable[..., Any], job_url: str, demo_files: Path
) -> None:
    watched = watch()
    page = watched.page
    brought(page, job_url, structures__csv=changed_structures(demo_files))
    for words in ("moved", "taken away", "another number", "stays"):
        expect(page.locator("#plan-legend")).to_contain_text(words)
    assert len(page.evaluate(DRAWN)) > 5000
    page.locator("summary").filter(has_text="structures move").click()
    page.locator("[data-effect]").filter(has_text="12/3").filter(has_text="moves").first.click()
    expect(page.locator("#picked")).to_contain_text("12/3")
    # the place that was gone to is in the middle: touching it names it
    box = page.locator("#plan").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.locator("#plan").focus()
    zoomed = page.evaluate(DRAWN)
    page.keyboard.press("-")
    page.keyboard.press("-")
    page.wait_for_timeout(600)
    assert page.evaluate(DRAWN) != zoomed
    # a number that changed takes its records along; two that went keep theirs as cases
    expect(page.locator(".consequence.harm")).to_contain_text("2/3")
    expect(page.locator(".consequence", has_text="records to another number")).to_contain_text("16/2A")
    assert faults(page) == []
    page.get_by_role("button", name="Dark").click()
    assert violations(page) == []
    page.get_by_role("button", name="Drop these files").click()
    page.wait_for_url("**/files")
    ready(page)
    expect(page.locator("#waiting")).to_be_hidden()
    assert watched.complaints == []


def test_a_broken_file_says_what_is_wrong_and_has_no_button(
    watch: Callable[..., Any], job_url: str, demo_files: Path
) -> None:
    page = watch(phone=True).page
    text = (demo_files / "structures_revC.csv").read_text("utf-8").replace("Structure,", "Thing,", 1)
    brought(page, job_url, list__csv=text, holds__csv=HOLD)
    refusal = page.locator(".refusal")
    expect(refusal).to_contain_text("list.csv cannot be loaded as it is")
    assert "--" not in refusal.inner_text()
    expect(page.locator("#files")).to_contain_text("holds.csv")
    expect(page.locator("button.main")).to_have_count(0)
    expect(page.locator("#follows")).to_be_hidden()
    expect(page.locator("#heard")).to_have_text("The files cannot be loaded as they are.")
    assert faults(page) == []


def test_a_file_that_may_be_two_things_is_asked_about_for_itself(
    watch: Callable[..., Any], job_url: str
) -> None:
    page = watch().page
    points = "Mast,X,Y\n9/1,2283000,911000\n13/6,2284000,911100\n"
    brought(page, job_url, holds__csv=HOLD, points__csv=points)
    asked = page.get_by_role("group", name="What is points.csv?")
    expect(asked.get_by_role("button", name="structures")).to_be_visible()
    expect(page.locator("#choices")).to_be_hidden()
    asked.get_by_role("button", name="structures").click()
    expect(page.locator(".refusal")).to_contain_text("structures need number")
    # its headings say nothing to linemap: which column is the number is said here
    page.locator("input[name=by]").fill("Otter")
    names = page.get_by_role("article", name="points.csv").locator("form.names")
    names.locator("input[name=heading]").fill("Mast")
    names.locator("select[name=field]").select_option("number")
    names.get_by_role("button", name="Read it so").click()
    expect(page.locator("button.main")).to_contain_text("2 structures, 1 hold")
    page.locator("summary").filter(has_text="Read them in another way").click()
    page.locator("input[name=label]").fill("D")
    page.get_by_role("button", name="Read again").click()
    expect(page.locator("input[name=label]")).to_have_value("D")
    expect(page.locator("input[name=label]")).to_be_visible()
    expect(page.locator("button.main")).to_contain_text("2 structures, 1 hold")


def test_headings_that_say_nothing_lead_to_the_choices(watch: Callable[..., Any], job_url: str) -> None:
    page = watch(phone=True).page
    brought(
        page,
        job_url,
        points__csv="Mast-Nr.;Rechtswert;Hochwert;Höhe\n9/1;2283000,00;911000,00;4021,3\n9/2;2284000,00;911100,00;4020,1\n",
    )
    expect(page.locator(".refusal")).to_contain_text("say below what it is")
    page.locator("select[name=kind]").select_option("structures")
    page.get_by_role("button", name="Read again").click()
    expect(page.locator(".refusal")).to_contain_text("structures need")


def test_a_list_that_another_took_the_place_of_says_so_unasked(
    watch: Callable[..., Any], job_url: str, demo_files: Path
) -> None:
    page = watch().page
    brought(page, job_url, structures_revB__csv=(demo_files / "structures_revB.csv").read_bytes())
    card = page.get_by_role("article", name="structures_revB.csv")
    expect(card.get_by_text("structures_revC.csv took its place")).to_be_visible()
    expect(card.get_by_text("load it only if the older one is to hold again")).to_be_visible()


def test_two_people_and_what_changed_meanwhile_is_marked(watch: Callable[..., Any], job_url: str) -> None:
    one, other = watch().page, watch().page
    brought(one, job_url, holds__csv=HOLD)
    brought(other, job_url, later__csv=HOLD.replace("HZ-9", "HZ-8"))
    other.locator("input[name=ends]").check()
    expect(other.locator("input[name=removes]")).to_be_visible()
    for page, who in ((one, "Otter"), (other, "Raven")):
        for box in page.locator("input[name=removes]").all():
            box.check()
        page.locator("input[name=reason]").fill("as agreed")
        page.locator("input[name=by]").fill(who)
    one.locator("button.main").click()
    expect(one.locator("#done-title")).to_be_focused()
    other.locator("button.main").click()
    expect(other.locator("#message")).to_contain_text("Nothing is stored yet: the job changed meanwhile")
    expect(other.locator("#follows-title")).to_be_focused()
    expect(other.locator(".consequence .new").first).to_be_visible()
    expect(other.locator("input[name=removes]")).not_to_be_checked()
    expect(other.locator("input[name=reason]")).to_have_value("as agreed")
    other.locator("input[name=removes]").check()
    other.locator("button.main").click()
    expect(other.locator("#done-title")).to_be_focused()


def test_by_keyboard_alone(watch: Callable[..., Any], job_url: str) -> None:
    page = watch().page
    brought(page, job_url, holds__csv=HOLD)
    expect(page.locator("#top")).to_be_focused()

    def tab_to(selector: str) -> None:
        for _ in range(60):
            page.keyboard.press("Tab")
            if page.evaluate("s => document.activeElement.matches(s)", selector):
                return
        raise AssertionError(f"the Tab key does not reach {selector}")

    tab_to("#consequences summary")
    page.keyboard.press("Enter")
    tab_to("[data-effect]")
    page.keyboard.press("Enter")
    expect(page.locator("#picked")).not_to_be_empty()
    tab_to("input[name=reason]")
    page.keyboard.type("by hand")
    page.keyboard.press("Enter")
    # what is missing is named, and focused
    expect(page.locator("input[name=by]")).to_be_focused()
    page.keyboard.type("Otter")
    tab_to("button.main")
    page.keyboard.press("Enter")
    expect(page.locator("#done-title")).to_be_focused()
    tab_to("a.button")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/$"))


def test_too_large_a_file_is_not_sent_and_sending_can_be_ended(
    watch: Callable[..., Any], job_url: str, tmp_path: Path
) -> None:
    watched = watch()
    page = watched.page
    page.goto(f"{job_url}/files")
    ready(page)
    large = tmp_path / "large.csv"
    with large.open("wb") as file:
        file.truncate(1 << 30)
    page.set_input_files("#chosen", large)
    expect(page.locator("#message")).to_have_text(
        "Nothing was sent: large.csv has 1,024 MiB, and a file may have 256 MiB; "
        "part it, or leave out what is no list."
    )
    assert not [url for url in watched.requests if "/api/proposals" in url]
    assert faults(page) == []
    # the server never answers this one: it is ended by hand, and leaves nothing behind
    page.route("**/api/proposals/*/files/*", lambda _route: None)
    page.set_input_files("#chosen", {"name": "a.csv", "mimeType": "text/csv", "buffer": HOLD.encode()})
    page.get_by_role("button", name="Cancel").click()
    expect(page.locator("#message")).to_have_text("Sending was ended; nothing was kept.")
    expect(page.locator("#chosen")).to_be_focused()
    page.reload()
    ready(page)
    expect(page.locator("#waiting")).to_be_hidden()


def test_sending_is_ended_while_the_server_is_asked_for_a_place(
    watch: Callable[..., Any], job_url: str
) -> None:
    page = watch().page
    page.goto(f"{job_url}/files")
    ready(page)
    held: list[Any] = []
    page.route("**/api/proposals", lambda route: held.append(route))
    page.set_input_files("#chosen", {"name": "a.csv", "mimeType": "text/csv", "buffer": HOLD.encode()})
    page.get_by_role("button", name="Cancel").click()
    held[0].continue_()
    expect(page.locator("#message")).to_have_text("Sending was ended; nothing was kept.")


def test_reading_can_be_cancelled(watch: Callable[..., Any], job_url: str) -> None:
    """A list so long that it is still being read when the button is pressed."""
    page = watch().page
    page.goto(f"{job_url}/files")
    ready(page)
    rows = "".join(f"{1 + i // 8}/{1 + i % 8},{900_000 + i}.5,{2_250_000 + i}.5\n" for i in range(60_000))
    text = f"Structure,Northing (ft),Easting (ft)\n{rows}"
    page.set_input_files("#chosen", {"name": "long.csv", "mimeType": "text/csv", "buffer": text.encode()})
    page.get_by_role("button", name="Cancel").and_(page.locator("[data-act=drop]")).click()
    page.wait_for_url("**/files")
    ready(page)
    expect(page.locator("#waiting")).to_be_hidden()


def test_files_are_dropped_on_the_page_several_at_once(watch: Callable[..., Any], job_url: str) -> None:
    page = watch().page
    page.goto(f"{job_url}/files")
    ready(page)
    page.evaluate(
        """([one, two]) => {
          const data = new DataTransfer();
          data.items.add(new File([one], "holds.csv"));
          data.items.add(new File([two], "punch.csv"));
          for (const type of ["dragover", "drop"])
            document.body.dispatchEvent(new DragEvent(type, { dataTransfer: data, bubbles: true }));
        }""",
        [HOLD, "item,structure,opened,text\nP-901,13/5,2026-05-15,arm bolt loose\n"],
    )
    page.wait_for_url("**/review?id=*")
    ready(page)
    expect(page.locator("#sum")).to_contain_text("2 files: ")
    expect(page.locator("#files article")).to_have_count(2)
    expect(page.locator("button.main")).to_contain_text("1 punch")


def test_a_proposal_that_is_gone_says_so(watch: Callable[..., Any], job_url: str) -> None:
    page = watch().page
    page.goto(f"{job_url}/review?id=none")
    expect(page.locator("#reading")).to_contain_text("accepted or dropped")
    assert faults(page) == []


def test_a_reading_that_a_stopped_server_left_is_begun_anew(
    watch: Callable[..., Any], own_job: tuple[str, FastAPI]
) -> None:
    url, app = own_job
    proposal = begin(app.state.database, who="Otter", now=dt.datetime.now(dt.UTC))
    add_proposal_file(app.state.database, proposal, "holds.csv", HOLD.encode())
    with app.state.database.writing() as connection:
        change_proposal(connection, proposal, state="reading", step="reading the files", share=0.3)
    page = watch().page
    page.clock.install()
    page.goto(f"{url}/review?id={proposal}")
    expect(page.locator("#step")).to_have_text("reading the files: 30 %")
    again = page.get_by_role("button", name="Nothing heard for a while: read again")
    expect(again).to_be_hidden()
    page.clock.fast_forward(31_000)
    again.click()
    expect(page.locator("button.main")).to_have_text("Load 1 hold, end 0")


def test_a_surveyor_signs_with_their_own_name_and_reads_no_loaded_file(
    watch: Callable[..., Any], own_job: tuple[str, FastAPI], demo_files: Path
) -> None:
    (url, app), now = own_job, dt.datetime.now(dt.UTC)
    code = add_person(app.state.database, name="Ada Plumb", role=Role.SURVEYOR, device="laptop", now=now)
    token = sign_in_by_code(app.state.database, code, address="test", now=now)
    assert token is not None
    watched = watch()
    page = watched.page
    page.context.add_cookies([{"name": cookie_name(app.state.identity), "value": token, "url": url}])
    brought(page, url, structures__csv=changed_structures(demo_files))
    expect(page.locator("#accept")).to_contain_text("Signed as Ada Plumb")
    page.locator("input[name=removes]").check()
    page.locator("input[name=reason]").fill("Rev D")
    page.locator("button.main").click()
    expect(page.locator("#done-title")).to_be_focused()
    page.goto(f"{url}/files")
    ready(page)
    expect(page.locator("#loaded")).to_be_hidden()
    expect(page.locator(".lead").first).to_contain_text("As surveyor you accept")
    expect(page.locator(".change").filter(has_text="Rev D")).to_contain_text("Ada Plumb")
    assert faults(page) == []
    # a list that is not theirs is shown to them, and a manager accepts it
    brought(page, url, holds__csv=HOLD)
    page.locator("input[name=reason]").fill("found it so")
    page.locator("button.main").click()
    expect(page.locator("#message")).to_contain_text("a surveyor may not load holds; ask a manager")
    assert [each for each in watched.complaints if "403" not in each] == []
