"""Counting: units once each, miles with their holes, weights, both senses of a day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.record.event import Event, Result
from linemap.domain.record.status import NOTHING_RECORDED, Key, StructureStatus, fold
from linemap.domain.record.workflow import FRAMED_ON_GROUND, Step, Workflow
from linemap.domain.schedule.progress import (
    Site,
    by_crew,
    by_mile,
    count_steps,
    events_taken,
    holes,
    physical_share,
    units,
)

ZONE = dt.timezone(dt.timedelta(hours=-6))
NUMBERS = ("7/1", "7/2", "7/3", "7/4", "7/5", "7/6")
SITES = tuple(
    Site(line="North", number=number, distance=1000.0 * row, mile=7, ahead_span=1000.0 if row < 5 else None)
    for row, number in enumerate(NUMBERS)
)


def event(
    structure: str,
    step: str,
    day: str = "2026-05-13",
    *,
    time: str = "10:00",
    received: str = "",
    pole: str = "",
    result: Result = "done",
    crew: str = "Heron",
    serial: int = 0,
) -> Event:
    happened = dt.datetime.fromisoformat(f"{day}T{time}").replace(tzinfo=ZONE)
    came = dt.datetime.fromisoformat(received).replace(tzinfo=ZONE) if received else happened
    return Event(
        id=f"{structure}|{step}|{pole}|{result}|{crew}|{happened.isoformat()}|{serial}",
        line="North",
        structure=structure,
        pole=pole,
        step=step,
        result=result,
        happened_at=happened,
        received_at=came,
        crew=crew,
    )


def folded(events: Sequence[Event], sites: Sequence[Site] = SITES) -> dict[Key, StructureStatus]:
    return fold(events, FRAMED_ON_GROUND, pole_letters={site.key: "AB" for site in sites})


def standing(sites: Sequence[Site], statuses: dict[Key, StructureStatus]) -> list[Site]:
    return [replace(site, status=statuses.get(site.key, NOTHING_RECORDED)) for site in sites]


def done(step: str, *numbers: str) -> list[Event]:
    return [event(number, step) for number in numbers]


def count(statuses: dict[Key, StructureStatus], step: str, sites: Sequence[Site] = SITES) -> list[str]:
    found = next(one for one in count_steps(standing(sites, statuses), FRAMED_ON_GROUND) if one.step == step)
    return [number for _, number in found.done]


def test_a_frame_rejected_and_made_again_is_one_unit() -> None:
    """Framed 6 April, rejected 8 April, framed 9 April: three records of work, one frame."""
    events = [
        event("7/1", "framed", "2026-04-06"),
        event("7/1", "framed", "2026-04-08", result="rejected", crew="Four Tines"),
        event("7/1", "framed", "2026-04-09"),
    ]
    statuses = folded(events)
    assert count(statuses, "framed") == ["7/1"]
    assert [(unit.structure, unit.day) for unit in units(statuses)] == [("7/1", dt.date(2026, 4, 9))]
    assert sum(one.result == "done" for one in events) == 2, "counting records would give two"


def test_one_frame_by_two_crews_is_one_unit_of_the_first() -> None:
    events = [
        event("7/1", "framed", time="11:05", crew="Heron"),
        event("7/1", "framed", time="12:55", crew="Raven"),
    ]
    crews = by_crew(units(folded(events)))
    assert list(crews) == ["Heron"]
    assert [unit.structure for unit in crews["Heron"]["framed"]] == ["7/1"]


def test_a_step_per_pole_counts_when_the_last_pole_has_it() -> None:
    statuses = folded([event("7/1", "set", "2026-05-11", pole="A")])
    found = next(one for one in count_steps(standing(SITES, statuses), FRAMED_ON_GROUND) if one.step == "set")
    assert (found.done, [number for _, number in found.begun]) == ((), ["7/1"])
    both = [event("7/1", "set", "2026-05-11", pole="A"), event("7/1", "set", "2026-05-12", pole="B")]
    assert [unit.day for unit in units(folded(both))] == [dt.date(2026, 5, 12)]


def test_the_day_a_thing_happened_is_not_the_day_it_was_known() -> None:
    """Framed 13 May without coverage, received 14 May: both questions have their own answer."""
    events = [event("7/1", "framed", "2026-05-13", received="2026-05-14T17:42")]
    day = dt.date(2026, 5, 13)
    assert len(events_taken(events, as_of=day)) == 1
    assert events_taken(events, as_of=day, known_by=day) == ()
    assert len(events_taken(events, as_of=day, known_by=dt.date(2026, 5, 14))) == 1
    assert events_taken(events, as_of=dt.date(2026, 5, 12)) == ()


def test_days_are_those_of_the_crews_clock_not_of_utc() -> None:
    """18:32 at -06:00 is half past midnight of the next day in UTC."""
    late = dt.datetime(2026, 5, 14, 0, 32, tzinfo=dt.UTC)
    happened = dt.datetime(2026, 5, 13, 20, 30, tzinfo=ZONE)
    fast = Event(
        id="1",
        line="North",
        structure="7/1",
        step="dug",
        happened_at=happened,
        received_at=late,
        crew="Badger",
    )
    assert len(events_taken([fast], as_of=dt.date(2026, 5, 13), known_by=dt.date(2026, 5, 13))) == 1
    assert units(folded(events_taken([fast])))[0].day == dt.date(2026, 5, 13)


def test_mile_names_its_two_holes_and_counts_spans_with_both_ends() -> None:
    statuses = folded(done("set", "7/1", "7/2", "7/5", "7/6"))
    (row,) = by_mile(standing(SITES, statuses), "set")
    assert (len(row.done), len(row.structures), row.holes) == (4, 6, ("7/3", "7/4"))
    assert (row.span_done, row.span_all) == (2000.0, 5000.0)


def test_line_ahead_of_the_crews_is_no_hole() -> None:
    sites = tuple(Site(line="North", number=f"1/{k}", distance=float(k), mile=1) for k in range(1, 21))
    found = holes(standing(sites, folded(done("set", "1/1", "1/2", "1/18", "1/20"), sites)), "set")
    assert [number for _, number in sorted(found)] == ["1/19"], "fifteen unbuilt in a row are line ahead"
    assert holes(standing(sites, folded(done("set", "1/9"), sites)), "set") == frozenset()


def test_no_hole_reaches_from_one_line_into_the_next() -> None:
    sites = [
        Site(line=line, number=number, distance=0.0, mile=1)
        for line in ("North", "South")
        for number in ("1/1", "1/2")
    ]
    built = [event("1/1", "set"), replace(event("1/2", "set"), line="South")]
    assert holes(standing(sites, folded(built, sites)), "set") == frozenset()


def test_count_is_not_progress_where_structures_differ() -> None:
    """Nine tangents set of ten structures are 90 % by count; the three-pole dead-end weighs 3.5: 72 %."""
    sites = [
        Site(line="North", number=f"1/{k}", distance=float(k), mile=1, weight=3.5 if k == 10 else 1.0)
        for k in range(1, 11)
    ]
    statuses = folded(done("set", *(f"1/{k}" for k in range(1, 10))), sites)
    found = next(one for one in count_steps(standing(sites, statuses), FRAMED_ON_GROUND) if one.step == "set")
    assert len(found.done) / found.of == 0.9
    assert found.weighted == pytest.approx(9.0 / 12.5)


def test_physical_share_weighs_steps_and_leaves_out_guys_where_there_are_none() -> None:
    flow = Workflow(
        steps=(
            Step(code="set", words="set", weight=3.0),
            Step(code="guyed", words="guyed", weight=1.0),
        )
    )
    plain = Site(line="North", number="7/1", distance=0.0, mile=1)
    guyed = Site(line="North", number="7/2", distance=1.0, mile=1, guyed=True)
    statuses = folded(done("set", "7/1", "7/2"))
    assert physical_share(standing([plain], statuses), flow) == pytest.approx(1.0)
    assert physical_share(standing([guyed], statuses), flow) == pytest.approx(0.75)
    assert physical_share(standing([plain, guyed], statuses), flow) == pytest.approx(0.875)


def test_nothing_is_none_and_not_zero() -> None:
    flow = Workflow(steps=(Step(code="set", words="set"),))
    assert physical_share([], FRAMED_ON_GROUND) is None
    assert physical_share(SITES, flow) is None, "without weights there is no share"
    counted = count_steps([], FRAMED_ON_GROUND)
    assert all(one.weighted is None and one.of == 0 for one in counted)
    assert by_mile([], "set") == ()


EVENTS = st.builds(
    event,
    st.sampled_from(NUMBERS),
    st.sampled_from(["staked", "dug", "framed", "set", "guyed"]),
    st.sampled_from(["2026-05-11", "2026-05-12", "2026-05-13"]),
    pole=st.sampled_from(["", "A", "B"]),
    result=st.sampled_from(["done", "done", "done", "rejected", "withdrawn"]),
    crew=st.sampled_from(["Heron", "Raven"]),
    serial=st.integers(0, 99),
)


@given(events=st.lists(EVENTS, max_size=25), again=st.integers(0, 3))
@settings(max_examples=examples(60))
def test_sending_records_again_changes_no_count(events: list[Event], again: int) -> None:
    once, more = folded(events), folded(events * (again + 1))
    assert count_steps(standing(SITES, once), FRAMED_ON_GROUND) == count_steps(
        standing(SITES, more), FRAMED_ON_GROUND
    )
    assert units(once) == units(more)


@given(events=st.lists(EVENTS, max_size=25))
@settings(max_examples=examples(60))
def test_done_and_open_are_the_structures_that_need_the_step(events: list[Event]) -> None:
    statuses = folded(events)
    counted = count_steps(standing(SITES, statuses), FRAMED_ON_GROUND)
    for one in counted:
        assert sorted((*one.done, *one.open)) == sorted(
            s.key for s in SITES if one.step != "guyed" or s.guyed
        )
        assert set(one.begun) <= set(one.open)
    keys = [(unit.line, unit.structure, unit.step) for unit in units(statuses)]
    assert len(keys) == len(set(keys)), "each unit once"
    share = physical_share(standing(SITES, statuses), FRAMED_ON_GROUND)
    assert share is not None
    assert 0.0 <= share <= 1.0
    rows = by_mile(standing(SITES, statuses), "set")
    assert sum(len(row.done) for row in rows) == len(count(statuses, "set"))


@given(events=st.lists(EVENTS, max_size=25))
@settings(max_examples=examples(40))
def test_crews_together_have_all_units(events: list[Event]) -> None:
    found = units(folded(events))
    spread = [unit for steps in by_crew(found).values() for mine in steps.values() for unit in mine]
    assert sorted(map(repr, spread)) == sorted(map(repr, found))
