"""Locate tickets: whom they cover and until when."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.crew.reach import Coverage
from linemap.domain.crew.ticket import Ticket, needs_ticket, ticket_for

DAY = date(2026, 5, 15)
DAYS = st.dates(date(2026, 1, 1), date(2026, 12, 31))


def ticket(**changes: object) -> Ticket:
    values = {"number": "LT-45", "structures": ("9/2",), "expires": date(2026, 5, 1), **changes}
    return Ticket(**values)  # type: ignore[arg-type]


def test_the_last_day_belongs_to_the_ticket() -> None:
    assert ticket().valid(date(2026, 5, 1))
    assert not ticket().valid(date(2026, 5, 2))


def test_a_ticket_without_an_end_is_never_valid() -> None:
    assert not ticket(expires=None).valid(DAY)


@pytest.mark.parametrize(
    ("life", "last"),
    [("28 days", date(2026, 5, 8)), ("20 working days", date(2026, 5, 8)), ("1", date(2026, 4, 11))],
)
def test_the_life_is_a_rule_of_the_state(life: str, last: date) -> None:
    # 11 April 2026 is a Saturday: working days begin on the Monday
    assert ticket(expires=None, valid_from=date(2026, 4, 11), life=life).last_day == last


@given(first=DAYS, days=st.integers(1, 60))
def test_as_many_working_days_as_asked_lie_in_the_life(first: date, days: int) -> None:
    last = ticket(expires=None, valid_from=first, life=f"{days} working days").last_day
    assert last is not None
    inside = [first + timedelta(days=one) for one in range((last - first).days + 1)]
    assert sum(day.isoweekday() < 6 for day in inside) == days


def test_anchors_need_a_ticket_that_covers_them() -> None:
    poles_only = ticket(expires=date(2026, 6, 12))
    both = ticket(expires=date(2026, 6, 1), covers_anchors=True)
    assert ticket_for([poles_only, both], step="dug", on=DAY) is poles_only
    assert ticket_for([poles_only, both], step="guyed", on=DAY) is both
    assert ticket_for([poles_only], step="anchors", on=DAY) is None


def test_a_ticket_that_waits_for_an_answer_serves_nothing() -> None:
    waiting = ticket(expires=date(2026, 6, 12), responses="gas pending, rest marked")
    assert ticket_for([waiting], step="dug", on=DAY) is None
    assert ticket_for([ticket(expires=date(2026, 6, 12), responses="all marked")], step="dug", on=DAY)


def test_only_steps_that_open_the_ground_need_one() -> None:
    assert [needs_ticket(step) for step in ("dug", "guyed", "framed", "set", "inspected")] == [
        True, True, False, False, False,
    ]  # fmt: skip


def test_tickets_are_found_by_line_and_number_however_written() -> None:
    mine, other = ticket(line="N"), ticket(line="S")
    assert Coverage([mine, other]).at("N", "09-2") == (mine,)
    backwards = ticket(structures=(), from_structure="9/6", to_structure="9/1")
    assert Coverage([backwards]).at("", "9/3") == (backwards,)


def test_one_end_of_a_range_alone_is_that_structure() -> None:
    single = ticket(structures=("7/1",), from_structure="9/6").reach
    assert [single.covers("N", number) for number in ("7/1", "9/5", "9/6", "9/7")] == [
        True,
        False,
        True,
        False,
    ]
    named = ticket(structures=("7/1",), to_structure="9/6").reach
    assert [named.covers("N", number) for number in ("7/1", "7/2", "9/6")] == [True, False, False]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"number": " "}, "blank number"),
        ({"structures": ()}, "names no structure"),
        ({"life": "a while"}, "a while"),
        ({"valid_from": date(2026, 6, 1)}, "before it begins"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        ticket(**changes)


@given(
    listed=st.lists(
        st.one_of(
            st.builds(
                ticket, line=st.sampled_from(["", "N", "S"]), structures=st.sampled_from([("9/2",), ("9-3",)])
            ),
            st.builds(
                ticket, structures=st.just(()), from_structure=st.just("9/1"), to_structure=st.just("9/3")
            ),
        ),
        max_size=4,
    )
)
def test_all_at_once_is_the_same_as_one_by_one(listed: list[Ticket]) -> None:
    keys = [(line, number) for line in ("N", "S") for number in ("9/2", "9/3", "9/4")]
    singly = {key: tuple(each for each in listed if each.reach.covers(*key)) for key in keys}
    assert Coverage(listed).by_structure(keys) == {key: there for key, there in singly.items() if there}
