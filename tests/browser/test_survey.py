"""The surveyor's page in a real browser: decide, undo, filter, keys, paper, hostile names; and the files."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, Request, expect
from watched_page import LOOKS, faults, opened, ready

pytestmark = pytest.mark.browser

FOOT_FILE = "file shots_2026-04-29.csv"
FOUR = ("7/1", "7/2", "7/5", "7/6")


def card(page: Page, subject: str) -> Locator:
    return page.locator("article.cause").filter(has=page.get_by_role("heading", name=subject, exact=True))


def answer(place: Locator, words: str, *, who: str = "P. Chief", note: str = "") -> None:
    place.locator("input[name=who]").fill(who)
    place.locator("input[name=note]").fill(note)
    place.get_by_role("button", name=words, exact=True).click()


def test_accepting_the_foot_cause_and_taking_it_back(watch: Callable[..., Any], job_url: str) -> None:
    watched = watch()
    page = opened(watched, f"{job_url}/survey")
    foot = card(page, FOOT_FILE)
    expect(foot.locator(".row h4 a")).to_have_text([re.compile(f"^{number} ") for number in FOUR])
    expect(foot).to_contain_text("4 structures fail -> pass")
    expect(foot).to_contain_text("shots_2026-04-29.csv rows 1, 2")
    answer(foot, "Accept", note="controller was set to US feet")
    changed = page.locator("#changed")
    expect(changed.locator("h3")).to_be_focused()
    expect(changed).to_contain_text("27 → 31")
    for number in FOUR:
        expect(changed).to_contain_text(f"{number}: fail → pass")
    expect(foot).to_have_count(0)
    expect(page.locator("#settled")).to_contain_text(
        "foot definition, file shots_2026-04-29.csv: 7/1, 7/2, 7/5, 7/6"
    )
    map_page = page.context.new_page()
    map_page.goto(f"{job_url}/#structure=7/1")
    expect(map_page.locator(".verdict-word")).to_have_text("pass")
    page.reload()
    ready(page)
    page.locator("#settled").get_by_role("button", name="Withdraw").click()
    expect(page.locator("#changed")).to_contain_text("31 → 27")
    expect(foot.locator(".row-verdict")).to_have_text(["fail"] * 4)
    expect(page.locator("#settled")).to_be_hidden()
    expect(page.locator("ol.history li")).to_contain_text(
        [re.compile("withdrawn: foot definition"), re.compile("accepted: foot definition.*US feet")]
    )
    assert watched.complaints == []
    assert watched.strangers() == []


def test_undo_takes_the_last_answer_back(watch: Callable[..., Any], job_url: str) -> None:
    page = opened(watch(), f"{job_url}/survey")
    answer(card(page, "structure 4/2"), "Reject", note="stake report says centre")
    expect(page.locator("#changed")).to_contain_text("No verdict changed")
    expect(card(page, "structure 4/2").locator(".stands")).to_contain_text("Rejected by P. Chief")
    page.get_by_role("button", name="Undo: withdraw this answer").click()
    expect(page.locator("#changed h3")).to_contain_text("Withdrawn by P. Chief")
    expect(card(page, "structure 4/2").locator(".stands")).to_have_text("Open: nobody has decided.")


def test_labels_need_second_evidence_and_a_name_is_asked_once(
    watch: Callable[..., Any], job_url: str
) -> None:
    page = opened(watch(), f"{job_url}/survey")
    single = card(page, "structure 2/3")
    single.get_by_role("button", name="Accept", exact=True).click()
    expect(single.locator("input[name=who]")).to_be_focused()
    answer(single, "Accept")
    expect(page.locator("#message")).to_contain_text("second evidence")
    expect(page.locator("ol.history")).to_have_count(0)
    single.locator("input[name=note]").fill("photo: ground wire on the left")
    single.get_by_role("button", name="Accept", exact=True).click()
    expect(page.locator("#changed")).to_contain_text("2/3: cannot tell, A and B reversed → pass")
    page.reload()
    expect(card(page, "structure 4/2").locator("input[name=who]")).to_have_value("P. Chief")


def test_enter_in_a_field_decides_nothing(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/survey")
    foot = card(page, FOOT_FILE)
    foot.locator("input[name=who]").fill("P. Chief")
    note = foot.locator("input[name=note]")
    note.fill("typed")
    note.press("Enter")
    page.wait_for_timeout(300)
    expect(page.locator("#changed")).to_be_empty()
    expect(page.locator("ol.history")).to_have_count(0)
    expect(note).to_have_value("typed")


def test_filters_and_a_note_not_sent_yet(watch: Callable[..., Any], job_url: str) -> None:
    page = opened(watch(), f"{job_url}/survey")
    # 15 causes, and one card of structures without any: 15/2, spotted before Rev C moved it
    expect(page.locator("article.cause")).to_have_count(16)
    card(page, FOOT_FILE).locator("input[name=note]").fill("half a thought")
    page.locator("select[name=code]").select_option("offset stake")
    expect(page.locator("article.cause h3")).to_have_text(["structure 4/2", "structure 9/4"])
    expect(page.locator(".tally")).to_have_text("2 of 28 structures shown; 15 causes, 15 open")
    answer(card(page, "structure 4/2"), "Needs evidence")
    expect(card(page, "structure 4/2").locator(".stands")).to_contain_text("Needs evidence by P. Chief")
    page.get_by_role("button", name="Show all").click()
    expect(card(page, FOOT_FILE).locator("input[name=note]")).to_have_value("half a thought")
    page.locator("select[name=state]").select_option("needs evidence")
    expect(page.locator("article.cause h3")).to_have_text(["structure 4/2"])
    page.locator("select[name=state]").select_option("accepted")
    expect(page.locator(".nothing")).to_have_text("Nothing fits these choices.")
    page.get_by_role("button", name="Show all").click()
    page.locator("select[name=verdict]").select_option("reversed")
    rows = page.locator(".row")
    expect(rows).to_have_count(8)
    expect(page.locator(".turned")).to_have_count(8)


def test_a_structure_opens_on_the_map(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/survey")
    link = card(page, "structure 5/5").get_by_role("link")
    expect(card(page, "structure 5/5").locator(".sketch svg title")).to_have_text(
        re.compile("Plan of structure 5/5")
    )
    link.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#panel h2")).to_have_text("5/5")
    page.get_by_role("link", name="Survey", exact=True).click()
    expect(page.locator(".page-title")).to_have_text("What needs the surveyor")


def test_map_lists_what_needs_the_surveyor(watch: Callable[..., Any], demo_url: str) -> None:
    page = watch().open(demo_url)
    page.locator(".filters summary").click()
    page.locator("select[name=verdict]").select_option("surveyor")
    # 26 by their shots, and 15/2, which was spotted before Rev C moved it
    expect(page.locator(".shown")).to_have_text("27 of 121 structures")
    expect(page.locator(".grid-row").first).to_contain_text("1/1")


def opened_state(page: Page) -> Locator:
    """Open the newest state of the structure list on the page of files; give its list."""
    structures = page.locator(".list").filter(has_text="structures:")
    structures.locator("summary").first.click()
    structures.get_by_role("button", name="Rows of structures").first.click()
    expect(structures.locator(".state table")).to_be_visible()
    return structures


@pytest.mark.parametrize(("phone", "scheme"), LOOKS)
def test_pages_are_accessible(watch: Callable[..., Any], job_url: str, phone: bool, scheme: str) -> None:
    watched = watch(phone=phone, scheme=scheme)
    page = opened(watched, f"{job_url}/survey")
    page.locator("article.cause summary").first.click()
    answer(card(page, FOOT_FILE), "Accept")
    expect(page.locator("#changed h3")).to_be_visible()
    assert faults(page) == []
    page = opened(watched, f"{job_url}/files")
    for summary in page.locator(".file").first.locator("summary").all():
        summary.click()
    opened_state(page)
    assert faults(page) == []
    assert watched.complaints == []


def test_hostile_words_stay_words(watch: Callable[..., Any], job_url: str) -> None:
    watched = watch()
    page = opened(watched, f"{job_url}/survey")
    hostile = '"><img src=x onerror=alert(1)>'
    answer(card(page, "structure 4/2"), "Reject", who=hostile, note=hostile)
    expect(page.locator("#changed h3")).to_contain_text(hostile)
    expect(page.locator("ol.history")).to_contain_text(hostile)
    assert page.locator("main img").count() == 0
    assert watched.complaints == []


def test_paper_leaves_the_forms_out(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(scheme="dark"), f"{demo_url}/survey")
    page.emulate_media(media="print")
    expect(page.locator(".decide").first).to_be_hidden()
    expect(page.locator(".tools")).to_be_hidden()
    expect(page.locator("#caution")).to_be_visible()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"


def test_a_lost_server_is_said_and_the_answer_is_kept(watch: Callable[..., Any], job_url: str) -> None:
    watched = watch()
    page = opened(watched, f"{job_url}/survey")
    sent: list[str] = []

    def note_id(request: Request) -> None:
        if request.method == "POST":
            sent.append(request.post_data_json["id"])

    page.on("request", note_id)
    page.context.set_offline(True)
    answer(card(page, "structure 4/2"), "Reject")
    expect(page.locator("#message")).to_contain_text("It is not known whether this was recorded: no contact")
    page.context.set_offline(False)
    card(page, "structure 4/2").get_by_role("button", name="Reject").click()
    expect(page.locator("#changed h3")).to_contain_text("Rejected by P. Chief")
    assert len(sent) == 2
    assert len(set(sent)) == 1


def test_columns_are_said_once_for_the_next_file(watch: Callable[..., Any], job_url: str) -> None:
    page = opened(watch(), f"{job_url}/files")
    page.locator("select[name=kind]").select_option("structures")
    file = page.locator(".file").filter(has=page.get_by_role("heading", name="structures_revC.csv"))
    file.get_by_text("Say what the columns are").click()
    expect(file).to_contain_text("Nothing that is loaded is read again")
    expect(file.locator("input[name='field:number']")).to_have_value("Structure")
    file.locator("input[name=by]").fill("P. Chief")
    file.get_by_role("button", name="Keep for files of this shape").click()
    expect(page.locator("#message")).to_contain_text(
        "Kept: the next file of the shape of structures_revC.csv"
    )
    file.get_by_text("Say what the columns are").click()
    expect(file).to_contain_text("Confirmed by P. Chief")


def test_an_earlier_state_of_a_list_is_opened_and_put_away(watch: Callable[..., Any], demo_url: str) -> None:
    page = opened(watch(), f"{demo_url}/files")
    file = page.get_by_role("article", name="structures_revC.csv")
    expect(file).to_contain_text("Against the list before: 1 changed")
    structures = opened_state(page)
    expect(structures).to_contain_text("1 changed")
    expect(structures).to_contain_text("15/2 moved 8.00 ft")
    earlier = structures.get_by_role("button", name="Rows of structures").last
    earlier.click()
    expect(structures.locator(".state")).not_to_contain_text("moved")
    expect(structures.locator(".state tbody tr")).to_have_count(121)
    earlier.click()
    expect(structures.locator(".state table")).to_have_count(0)
