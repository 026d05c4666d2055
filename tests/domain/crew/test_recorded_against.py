"""Records against holds, tickets and moves: a case stays; a list tells nothing of days before it came."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.in_force import InForce, Move
from linemap.domain.crew.recorded_against import OF_STATUS, recorded_against
from linemap.domain.crew.refusal import stopped_steps
from linemap.domain.crew.ticket import Ticket
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.record.event import Event
from linemap.domain.record.status import fold
from linemap.domain.record.workflow import FRAMED_ON_GROUND

KEY = ("North", "9/2")


def event(step: str, day: int, *, crew: str = "Heron") -> Event:
    at = datetime(2026, 5, day, 10, tzinfo=UTC)
    return Event(
        id=str(uuid.uuid4()),
        line="North",
        structure="9/2",
        step=step,
        result="done",
        crew=crew,
        happened_at=at,
        received_at=at,
    )


def cases(in_force: InForce, *events: Event) -> list[Finding]:
    statuses = fold(events, FRAMED_ON_GROUND, pole_letters={KEY: "AB"})
    found = recorded_against(statuses, in_force, FRAMED_ON_GROUND, events={KEY: events})
    return [each for each in found[KEY].open if each.code not in OF_STATUS] if KEY in found else []


def test_work_under_a_hold_stays_a_case_when_the_hold_is_released() -> None:
    hold = Hold(
        id="HE-1",
        structures=("9/2",),
        activities=("dig",),
        from_date=date(2026, 5, 1),
        reason="nest of eagles",
    )
    released = Hold(
        id="HE-1",
        structures=("9/2",),
        activities=("dig",),
        from_date=date(2026, 5, 1),
        released_on=date(2026, 5, 9),
    )
    for one in (hold, released):
        (found,) = cases(InForce(holds=(one,)), event("dug", 4))
        assert (found.code, found.severity, found.since) == (
            "recorded under hold",
            Severity.WRONG,
            date(2026, 5, 4),
        )
        assert found.words.startswith(
            "dug recorded 4 May 2026 by Heron under hold HE-1, in force then: no dig at 9/2"
        )
        assert "eagles" not in found.words
    assert cases(InForce(holds=(released,)), event("dug", 10)) == []
    assert cases(InForce(holds=(hold,)), event("framed", 4)) == []


def test_a_hold_that_a_newer_list_leaves_out_still_counts_for_what_was_done_before() -> None:
    hold = Hold(id="HE-1", structures=("9/2",), activities=("dig",), from_date=date(2026, 5, 1))
    gone = InForce(holds_before=((hold, datetime(2026, 5, 6, tzinfo=UTC)),))
    (found,) = cases(gone, event("dug", 4))
    assert (found.code, found.part) == ("recorded under hold", "dug, HE-1")
    assert cases(gone, event("dug", 7)) == []


def test_what_went_against_a_hold_stays_when_a_newer_list_binds_otherwise() -> None:
    hold = Hold(id="HE-1", structures=("9/2",), activities=("dig",), from_date=date(2026, 5, 1))
    now = replace(hold, to_date=date(2026, 5, 3), release_by="engineer")
    changed = InForce(holds=(now,), holds_before=((hold, datetime(2026, 5, 6, tzinfo=UTC)),))
    (found,) = cases(changed, event("dug", 4))
    assert found.words.endswith("no dig at 9/2 from 1 May 2026 until released")
    assert cases(changed, event("dug", 7)) == []
    (both,) = cases(changed, event("dug", 2), event("dug", 4))
    assert (both.part, both.since) == ("dug, HE-1", date(2026, 5, 4))


def test_a_hold_with_a_condition_weighs_less() -> None:
    hold = Hold(id="HC-1", structures=("9/2",), activities=("dig",), condition="monitor named")
    (found,) = cases(InForce(holds=(hold,)), event("dug", 4))
    assert found.severity is Severity.UNSURE


def test_a_ticket_that_begins_later_tells_nothing_of_the_days_before_its_list_came() -> None:
    later = Ticket(
        number="LT-1", structures=("9/2",), valid_from=date(2026, 5, 11), expires=date(2026, 6, 12)
    )
    assert cases(InForce(tickets=(later,)), event("dug", 4)) == []
    assert cases(InForce(tickets=(later,), tickets_since=date(2026, 5, 10)), event("dug", 4)) == []
    (found,) = cases(InForce(tickets=(later,), tickets_since=date(2026, 5, 2)), event("dug", 4))
    assert found.code == "dug without ticket"
    assert cases(InForce(tickets=(later,), tickets_since=date(2026, 5, 2)), event("dug", 12)) == []


def test_a_ticket_that_had_run_out_is_a_case_whenever_its_list_came() -> None:
    old = Ticket(number="LT-0", structures=("9/2",), valid_from=date(2026, 4, 1), expires=date(2026, 5, 1))
    (found,) = cases(InForce(tickets=(old,)), event("dug", 4))
    assert found.words == (
        "dug recorded 4 May 2026 by Heron; no locate ticket of the list was valid there that day: "
        "LT-0 covers poles only, expired 1 May 2026, 3 days ago"
    )
    renewed = Ticket(
        number="LT-1", structures=("9/2",), valid_from=date(2026, 5, 2), expires=date(2026, 6, 1)
    )
    assert cases(InForce(tickets=(old, renewed)), event("dug", 4)) == []


def test_anchors_need_a_ticket_that_covers_them() -> None:
    poles = Ticket(number="LT-0", structures=("9/2",), valid_from=date(2026, 5, 1), expires=date(2026, 6, 1))
    assert [found.part for found in cases(InForce(tickets=(poles,)), event("dug", 4), event("guyed", 5))] == [
        "guyed"
    ]


def moved(day: int, distance: float, azimuth_deg: float | None = 90.0) -> Move:
    at = datetime(2026, 5, day, 8, tzinfo=UTC)
    return Move(at=at, revision="Rev C", distance=distance, unit="ft", azimuth_deg=azimuth_deg)


def test_what_was_staked_before_the_list_moved_it_must_be_staked_anew() -> None:
    in_force = InForce(moves={KEY: (moved(6, 8.0),)}, move_limit=0.25)
    (found,) = cases(in_force, event("staked", 4))
    assert (found.code, found.asks, found.severity) == ("moved since", "crew", Severity.STOPS)
    assert found.words == (
        "staked recorded 4 May 2026, then Rev C: moved 8.00 ft; what stands there is from before the move, "
        "stake it anew"
    )
    stopped = stopped_steps(found, FRAMED_ON_GROUND)
    assert stopped[:2] == ("spotted", "dug")
    assert "staked" not in stopped
    assert cases(in_force, event("staked", 4), event("staked", 7, crew="Raven")) == []
    assert cases(in_force, event("staked", 7)) == []
    assert cases(InForce(), event("staked", 4)) == []


@pytest.mark.parametrize(
    ("moves", "severity"),
    [
        ([moved(6, 0.2)], Severity.NOTE),
        ([moved(6, 0.2), moved(7, 0.2)], Severity.STOPS),
        ([moved(6, 8.0), moved(7, 8.0, 270.0)], Severity.NOTE),
        ([moved(6, 8.0, None), moved(7, 0.2)], Severity.STOPS),
        ([moved(2, 8.0), moved(6, 0.2)], Severity.NOTE),
    ],
)
def test_a_move_stops_work_when_all_since_the_stake_lead_farther_than_a_frame_may_be_off(
    moves: list[Move], severity: Severity
) -> None:
    (found,) = cases(InForce(moves={KEY: moves}, move_limit=0.25), event("staked", 4))
    assert found.severity is severity
    within = severity is Severity.NOTE
    assert found.words.endswith("within ±0.25 ft" if within else "stake it anew")
    assert bool(stopped_steps(found, FRAMED_ON_GROUND)) is not within
