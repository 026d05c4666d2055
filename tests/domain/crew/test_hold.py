"""Holds: when, where and what they cover, and the sentence people read."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.hold_release import HoldRelease, apply_releases, may_release, same_hold
from linemap.domain.crew.reach import Coverage
from linemap.domain.record.person import Person, Role

MAY_1, MAY_31 = date(2026, 5, 1), date(2026, 5, 31)

DRAWING = Hold(
    id="HE-1",
    line="North",
    structures=("9/2",),
    activities=("framing", "setting", "anchors"),
    from_date=date(2026, 3, 1),
    reason="drawing revision due 22 May",
    release_by="engineer",
)
LAMBING = Hold(
    id="HL-1",
    from_structure="11/4",
    to_structure="11/6",
    activities=("entry",),
    from_date=MAY_1,
    to_date=MAY_31,
)
NEST = Hold(
    id="HN-1",
    line="North",
    structures=("14/2",),
    to_date=date(2026, 8, 15),
    reason="eagle nest",
    restricted=True,
    release_by="environmental lead",
)
MONITOR = Hold(
    id="HC-1",
    structures=("21/3",),
    activities=("dig",),
    condition="monitor named",
    reason="burial ground",
    restricted=True,
)


def test_first_and_last_day_belong_to_the_hold() -> None:
    days = [MAY_1 - timedelta(days=1), MAY_1, MAY_31, MAY_31 + timedelta(days=1)]
    assert [LAMBING.active(day) for day in days] == [False, True, True, False]


def test_an_open_hold_stays_until_released() -> None:
    assert DRAWING.active(date(2030, 1, 1))
    released = replace(DRAWING, released_on=date(2026, 5, 22))
    assert released.active(date(2026, 5, 21))
    assert not released.active(date(2026, 5, 22))


def test_ranges_follow_the_numbers_not_the_letters() -> None:
    hold = replace(LAMBING, from_structure="9/6", to_structure="10/2")
    numbers = ("9/5", "9/6", "9/6A", "10/1", "10/2", "10/2A", "1/0")
    assert [hold.reach.covers("North", number) for number in numbers] == [
        False, True, True, True, True, False, False,
    ]  # fmt: skip
    assert replace(hold, from_structure="10/2", to_structure="9/6").reach.covers("North", "10/1")


def test_numbers_are_compared_in_one_spelling() -> None:
    assert DRAWING.reach.covers("North", "09-2")
    assert replace(DRAWING, structures=("STR 9-02",)).reach.covers("North", "9/2")
    assert not DRAWING.reach.covers("North", "2/9")
    assert replace(DRAWING, structures=("Bay  2",)).reach.covers("North", "bay 2")


def test_half_ranges_reach_to_the_end_of_the_line() -> None:
    ahead = Hold(id="H", from_structure="11/6")
    back = Hold(id="H", to_structure="11/6")
    assert [ahead.reach.covers("North", number) for number in ("11/5", "11/6", "99/1")] == [False, True, True]
    assert [back.reach.covers("North", number) for number in ("1/1", "11/6", "12/1")] == [True, True, False]
    assert not ahead.reach.covers("North", "bay")
    assert not back.reach.covers("North", "bay")


def test_named_structures_and_a_range_together() -> None:
    both = replace(LAMBING, structures=("7/3",))
    assert [both.reach.covers("North", number) for number in ("7/3", "7/4", "11/5")] == [True, False, True]


def test_a_hold_without_a_place_is_on_the_whole_line() -> None:
    assert Hold(id="H").reach.covers("North", "1/1")
    assert Hold(id="H").reach.covers("North", "bay")
    assert Hold(id="H", line="North").sentence() == "no work on the whole line North until released"


@pytest.mark.parametrize(
    ("activity", "stopped"),
    [
        ("framed", True),
        ("Framing", True),
        ("set", True),
        ("guyed", True),
        ("dug", False),
        ("stringing", False),
    ],
)
def test_activities_are_matched_by_what_they_mean(activity: str, stopped: bool) -> None:
    assert DRAWING.stops(activity) is stopped


def test_an_activity_that_is_no_step_is_matched_by_its_name() -> None:
    wire = replace(DRAWING, activities=("Stringing ",))
    assert wire.stops("stringing")
    assert not wire.stops("clipping")


@pytest.mark.parametrize("everything", ["all", "All  work", "entry", "ACCESS"])
def test_without_entry_there_is_no_work(everything: str) -> None:
    assert replace(DRAWING, activities=(everything,)).stops("stringing")


@pytest.mark.parametrize(
    ("hold", "sentence"),
    [
        (
            DRAWING,
            "no framing, setting, anchors at 9/2 from 1 March 2026 until released "
            "(drawing revision due 22 May); to be released by engineer",
        ),
        (LAMBING, "no work at 11/4 to 11/6 from 1 May 2026 until 31 May 2026"),
        (
            replace(LAMBING, reason="lambing"),
            "no work at 11/4 to 11/6 from 1 May 2026 until 31 May 2026 (lambing)",
        ),
        (NEST, "no work at 14/2 until 15 August 2026; to be released by environmental lead"),
        (replace(NEST, to_date=None, release_by=""), "no work at 14/2 until released"),
        (MONITOR, "dig at 21/3 only with monitor named, until released"),
        (
            replace(DRAWING, released_on=date(2026, 5, 22), structures=("7-3", "7-4"), reason=""),
            "no framing, setting, anchors at 7-3, 7-4 from 1 March 2026 until released; "
            "was released by engineer on 22 May 2026",
        ),
        (Hold(id="H", from_structure="11/6"), "no work at 11/6 and ahead until released"),
        (Hold(id="H", to_structure="11/6"), "no work at 11/6 and back until released"),
        (Hold(id="H", from_structure="2/2", to_structure="2/2"), "no work at 2/2 until released"),
    ],
)
def test_sentences(hold: Hold, sentence: str) -> None:
    assert hold.sentence() == sentence


@pytest.mark.parametrize("hold", [NEST, MONITOR])
def test_a_restricted_reason_is_never_told(hold: Hold) -> None:
    assert hold.reason not in hold.sentence()
    assert hold.without_reason().reason == ""
    assert hold.without_reason().sentence() == hold.sentence()
    assert hold.reason in replace(hold, restricted=False, condition="").sentence()
    assert DRAWING.without_reason() == DRAWING


def test_conditional_holds_are_told_from_the_others() -> None:
    assert MONITOR.conditional
    assert not NEST.conditional
    assert not replace(MONITOR, condition=" ").conditional


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"id": " "}, "blank identifier"),
        ({"activities": ()}, "names no activity"),
        ({"activities": (" ",)}, "names no activity"),
        ({"from_date": MAY_31, "to_date": MAY_1}, "ends 2026-05-01, before it begins 2026-05-31"),
    ],
)
def test_what_is_refused_is_named(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        replace(LAMBING, **changed)


def test_ends_that_are_no_numbers_hold_what_lies_between_them_on_the_line() -> None:
    hold = replace(LAMBING, from_structure="DE-1", to_structure="T-46")
    held = replace(hold, between=("DE-1", "T-45", "T-45A", "T-46"))
    assert [
        held.reach.covers("North", each) for each in ("DE-1", "T-45A", "T-46", "T-47", "DE-2", "9/2")
    ] == [
        *[True] * 3,
        *[False] * 3,
    ]
    assert [hold.reach.covers("North", each) for each in ("DE-1", "T-45", "T-46")] == [True, False, True]


def test_holds_at_a_structure() -> None:
    held = Coverage((DRAWING, LAMBING, NEST, MONITOR))
    assert held.at("North", "9/2") == (DRAWING,)
    assert held.at("South", "9/2") == ()
    assert held.at("South", "11/5") == (LAMBING,)
    assert held.at("North", "21/3") == (MONITOR,)


NUMBERS = st.builds("{}/{}{}".format, st.integers(1, 4), st.integers(1, 4), st.sampled_from(["", "", "A"]))
DAYS = st.dates(MAY_1, MAY_31)
HOLDS = st.builds(
    Hold,
    id=st.sampled_from(["H1", "H2"]),
    line=st.sampled_from(["", "North", "South"]),
    structures=st.lists(NUMBERS, max_size=2).map(tuple),
    from_structure=st.one_of(st.just(""), NUMBERS),
    to_structure=st.one_of(st.just(""), NUMBERS),
    from_date=st.none(),
    to_date=st.one_of(st.none(), DAYS),
    released_on=st.one_of(st.none(), DAYS),
)


@given(holds=st.lists(HOLDS, max_size=5), numbers=st.lists(NUMBERS, max_size=8, unique=True))
@settings(max_examples=examples(80))
def test_all_at_once_is_the_same_as_one_by_one(holds: list[Hold], numbers: list[str]) -> None:
    keys = [(line, number) for line in ("North", "South") for number in numbers]
    singly = {key: tuple(hold for hold in holds if hold.reach.covers(*key)) for key in keys}
    assert Coverage(holds).by_structure(keys) == {key: found for key, found in singly.items() if found}


@given(hold=HOLDS, on=DAYS)
@settings(max_examples=examples(80))
def test_a_hold_once_over_never_comes_back(hold: Hold, on: date) -> None:
    assert hold.active(on) or not hold.active(on + timedelta(days=1))


@given(low=NUMBERS, high=NUMBERS, number=NUMBERS)
def test_a_range_is_the_same_from_either_end(low: str, high: str, number: str) -> None:
    one = Hold(id="H", from_structure=low, to_structure=high)
    other = Hold(id="H", from_structure=high, to_structure=low)
    assert one.reach.covers("North", low)
    assert one.reach.covers("North", high)
    assert one.reach.covers("North", number) == other.reach.covers("North", number)


def test_held_steps_are_told_as_the_work_they_are() -> None:
    hold = Hold(id="H", structures=("9/2",), activities=("framed", "set", "guyed", "wire"))
    assert hold.sentence() == "no framing, setting, anchors and guys, wire at 9/2 until released"


AT = dt.datetime(2026, 5, 29, 23, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
HOLD = Hold(id="HW-1", structures=("7/3", "7/4"), reason="wetland", release_by="environmental lead")
RELEASE = HoldRelease(
    hold=HOLD, who="Ada", role=Role.INSPECTOR, evidence="mats in", at=AT, recorded_at=AT.astimezone(dt.UTC)
)


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize(
    "by", ["", "manager", "project manager", "crew", "viewer", "surveyor", "Ada", "engineer"]
)
def test_only_whom_the_hold_names_releases_it(role: Role, by: str) -> None:
    expected = {
        "": {Role.MANAGER},
        "manager": {Role.MANAGER},
        "project manager": {Role.MANAGER},
        "crew": set(),
        "viewer": set(),
        "surveyor": {Role.SURVEYOR},
        "Ada": {Role.SURVEYOR, Role.INSPECTOR, Role.MANAGER},
        "engineer": set(),
    }[by]
    assert may_release(replace(HOLD, release_by=by), Person(name="Ada", role=role)) is (role in expected)


@pytest.mark.parametrize("role", list(Role))
def test_an_office_lets_everybody_but_crews_and_viewers_release(role: Role) -> None:
    person = Person(name="Bo", role=role, releases=("Environmental  lead",))
    assert may_release(HOLD, person) is (role not in {Role.CREW, Role.VIEWER})


def test_a_released_hold_no_longer_holds_from_the_day_of_the_release() -> None:
    (hold,) = apply_releases([HOLD], [RELEASE])
    assert hold.released_on == dt.date(2026, 5, 29)
    assert [hold.active(dt.date(2026, 5, day)) for day in (28, 29)] == [True, False]
    assert apply_releases([HOLD], []) == (HOLD,)


@pytest.mark.parametrize(
    "changed",
    [
        {"structures": ("7/3",)},
        {"activities": ("dig",)},
        {"to_date": dt.date(2026, 8, 15)},
        {"condition": "monitor on site"},
        {"id": "HW-2"},
        {"line": "South"},
    ],
)
def test_a_hold_that_comes_back_binding_other_work_is_in_force(changed: dict[str, object]) -> None:
    again = replace(HOLD, **changed)  # type: ignore[arg-type]
    assert not same_hold(again, HOLD)
    assert apply_releases([again], [RELEASE]) == (again,)


def test_a_hold_that_comes_back_with_another_reason_stays_released() -> None:
    (hold,) = apply_releases([replace(HOLD, reason="mats", set_by="Bo")], [RELEASE])
    assert not hold.active(dt.date(2026, 6, 1))


def test_the_earliest_release_counts_and_the_lists_own_too() -> None:
    later = replace(RELEASE, at=AT + dt.timedelta(days=3))
    assert apply_releases([HOLD], [later, RELEASE])[0].released_on == dt.date(2026, 5, 29)
    listed = replace(HOLD, released_on=dt.date(2026, 5, 1))
    assert apply_releases([listed], [RELEASE])[0].released_on == dt.date(2026, 5, 1)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"who": " "}, "names nobody"),
        ({"evidence": ""}, "no evidence"),
        ({"at": dt.datetime(2026, 5, 29)}, "time zone"),  # noqa: DTZ001 - the fault under test
    ],
)
def test_a_release_says_who_and_what_shows_it_and_when(changed: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replace(RELEASE, **changed)  # type: ignore[arg-type]
