from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from linemap.domain.record.event import Event, Result
from linemap.domain.record.replay import Part, clock_findings, first_copies, replay
from linemap.domain.record.status import fold
from linemap.domain.record.workflow import FRAMED_ON_GROUND

NOON = datetime(2026, 5, 13, 12, 0, tzinfo=UTC)
TWO_HOURS = 7200.0


def stamped(
    identifier: str = "e1",
    *,
    step: str = "framed",
    stamped: datetime = NOON,
    received: datetime = NOON + timedelta(hours=3),
    skew_s: float | None = None,
    crew: str = "Heron",
    result: str = "done",
) -> Event:
    return Event(
        id=identifier,
        line="North",
        structure="13/4",
        step=step,
        result=result,  # type: ignore[arg-type]
        happened_at=stamped,
        received_at=received,
        skew_s=skew_s,
        crew=crew,
        device="p7",
    )


@pytest.mark.parametrize(
    ("skew_s", "minutes"), [(None, 0), (0.4, 0), (-29.0, 0), (7199.6, 120), (-7201.0, -120)]
)
def test_the_error_of_a_clock_is_in_whole_minutes(skew_s: float | None, minutes: int) -> None:
    assert stamped(skew_s=skew_s).clock_error == timedelta(minutes=minutes)


@pytest.mark.parametrize("skew_s", [TWO_HOURS, -TWO_HOURS])
def test_a_wrong_clock_is_put_right_and_told(skew_s: float) -> None:
    one = stamped(stamped=NOON + timedelta(seconds=skew_s), skew_s=skew_s)
    assert one.moment == NOON
    way = "fast" if skew_s > 0 else "slow"
    told = [
        (f"clock {way}", f"the clock of p7 of Heron was 2 h 0 min {way}; its times are put right by that")
    ]
    assert [(found.code, found.words) for found in clock_findings([one], line="N", structure="9/2")] == told


def test_a_time_in_the_future_of_a_right_clock_is_told_and_clamped() -> None:
    one = stamped(stamped=NOON + timedelta(days=1), received=NOON, skew_s=0.2)
    assert one.moment == NOON
    (found,) = clock_findings([one], line="N", structure="9/2")
    assert found.code == "clock ahead"
    assert found.words.startswith("the clock of p7 of Heron was at least 24 h 0 min fast")


def test_a_rejection_by_a_fast_clock_does_not_undo_what_was_framed_after_it() -> None:
    rejected = stamped("r", result="rejected", stamped=NOON + timedelta(hours=2), skew_s=TWO_HOURS)
    framed = stamped("f", stamped=NOON + timedelta(hours=1), skew_s=0.0, crew="Raven")
    status = fold([rejected, framed], FRAMED_ON_GROUND, pole_letters={("North", "13/4"): "AB"})
    assert status["North", "13/4"].done["framed"].event_id == "f"


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


def test_a_withdrawal_without_a_crew_takes_back_every_record() -> None:
    part = replay([event(0), event(1, crew="Raven"), event(2, "withdrawn", crew="")], letters="")[""]
    assert part.standing == []


def test_a_withdrawal_does_not_take_back_a_rejection() -> None:
    rejected = event(1, "rejected")
    part = replay([event(0), rejected, event(2, "withdrawn", crew="")], letters="")[""]
    assert part.rejection == rejected


def test_of_several_copies_the_one_received_first_is_known() -> None:
    early, late = event(0, late=1), event(0, late=30)
    assert first_copies([late, early, late]) == [early]


def test_copies_that_differ_are_chosen_by_content_not_by_luck() -> None:
    one, other = event(0), replace(event(0), note="wet")
    assert first_copies([one, other]) == first_copies([other, one])
