"""The report of a day: quantities as units, rework apart, the same whenever it is made again."""

from __future__ import annotations

import datetime as dt

import pytest

from linemap.domain.record.event import Event, Result
from linemap.domain.record.workflow import FRAMED_ON_GROUND
from linemap.domain.schedule.daily import period_report

ZONE = dt.timezone(dt.timedelta(hours=-6))
LETTERS = {("North", f"13/{k}"): "AB" for k in range(1, 7)}
DAY = dt.date(2026, 5, 13)


def event(
    structure: str, step: str, at: str, *, received: str = "", result: Result = "done", crew: str = "Heron",
    note: str = "",
) -> Event:  # fmt: skip
    happened = dt.datetime.fromisoformat(at).replace(tzinfo=ZONE)
    came = dt.datetime.fromisoformat(received).replace(tzinfo=ZONE) if received else happened
    return Event(
        id=f"{structure}|{step}|{crew}|{at}|{result}",
        line="North",
        structure=structure,
        step=step,
        result=result,
        happened_at=happened,
        received_at=came,
        crew=crew,
        note=note,
    )


EVENTS = [
    event("13/1", "framed", "2026-05-13T07:45"),
    event("13/3", "framed", "2026-05-13T09:25", note="1.5 h lost, gate locked"),
    event("13/4", "framed", "2026-05-13T11:05"),
    event("13/4", "framed", "2026-05-13T12:55", crew="Raven"),
    event("13/2", "framed", "2026-05-12T12:55"),
]


def test_three_frames_by_heron_although_raven_recorded_one_of_them_too() -> None:
    report = period_report(EVENTS, FRAMED_ON_GROUND, pole_letters=LETTERS, first=DAY, last=DAY)
    (heron,) = report.quantities
    assert (heron.crew, heron.step, heron.to_date) == ("Heron", "framed", 4)
    assert [number for _, number in heron.structures] == ["13/1", "13/3", "13/4"]
    assert report.repeats == ("North 13/4: framed recorded twice: Heron, Raven",)
    assert [event.remarks() for event in report.notes] == ["1.5 h lost, gate locked"]


def test_daily_comes_out_the_same_at_any_later_time() -> None:
    """What arrives afterwards changes the day as known now, never the day as known that evening."""
    late = event("13/5", "framed", "2026-05-13T16:00", received="2026-05-16T08:00", crew="Raven")
    known = {"pole_letters": LETTERS, "first": DAY, "last": DAY}
    that_evening = period_report(EVENTS, FRAMED_ON_GROUND, known_by=DAY, **known)
    later = period_report([*EVENTS, late], FRAMED_ON_GROUND, known_by=DAY, **known)
    assert later == that_evening
    now = period_report([*EVENTS, late], FRAMED_ON_GROUND, **known)
    assert [quantity.crew for quantity in now.quantities] == ["Heron", "Raven"]
    assert now.came_late == 1
    assert sorted({one.crew for one in now.quantities}) == ["Heron", "Raven"]


def test_made_again_is_work_of_the_day_and_no_second_frame() -> None:
    events = [
        event("13/1", "framed", "2026-05-06T10:00"),
        event("13/1", "framed", "2026-05-08T10:00", result="rejected", crew="Four Tines"),
        event("13/1", "framed", "2026-05-09T10:00"),
    ]
    whole = period_report(
        events, FRAMED_ON_GROUND, pole_letters=LETTERS, first=dt.date(2026, 5, 4), last=dt.date(2026, 5, 10)
    )
    assert sum(len(quantity.structures) for quantity in whole.quantities) == 1
    (again,) = whole.rework
    assert (again.rejected_by, again.rejected_on.day, again.again_on) == (
        "Four Tines",
        8,
        dt.date(2026, 5, 9),
    )
    open_one = period_report(
        events[:2],
        FRAMED_ON_GROUND,
        pole_letters=LETTERS,
        first=dt.date(2026, 5, 8),
        last=dt.date(2026, 5, 8),
    )
    assert open_one.rework[0].again_on is None
    assert open_one.quantities == ()


def test_a_day_without_records_has_no_quantities() -> None:
    report = period_report(
        EVENTS, FRAMED_ON_GROUND, pole_letters=LETTERS, first=dt.date(2026, 5, 15), last=dt.date(2026, 5, 15)
    )
    assert (report.quantities, report.rework, report.notes, report.came_late) == ((), (), (), 0)


def test_a_period_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="before it begins"):
        period_report([], FRAMED_ON_GROUND, pole_letters={}, first=DAY, last=DAY - dt.timedelta(days=1))
