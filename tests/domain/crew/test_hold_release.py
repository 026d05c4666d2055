"""A hold is released by whom it names, for as long as it binds the same work."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.hold_release import HoldRelease, apply_releases, may_release, same_hold
from linemap.domain.record.person import Person, Role

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
