"""Clocks of devices: how far they were off, and how their times are put right."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from linemap.domain.record.clock import clock_findings
from linemap.domain.record.event import Event
from linemap.domain.record.status import fold
from linemap.domain.record.workflow import FRAMED_ON_GROUND

NOON = datetime(2026, 5, 13, 12, 0, tzinfo=UTC)
TWO_HOURS = 7200.0


def event(
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
    assert event(skew_s=skew_s).clock_error == timedelta(minutes=minutes)


@pytest.mark.parametrize("skew_s", [TWO_HOURS, -TWO_HOURS])
def test_a_wrong_clock_is_put_right_and_told(skew_s: float) -> None:
    one = event(stamped=NOON + timedelta(seconds=skew_s), skew_s=skew_s)
    assert one.moment == NOON
    way = "fast" if skew_s > 0 else "slow"
    told = [
        (f"clock {way}", f"the clock of p7 of Heron was 2 h 0 min {way}; its times are put right by that")
    ]
    assert [(found.code, found.words) for found in clock_findings([one], line="N", structure="9/2")] == told


def test_a_time_in_the_future_of_a_right_clock_is_told_and_clamped() -> None:
    one = event(stamped=NOON + timedelta(days=1), received=NOON, skew_s=0.2)
    assert one.moment == NOON
    (found,) = clock_findings([one], line="N", structure="9/2")
    assert found.code == "clock ahead"
    assert found.words.startswith("the clock of p7 of Heron was at least 24 h 0 min fast")


def test_a_rejection_by_a_fast_clock_does_not_undo_what_was_framed_after_it() -> None:
    rejected = event("r", result="rejected", stamped=NOON + timedelta(hours=2), skew_s=TWO_HOURS)
    framed = event("f", stamped=NOON + timedelta(hours=1), skew_s=0.0, crew="Raven")
    status = fold([rejected, framed], FRAMED_ON_GROUND, pole_letters={("North", "13/4"): "AB"})
    assert status["North", "13/4"].done["framed"].event_id == "f"
