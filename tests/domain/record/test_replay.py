"""Replaying the events of one step: what stands, what was recorded, what was rejected."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from linemap.domain.record.event import Event, Result
from linemap.domain.record.replay import Part, known_events, replay

DAWN = datetime(2026, 4, 6, 6, 0, tzinfo=UTC)


def event(hour: int, result: Result = "done", *, pole: str = "", crew: str = "Heron", late: int = 0) -> Event:
    at = DAWN + timedelta(hours=hour)
    return Event(
        id=f"{hour}{result}{pole}{crew}",
        line="North",
        structure="5/2",
        step="set",
        result=result,
        pole=pole,
        crew=crew,
        happened_at=at,
        received_at=at + timedelta(hours=late),
    )


def standing(parts: Mapping[str, Part]) -> dict[str, list[str]]:
    return {letter: [one.id for one in part.standing] for letter, part in parts.items()}


def test_a_rejection_ends_what_stood_before_it_and_nothing_after() -> None:
    first, rejected, again = event(0), event(1, "rejected"), event(2)
    part = replay([again, rejected, first], letters="")[""]
    assert part.standing == [again]
    assert part.recorded == {first.id, again.id}
    assert part.rejection is None
    assert replay([rejected, first], letters="")[""].rejection == rejected


def test_an_event_without_a_pole_is_for_every_pole_and_one_with_a_pole_for_that_one() -> None:
    parts = replay([event(0), event(1, "rejected", pole="B")], letters="AB")
    assert standing(parts) == {"A": ["0doneHeron"], "B": []}


def test_a_step_per_structure_counts_whatever_pole_is_named() -> None:
    assert standing(replay([event(0, pole="B")], letters="")) == {"": ["0doneBHeron"]}


def test_a_pole_the_structure_has_not_is_passed_over() -> None:
    assert standing(replay([event(0, pole="C")], letters="AB")) == {"A": [], "B": []}


def test_a_crew_takes_back_its_own_record_only() -> None:
    heron, raven, back = event(0), event(1, crew="Raven"), event(2, "withdrawn", crew="Raven")
    part = replay([back, raven, heron], letters="")[""]
    assert part.standing == [heron]
    assert part.recorded == {heron.id}


def test_a_withdrawal_without_a_crew_takes_back_every_record() -> None:
    part = replay([event(0), event(1, crew="Raven"), event(2, "withdrawn", crew="")], letters="")[""]
    assert part.standing == []
    assert part.recorded == set()


def test_a_withdrawal_does_not_take_back_a_rejection() -> None:
    rejected = event(1, "rejected")
    part = replay([event(0), rejected, event(2, "withdrawn", crew="")], letters="")[""]
    assert part.rejection == rejected


def test_of_several_copies_the_one_received_first_is_known() -> None:
    early, late = event(0, late=1), event(0, late=30)
    assert known_events([late, early, late], as_of=None, known_by=None) == [early]
    assert known_events([late, early], as_of=None, known_by=DAWN + timedelta(hours=2)) == [early]


def test_copies_that_differ_are_chosen_by_content_not_by_luck() -> None:
    one, other = event(0), replace(event(0), note="wet")
    assert known_events([one, other], as_of=None, known_by=None) == known_events(
        [other, one], as_of=None, known_by=None
    )


@pytest.mark.parametrize("name", ["as_of", "known_by"])
def test_a_time_without_a_zone_is_refused(name: str) -> None:
    times: dict[str, datetime | None] = {"as_of": None, "known_by": None, name: datetime(2026, 5, 1)}  # noqa: DTZ001
    with pytest.raises(ValueError, match=f"{name} 2026-05-01T00:00:00 has no time zone"):
        known_events([], as_of=times["as_of"], known_by=times["known_by"])
