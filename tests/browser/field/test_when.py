"""What a phone dates by itself, against the server's rule, and with its clock and zone moved."""

from __future__ import annotations

import datetime as dt
import random
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from fastapi import FastAPI
from playwright.sync_api import expect

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.term import moment_words
from linemap.domain.crew.ticket import Ticket
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.store.job import change_settings
from linemap.web.app import create_app

pytestmark = pytest.mark.browser

_RULE = """async (cases) => {
  const when = await import('/static/js/field/when.js');
  return cases.map(({ hold, ticket, at, day, free, anchors }) => [
    when.standing(hold, at), when.momentSaid(hold.begins || hold.ends || at, at), when.isNear(hold, at),
    hold.begins ? when.comingWords(hold, free, at) : '', when.ticketTerm(ticket, day),
    when.ticketServes(ticket, anchors, day),
  ]);
}"""


def _day(chance: random.Random) -> dt.date:
    return dt.date(2026, 5, 28) + dt.timedelta(days=chance.randrange(-12, 13))


def _clock(chance: random.Random) -> dt.time | None:
    return chance.choice((None, dt.time(chance.randrange(24), chance.choice((0, 30)))))


def _case(chance: random.Random) -> tuple[dict[str, Any], list[Any]]:
    """One hold and one ticket at one moment, as a phone has them, and what the server's rule says."""
    first, last = sorted((_day(chance), _day(chance)))
    clocks = (_clock(chance), _clock(chance)) if first < last else (_clock(chance), None)
    begins, ends = chance.choice((None, first)), chance.choice((None, last))
    hold = Hold(
        id="HX-1",
        condition=chance.choice(("", "monitor on site")),
        from_date=begins,
        from_time=clocks[0] if begins else None,
        to_date=ends,
        to_time=clocks[1] if ends else None,
    )
    ticket = Ticket(
        number="LT-1",
        structures=("9/2",),
        covers_anchors=chance.random() < 0.5,
        valid_from=begins,
        expires=ends,
        responses=chance.choice(("all marked", "gas pending")),
    )
    day, time = _day(chance), _clock(chance)
    at = day if time is None else dt.datetime.combine(day, time)
    free, step = chance.random() < 0.5, chance.choice(("dug", "guyed"))
    term = hold.term
    shown = (begins, hold.from_time) if begins else (ends, hold.to_time) if ends else (day, time)
    case = {
        "hold": {
            "id": hold.id,
            "kind": "conditional" if hold.conditional else "hold",
            "condition": hold.condition,
            "begins": term.begins,
            "ends": term.ends,
        },
        "ticket": {
            "valid_from": begins.isoformat() if begins else "",
            "valid_to": ends.isoformat() if ends else "",
            "waits": ticket.responses if ticket.waits_for_answers else "",
            "anchors": ticket.covers_anchors,
        },
        "at": day.isoformat() if time is None else f"{at:%Y-%m-%dT%H:%M}",
        "day": day.isoformat(),
        "free": free,
        "anchors": step == "guyed",
    }
    said = [
        hold.standing(at),
        moment_words(*shown, at),
        term.is_near(at),
        hold.coming_words(at, free=free) if begins else "",
        ticket.term(day),
        ticket.serves(step, day) and not ticket.waits_for_answers,
    ]
    return case, said


def test_phone_and_server_date_by_one_rule(reader: Any) -> None:
    chance = random.Random(20260528)
    cases, wanted = zip(*(_case(chance) for _ in range(4000)), strict=True)
    found = reader.page.evaluate(_RULE, list(cases))
    for case, said, want in zip(cases, found, wanted, strict=True):
        assert said == want, case
    assert {said[0] for said in found} == {"to come", "in force", "over"}


@pytest.mark.parametrize("zone", ["America/Denver", "Asia/Tokyo", "Pacific/Auckland", "America/St_Johns"])
def test_a_moment_is_dated_by_the_zone_that_is_asked_for(reader: Any, zone: str) -> None:
    """The page runs in America/Denver; both changes of the clock of 2026 are among the moments."""
    begin = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    moments = [begin + dt.timedelta(hours=7 * hours, minutes=hours % 60) for hours in range(1300)]
    found = reader.page.evaluate(
        """async ([zone, moments]) => {
          const { localMoment } = await import('/static/js/field/when.js');
          return moments.map((ms) => localMoment(ms, zone));
        }""",
        [zone, [moment.timestamp() * 1000 for moment in moments]],
    )
    assert found == [f"{moment.astimezone(ZoneInfo(zone)):%Y-%m-%dT%H:%M}" for moment in moments]


#: The evening before: 27 May 19:30 where the line lies, 28 May by the server's clock and in Tokyo.
EVENING = dt.datetime(2026, 5, 28, 1, 30, tzinfo=dt.UTC)
#: A hold in force, or what stops as one does.
HOLD = ".hold:not(.coming):not(.conditional)"
HELD = f".card {HOLD}"
HOLDS = """\
Hold,Activities,Structures,From date,To date,Condition,Reason,Restricted,Set by,Release by
HN-8,all,13/5,2026-05-28,2026-06-15,,nest within 660 ft,yes,environmental lead,environmental lead
HX-8,all,13/6,2026-05-28 07:00,2026-05-28 15:00,,outage,no,system operator,system operator
HM-8,all,14/4,2026-05-28 06:00,,cultural monitor on site,site,yes,environmental lead,environmental lead
HL-8,all,5/2,2026-05-01,2026-05-27,,lambing,no,office,office
"""
TICKETS = """\
Ticket,Structures,Anchors,Valid from,Expires,Responses,Renewed by
LT-1500,15/3,yes,2026-05-01,2026-05-27,all marked,office
LT-1504,15/4,yes,2026-05-29,2026-06-25,all marked,office
"""


@pytest.fixture(scope="module")
def evening(
    demo_job: Path,
    tmp_path_factory: pytest.TempPathFactory,
    serve: Callable[[FastAPI], str],
    field_of: Callable[[str], Any],
) -> Iterator[Any]:
    """The invented line on the evening of 27 May, served from a machine whose clock is UTC's."""
    folder = tmp_path_factory.mktemp("evening")
    job = Path(shutil.copy(demo_job, folder / "evening.linemap"))
    with open_job(str(job)) as database:
        with database.writing() as connection:
            change_settings(connection, {"data_date": None})
        for name, text in (("holds_may.csv", HOLDS), ("tickets_may.csv", TICKETS)):
            path = folder / name
            path.write_text(text, encoding="utf-8")
            load_files(database, LoadRequest(paths=(path,)), now=EVENING)
    served = field_of(serve(create_app(Settings(job=str(job)), now=lambda: EVENING)))
    yield served
    served.signal.stop()
    served.server.close()


@pytest.fixture
def away(evening: Any, phone_of: Callable[..., Any]) -> Iterator[Callable[..., Any]]:
    """Load a phone whose own zone is Tokyo's in the evening, take its signal away, and move its clock."""
    evening.signal.back()

    def take(hours: float, **shape: Any) -> Any:
        one = phone_of(evening, **{"timezone_id": "Asia/Tokyo", **shape})
        one.page.clock.set_fixed_time(EVENING)
        one.load()
        one.go("send")
        one.belong("Heron")
        evening.signal.lost()
        one.page.clock.set_fixed_time(EVENING + dt.timedelta(hours=hours))
        one.open("card", "13/5")
        return one

    yield take
    evening.signal.back()


def test_the_evening_before_says_what_comes(away: Callable[..., Any]) -> None:
    one = away(0.0)
    page, coming = one.page, one.page.locator(".card .hold.coming")
    expect(coming).to_contain_text("hold HN-8 from tomorrow")
    expect(page.locator(HELD)).to_have_count(0)
    expect(page.locator("[data-loaded]")).to_have_count(0)
    one.go("card", "13/6")
    expect(coming).to_contain_text("free until tomorrow 07:00 by the records, then hold HX-8")
    one.go("card", "14/4")
    expect(coming).to_contain_text("free until tomorrow 06:00 by the records, then only with monitor")
    one.go("card", "5/2")
    expect(page.locator(HELD)).to_contain_text("HOLD no work at 5/2 from 1 May 2026")
    one.go("card", "15/4")
    begins = "LT-1504 covers poles and anchors, begins 29 May 2026"
    expect(page.locator(HELD)).to_contain_text(f"TICKET {begins}")
    one.go("record", "15/4", s="dug")
    expect(page.locator(f"form.record {HOLD}")).to_contain_text(f"TICKET ticket {begins}")


def test_the_next_morning_without_a_signal_the_hold_is_in_force(away: Callable[..., Any]) -> None:
    """28 May 07:30 where the line lies: nothing was heard since the evening."""
    one = away(12.0)
    page, hold = one.page, one.page.locator(HELD)
    expect(hold).to_contain_text("HOLD no work at 13/5 from 28 May 2026 until 15 June 2026")
    expect(page.locator("[data-loaded]")).to_contain_text("LOADED YESTERDAY 19:30")
    one.go("card", "13/6")
    expect(hold).to_contain_text("from 28 May 2026 07:00 until 28 May 2026 15:00")
    one.go("card", "5/2")
    expect(hold).to_have_count(0)
    expect(page.locator("main")).to_contain_text("hold HL-8 ended yesterday by its list")
    one.go("card", "15/3")
    expect(hold).to_contain_text(
        "TICKET EXPIRED LT-1500 covers poles and anchors, expired 27 May 2026, 1 day ago"
    )
    one.go("record", "15/3", s="dug")
    expect(page.locator(f"form.record {HOLD}").first).to_contain_text("TICKET EXPIRED")
    expect(page.locator("form.record [data-loaded]")).to_be_visible()
    one.go("next")
    expect(page.locator("h1")).to_contain_text("Next for Heron")
    refused = page.locator(".refused")
    expect(refused).to_contain_text("13/5")
    expect(page.locator(".next-row .big", has_text="13/5")).to_have_count(0)
    expect(page.locator(".next [data-loaded]")).to_be_visible()


def test_after_the_outage_the_work_is_free_again(away: Callable[..., Any]) -> None:
    one = away(19.75)  # 15:15
    one.go("card", "13/6")
    expect(one.page.locator(HELD)).to_have_count(0)
    expect(one.page.locator("main")).to_contain_text("hold HX-8 ended today 15:00 by its list")


def test_under_a_condition_the_record_asks_who_is_there(evening: Any, away: Callable[..., Any]) -> None:
    one = away(12.0)
    one.go("card", "14/4")
    expect(one.page.locator(".card .hold.conditional").first).to_contain_text(
        "only with monitor on site, from 28 May 2026 06:00 until released"
    )
    one.go("record", "14/4", s="framed")
    box = one.page.locator("form.record input[name=monitor]")
    expect(box).to_be_visible()
    box.fill("Jo Tern")
    one.tap("[data-do=save]")
    expect(one.page.locator(".history")).to_contain_text("monitor Jo Tern on site")
    one.go("record", "14/5", s="framed")
    expect(one.page.locator("form.record input[name=monitor]")).to_be_hidden()
    (waiting,) = one.waiting()
    assert waiting["body"]["readings"] == [{"name": "monitor", "value": "Jo Tern", "unit": "", "pole": ""}]
    evening.signal.back()
    one.send_all()
    panel = evening.server.get("/api/structure", params={"number": "14/4"}).json()
    assert any("monitor Jo Tern on site" in entry["text"] for entry in panel["history"])


def test_server_and_phone_say_the_same_of_what_comes(evening: Any, away: Callable[..., Any]) -> None:
    one = away(0.0)
    told = evening.server.get("/api/next", params={"crew": "Heron", "from": "13/4"}).json()
    assert told["as_of"] == "2026-05-27"
    mine = one.page.evaluate(
        """async () => {
          const { computed } = await import('/static/js/field/next_here.js');
          const { headsNumbered } = await import('/static/js/field/pack.js');
          return computed(headsNumbered('13/4')[0], 'Heron');
        }"""
    )
    for number, words in (("13/5", "hold HN-8 from tomorrow"), ("13/6", "free until tomorrow 07:00")):
        for answer in (told, mine):
            (row,) = (row for row in answer["workable"] if row["number"] == number)
            assert any(each.startswith(words) for each in row["conditions"]), (number, row)
