"""Records of the field as the service takes them: planted faults, places, corrections, exactly once."""

from __future__ import annotations

import datetime as dt
import shutil
import uuid
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from linemap.answers.record import EventResult
from linemap.domain.crew.hold import Hold
from linemap.domain.record.event import Event
from linemap.domain.record.reading import make_reading
from linemap.kinds.registry import HOLDS
from linemap.service.record.known import Known, locate_record, what_is_known
from linemap.service.record.live import refreshed
from linemap.service.record.record import Refused, record_events
from linemap.service.view.build import compute_view
from linemap.service.view.steps import step_at
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job
from linemap.store.lists import keep_list

DAY = dt.date(2026, 5, 15)
ZONE = dt.timezone(dt.timedelta(hours=-6))
AT = dt.datetime(2026, 5, 13, 9, 10, tzinfo=ZONE)
RECEIVED = dt.datetime(2026, 5, 15, 18, 0, tzinfo=ZONE)


@pytest.fixture
def job(demo_job: Path, tmp_path: Path) -> Iterator[Database]:
    """A copy of the demo job, to be written to."""
    shutil.copy(demo_job, tmp_path / "own.linemap")
    with open_job(tmp_path / "own.linemap") as database:
        yield database


@pytest.fixture(scope="module")
def known(demo_view: JobView) -> Known:
    return what_is_known(demo_view)


def event(structure: str = "13/5", step: str = "framed", **changed: Any) -> Event:
    given: dict[str, Any] = {
        "id": str(uuid.uuid4()),
        "line": "",
        "happened_at": AT,
        "received_at": RECEIVED,
        "crew": "Heron",
        "device": "p7",
        "skew_s": 0.1,
    }
    return Event(structure=structure, step=step, **{**given, **changed})


def record(job: Database, known: Known, *reported: Event | Refused) -> tuple[EventResult, ...]:
    return record_events(job, known, reported)


def fix_at(view: JobView, number: str, metres_north: float = 0.0) -> dict[str, float]:
    row = next(row for (_, name), row in view.row_of.items() if name == number)
    figures = view.figures
    return {
        "longitude": float(figures.longitude[row]),
        "latitude": float(figures.latitude[row]) + metres_north / 111_200.0,
        "accuracy_m": 5.0,
    }


def test_what_is_new_is_stored_and_what_is_known_is_a_duplicate(job: Database, known: Known) -> None:
    one = event()
    assert [each.outcome for each in record(job, known, one, one)] == ["stored", "duplicate"]
    later = replace(one, received_at=RECEIVED + dt.timedelta(hours=1), skew_s=7.0)
    assert [each.outcome for each in record(job, known, later)] == ["duplicate"]


def test_the_same_identifier_with_other_content_is_refused_alone(job: Database, known: Known) -> None:
    one, two = event(), event("13/6")
    record(job, known, one)
    refused, stored = record(job, known, replace(one, note="another"), two)
    assert (refused.outcome, stored.outcome) == ("refused", "stored")
    assert "already recorded as" in refused.why


def test_a_record_that_could_not_be_read_keeps_its_place(job: Database, known: Known) -> None:
    outcomes = record(job, known, Refused(id="x", why="no step"), event())
    assert outcomes[0] == EventResult(id="x", outcome="refused", why="no step", findings=())
    assert outcomes[1].outcome == "stored"


def test_nothing_to_store_touches_nothing(job: Database, known: Known) -> None:
    assert record_events(job, known, [Refused(id="", why="no")]) == (
        EventResult(id="", outcome="refused", why="no", findings=()),
    )


@pytest.mark.parametrize("spelling", ["13/5", " 13-05 ", "STR 13/5", "13/5.0"])
def test_two_spellings_are_one_structure(known: Known, spelling: str) -> None:
    (line, number), doubt = locate_record(known, "", spelling)
    assert (line, number, doubt) == (known.lines[0], "13/5", "")


def test_a_record_is_told_what_stops_its_step_until_what_it_is_built_on_is_recorded_anew(
    job: Database, known: Known
) -> None:
    """15/2 was spotted before Rev C moved it; a stake set anew afterwards is built on again."""
    (outcome,) = record(job, known, event("15/2"))
    assert [
        each
        for each in outcome.findings
        if each.startswith("hub is from before the move of 8.00 ft: restake (")
    ]
    staked, spotted, framed = (
        event("15/2", step, happened_at=AT + dt.timedelta(days=days), received_at=AT + dt.timedelta(days=9))
        for days, step in enumerate(("staked", "spotted", "framed"), start=5)
    )
    for outcome in record(job, known, staked, spotted, framed):
        assert outcome.outcome == "stored"
        assert not [each for each in outcome.findings if "restake" in each]


def test_an_inserted_structure_is_taken_with_a_question(job: Database, known: Known) -> None:
    (outcome,) = record(job, known, event("12/3A", "staked"))
    assert outcome.outcome == "stored"
    assert "12/3A is in no list" in outcome.findings[0]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"structure": "99/9"}, "has no structure '99/9'"),
        ({"structure": "bay 2"}, "has no structure"),
        ({"line": "Nowhere"}, "no line 'Nowhere' in this job"),
    ],
)
def test_what_belongs_to_no_structure_is_refused(
    job: Database, known: Known, changed: dict[str, str], said: str
) -> None:
    (outcome,) = record(job, known, event(**{"structure": "13/5", **changed}))
    assert (outcome.outcome, said in outcome.why) == ("refused", True)


def test_a_step_out_of_order_is_a_claim_with_a_finding(job: Database, known: Known) -> None:
    (outcome,) = record(job, known, event("23/2", "set"))
    assert outcome.outcome == "stored"
    assert any(words.startswith("set recorded, but not") for words in outcome.findings)


def test_an_unknown_step_and_an_unknown_pole_are_kept_with_findings(job: Database, known: Known) -> None:
    (outcome,) = record(job, known, event("13/6", "painted", pole="C"))
    assert outcome.findings == (
        '"painted" is no step of the workflow',
        "pole C is not one of A, B of 13/6",
    )


def test_a_record_on_held_work_is_kept_and_the_hold_is_told(job: Database, known: Known) -> None:
    (outcome,) = record(job, known, event("9/2", "framed"))
    assert outcome.outcome == "stored"
    assert any("framing" in words for words in outcome.findings)


def test_framed_twice_by_two_crews_is_told_to_the_second(job: Database, known: Known) -> None:
    """Heron and Raven both framed one structure on 13 May, 1 h 50 min apart, both without a signal."""
    heron = event("13/6", "framed")
    raven = event("13/6", "framed", crew="Raven", happened_at=AT + dt.timedelta(minutes=110))
    assert record(job, known, heron)[0].outcome == "stored"
    (outcome,) = record(job, known, raven)
    assert outcome.outcome == "stored"
    assert "framed recorded twice: Heron, Raven" in outcome.findings


def test_a_stale_framed_after_set_leaves_it_set(job: Database, known: Known) -> None:
    """The phone that was without a signal from 11 to 14 May sends framed for 12/3 after set came in."""
    stale = event("12/3", "framed", happened_at=AT - dt.timedelta(days=2))
    record(job, known, stale)
    view = compute_view(job, today=DAY).view
    assert view.stage_at((known.lines[0], "12/3")) == "set"


def test_a_reframe_counts_once(job: Database, known: Known) -> None:
    """5/2: framed 6 April, rejected 8 April, framed 9 April."""
    days = {"done": 6, "rejected": 8, "again": 9}
    at = {name: dt.datetime(2026, 4, day, 12, tzinfo=ZONE) for name, day in days.items()}
    before = compute_view(job, today=DAY).view.statuses[known.lines[0], "5/2"]
    assert before.done["framed"].at.date() == at["again"].date()
    record(
        job,
        known,
        event("13/6", "framed", happened_at=at["done"]),
        event("13/6", "framed", happened_at=at["rejected"], result="rejected", crew="Wren"),
        event("13/6", "framed", happened_at=at["again"]),
    )
    status = compute_view(job, today=DAY).view.statuses[known.lines[0], "13/6"]
    assert status.done["framed"].at == at["again"]


def test_digits_exchanged_is_asked(job: Database, known: Known, demo_view: JobView) -> None:
    """Photo set recorded to 5/2 while standing at 2/5."""
    (outcome,) = record(job, known, event("5/2", "inspected", **fix_at(demo_view, "2/5", 10.0)))
    assert outcome.outcome == "stored"
    assert any(words.endswith("digits exchanged?") for words in outcome.findings)
    (near,) = record(job, known, event("5/2", "inspected", **fix_at(demo_view, "5/2", 18.0)))
    assert not any("digits" in words or "away" in words for words in near.findings)


def test_a_clock_two_hours_fast_is_told_and_put_right(job: Database, known: Known) -> None:
    fast = event("13/6", "framed", happened_at=AT + dt.timedelta(hours=2), skew_s=7200.2)
    (outcome,) = record(job, known, fast)
    assert any("2 h 0 min fast; its times are put right" in words for words in outcome.findings)
    status = compute_view(job, today=DAY).view.statuses[known.lines[0], "13/6"]
    assert status.done["framed"].at == AT


def test_a_time_in_the_future_is_kept_with_a_finding(job: Database, known: Known) -> None:
    (outcome,) = record(job, known, event("13/6", happened_at=RECEIVED + dt.timedelta(days=2)))
    assert outcome.outcome == "stored"
    assert any("48 h 0 min fast" in words for words in outcome.findings)


def test_a_correction_of_what_has_not_arrived_says_so(job: Database, known: Known) -> None:
    wrong = event("5/2")
    right = event("2/5", supersedes=wrong.id)
    (outcome,) = record(job, known, right)
    assert "the record it corrects has not arrived" in outcome.findings
    assert record(job, known, wrong)[0].outcome == "stored"
    (again,) = record(job, known, right)
    assert again.outcome == "duplicate"
    assert "the record it corrects has not arrived" not in again.findings


def same(one: JobView, other: JobView) -> None:
    assert one.data_version == other.data_version
    assert one.statuses == other.statuses
    assert list(one.statuses) == list(other.statuses)
    assert [*one.ledger.everything()] == [*other.ledger.everything()]
    assert one.events_by_structure == other.events_by_structure
    assert one.claims_by_structure == other.claims_by_structure
    assert tuple(one.causes) == tuple(other.causes)


def test_bringing_records_in_gives_what_computing_everything_gives(job: Database, known: Known) -> None:
    computed = compute_view(job, today=DAY)
    batches = [
        [event("13/6"), event("13/7", "set")],
        [event("12/3A", "staked")],
        [event("6/4", "inspected", note="brand says 75 on the right"), event("2/3", "guyed")],
        [event("9/4", result="withdrawn"), event("9/4", happened_at=RECEIVED + dt.timedelta(days=9))],
        [],
    ]
    wrong = event("5/2", "grounded")
    batches += [[wrong], [event("2/5", "grounded", supersedes=wrong.id)]]
    for batch in batches:
        record_events(job, known, batch)
        grown = refreshed(computed, job)
        assert grown is not None
        same(grown.view, compute_view(job, today=DAY).view)
        computed = grown


def test_a_view_that_is_being_read_stays_as_it_is(job: Database, known: Known) -> None:
    computed = compute_view(job, today=DAY)
    before = {key: list(events) for key, events in computed.view.events_by_structure.items()}
    record(job, known, event("13/6"), event("1/1", "inspected"))
    assert refreshed(computed, job) is not None
    assert computed.view.events_by_structure == before


def test_a_correction_filed_at_another_structure_takes_the_evidence_away(job: Database, known: Known) -> None:
    reading = make_reading("ohms", 8.0)
    wrong = event("13/5", "grounded", readings=(reading,))
    record(job, known, wrong, event("13/5", "grounded"))
    computed = compute_view(job, today=DAY)
    row, step = computed.view.row("", "13/5"), computed.view.workflow.step("grounded")
    assert step is not None
    assert step_at(computed.view, row, step)[0].missing == []
    record(job, known, event("13/6", "grounded", supersedes=wrong.id, readings=(reading,)))
    grown = refreshed(computed, job)
    assert grown is not None
    for view in (grown.view, compute_view(job, today=DAY).view):
        there, here = (step_at(view, each, step)[0] for each in (row, view.row("", "13/6")))
        assert (there.done, there.missing) == (True, ["ohms"])
        assert (here.done, here.missing) == (True, [])


def test_a_hold_that_a_newer_list_leaves_out_keeps_the_cases_that_came_of_it(
    job: Database, known: Known
) -> None:
    hold = Hold(id="HX-1", structures=("13/6",), activities=("framing",), from_date=DAY - dt.timedelta(9))

    def cases() -> list[str]:
        ledger = compute_view(job, today=DAY).view.ledger
        found = ledger.recorded_at((known.lines[0], "13/6"))
        return [each.part for each in found if each.code == "recorded under hold"]

    def load(*holds: Hold) -> None:
        with job.writing() as connection:
            keep_list(connection, HOLDS, holds, now=RECEIVED)

    record(job, known, event("13/6", "framed"))
    assert cases() == []
    load(hold)
    assert cases() == ["framed, HX-1"]
    load(replace(hold, id="HX-2", structures=("13/7",)))
    assert cases() == ["framed, HX-1"]
    load(replace(hold, from_date=DAY))
    assert cases() == ["framed, HX-1"], "a list that says now that it began later answers nothing"
