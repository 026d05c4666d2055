"""What a phone dates by itself, against the server's rule, and with its clock and zone moved."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

import pytest

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.term import moment_words
from linemap.domain.crew.ticket import Ticket

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
    from zoneinfo import ZoneInfo

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
