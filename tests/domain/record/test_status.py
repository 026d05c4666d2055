"""The fold of events into status: cases of the field first, then the laws it obeys."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.record.event import Event, Result
from linemap.domain.record.status import (
    NOTHING_RECORDED,
    Key,
    StructureStatus,
    fold,
    fold_structure,
)
from linemap.domain.record.workflow import FRAMED_ALOFT, FRAMED_ON_GROUND, Step, Workflow
from linemap.domain.schedule.progress import events_taken

LINE = "North"
LISTED = {(LINE, "12/3"): "AB", (LINE, "5/5"): "ABC"}
STEPS = tuple(step.code for step in FRAMED_ON_GROUND.steps)


def moment(text: str) -> datetime:
    """Read "13 08:00" as 13 May 2026, 08:00 UTC."""
    day, clock = text.split()
    hour, minute = clock.split(":")
    return datetime(2026, 5, int(day), int(hour), int(minute), tzinfo=UTC)


def event(
    structure: str,
    step: str,
    happened: str,
    *,
    received: str = "",
    result: Result = "done",
    pole: str = "",
    crew: str = "Heron",
    device: str = "",
) -> Event:
    return Event(
        id=f"{structure} {step} {happened} {result} {pole} {crew}",
        line=LINE,
        structure=structure,
        step=step,
        result=result,
        pole=pole,
        crew=crew,
        device=device,
        happened_at=moment(happened),
        received_at=moment(received or happened),
    )


def one(events: Iterable[Event], *, letters: str | None = "AB") -> StructureStatus:
    return fold_structure(events, FRAMED_ON_GROUND, key=(LINE, "12/3"), letters=letters)


def on(events: Iterable[Event], *, as_of: int = 31, known_by: int | None = None) -> StructureStatus:
    """Return the status as of the end of a day of May 2026, as known by the end of another."""
    known = None if known_by is None else date(2026, 5, known_by)
    return one(events_taken(events, as_of=date(2026, 5, as_of), known_by=known))


def words(status: StructureStatus, code: str) -> list[str]:
    return [finding.words for finding in status.findings if finding.code == code]


def test_only_steps_make_the_status() -> None:
    checked = replace(event("12/3", "framed", "13 08:00"), what="check", step="")
    assert one([checked]) == NOTHING_RECORDED


def test_no_events_is_nothing_recorded() -> None:
    assert one([]) == NOTHING_RECORDED
    assert fold([], FRAMED_ON_GROUND, pole_letters=LISTED) == dict.fromkeys(LISTED, NOTHING_RECORDED)


def test_a_structure_in_good_order_has_no_findings() -> None:
    steps = ["staked", "spotted", "dug", "framed", "set", "grounded"]
    status = one(event("12/3", step, f"{day} 08:00") for day, step in enumerate(steps, start=1))
    assert list(status.done) == steps
    assert status.stage == "set"
    assert status.done["set"] == (moment("5 08:00"), "Heron", "12/3 set 5 08:00 done  Heron", "AB", ())
    assert status.done["framed"].poles == ""
    assert (status.begun, status.findings) == ({}, ())


def test_reframing_counts_once() -> None:
    framed, rejected, again = (
        event("5/2", "framed", "6 08:00"),
        event("5/2", "framed", "8 08:00", result="rejected", crew="Inspector"),
        event("5/2", "framed", "9 08:00"),
    )
    assert "framed" in one([framed]).done
    status = one([framed, rejected])
    assert "framed" not in status.done
    assert words(status, "rejected") == ["framed rejected 8 May 2026 by Inspector, not recorded again since"]
    status = one([framed, rejected, again])
    assert status.done["framed"].at == moment("9 08:00")
    assert [finding.code for finding in status.findings] == ["step missing"]


def test_a_framing_sent_days_late_leaves_the_structure_set() -> None:
    history = [
        event("12/3", step, f"{day} 08:00")
        for day, step in [(4, "spotted"), (5, "dug"), (11, "framed"), (12, "set")]
    ]
    before = one(history)
    late = event("12/3", "framed", "11 10:00", received="14 17:00")
    after = one([*history, late])
    assert before.stage == after.stage == "set"
    assert after.done["set"] == before.done["set"]
    assert after.done["framed"].at == moment("11 08:00")


def test_a_rejection_of_older_work_sent_late_does_not_undo_the_new() -> None:
    again = event("12/3", "framed", "9 08:00")
    old = event("12/3", "framed", "8 08:00", received="14 17:00", result="rejected", crew="Inspector")
    assert one([again, old]).done == one([again]).done


def test_framed_by_two_crews_is_framed_once_and_said() -> None:
    heron = event("13/4", "framed", "13 09:10", received="13 18:00")
    raven = event("13/4", "framed", "13 11:00", received="13 17:00", crew="Raven")
    status = one([raven, heron])
    assert status.done["framed"].crew == "Heron"
    assert words(status, "recorded twice") == ["framed recorded twice: Heron, Raven"]
    owl = event("13/4", "framed", "13 12:00", crew="Owl")
    assert words(one([owl, raven, heron]), "recorded twice") == [
        "framed recorded by 3 crews: Heron, Raven, Owl"
    ]


def test_one_crew_saying_it_twice_is_no_finding() -> None:
    twice = [event("13/4", "staked", "13 09:00"), event("13/4", "staked", "13 09:01")]
    assert one(twice).findings == ()
    assert one(twice).done["staked"].at == moment("13 09:00")


def test_set_with_pole_b_missing_is_not_set() -> None:
    first = event("8/4", "set", "5 08:00", pole="A")
    status = one([first])
    assert "set" not in status.done
    assert status.begun["set"].poles == "A"
    assert words(status, "pole missing") == ["set recorded for pole A, not for pole B"]
    status = one([first, event("8/4", "set", "6 08:00", pole="B", crew="Raven")])
    assert status.begun == {}
    assert (status.done["set"].at, status.done["set"].crew) == (moment("6 08:00"), "Raven")
    assert status.done["set"].poles == "AB"
    assert not words(status, "recorded twice")


def test_a_three_pole_structure_needs_its_third_pole() -> None:
    two = [event("5/5", "set", "5 08:00", pole=pole) for pole in "AB"]
    assert one(two, letters="ABC").begun["set"].poles == "AB"
    assert "set" in one(two, letters="AB").done
    assert one([*two, event("5/5", "set", "5 09:00", pole="C")], letters="ABC").done["set"].poles == "ABC"


def test_rejecting_one_pole_leaves_the_other_standing() -> None:
    status = one(
        [event("8/4", "set", "5 08:00"), event("8/4", "set", "6 08:00", result="rejected", pole="B")]
    )
    assert status.begun["set"].poles == "A"
    assert words(status, "rejected") == [
        "set for pole B rejected 6 May 2026 by Heron, not recorded again since"
    ]


def test_a_record_at_the_wrong_structure_is_withdrawn_without_touching_the_other_crews() -> None:
    heron = event("2/5", "framed", "13 09:00")
    raven = event("2/5", "framed", "13 11:00", crew="Raven")
    back = event("2/5", "framed", "13 12:00", result="withdrawn", crew="Raven")
    status = one([heron, raven, back])
    assert status.done["framed"].crew == "Heron"
    assert not words(status, "recorded twice")
    assert "framed" not in one([raven, back]).done


def test_what_was_true_and_what_was_known_on_a_day() -> None:
    """Set on the 12th by a phone without signal until the 14th."""
    events = [event("12/3", "framed", "11 08:00"), event("12/3", "set", "12 08:00", received="14 17:00")]
    assert on(events, as_of=13).stage == "set"
    assert on(events, known_by=13).stage == "framed"
    assert on(events, as_of=11, known_by=20).stage == "framed"
    assert on(events, as_of=12, known_by=14).stage == "set"


def test_a_rejection_is_not_known_before_it_is_received() -> None:
    events = [
        event("6/4", "set", "1 08:00"),
        event("6/4", "set", "2 08:00", received="9 08:00", result="rejected"),
    ]
    assert on(events, known_by=5).stage == "set"
    assert on(events, as_of=5).stage == ""


def test_an_event_sent_again_was_known_since_the_first_time() -> None:
    first = event("12/3", "set", "12 08:00", received="12 09:00")
    again = replace(first, received_at=moment("14 17:00"))
    status = on([again, first], known_by=13)
    assert status.done["set"].event_id == first.id


def test_a_clock_two_hours_fast_keeps_the_order_and_is_said() -> None:
    framed = event("12/3", "framed", "11 10:00", received="11 08:00", device="phone 3")
    rejected = event("12/3", "framed", "11 09:00", result="rejected", crew="Inspector")
    status = one([framed, rejected])
    assert "framed" not in status.done
    assert words(status, "clock ahead") == [
        "the clock of phone 3 of Heron was at least 2 h 0 min fast; "
        "its events are taken to have happened when they arrived"
    ]
    a_little = event("12/3", "framed", "11 08:04", received="11 08:00")
    assert not words(one([a_little]), "clock ahead")


def test_a_step_without_what_it_requires_counts_and_is_said() -> None:
    status = one([event("12/3", "set", "5 08:00")])
    assert status.stage == "set"
    assert words(status, "step missing") == ["set recorded, but not dug, framed"]


def test_nothing_recorded_is_passed_over_in_silence() -> None:
    status = one(
        [event("12/3", "painted", "5 08:00", crew="Owl"), event("12/3", "dug", "5 09:00", pole="C")],
        letters=None,
    )
    assert words(status, "not in list") == ["events recorded: 2, but the structure is in no list"]
    assert words(status, "unknown step") == ['"painted", recorded by Owl, is no step of the workflow']
    assert words(status, "unknown pole") == ["Heron recorded dug for pole C, not one of A, B"]
    assert (status.done, status.begun) == ({}, {})


def test_findings_name_their_structure() -> None:
    folded = fold([event("5/5", "set", "5 08:00", pole="A")], FRAMED_ON_GROUND, pole_letters=LISTED)
    assert {str(finding) for finding in folded[LINE, "5/5"].findings} == {
        "North 5/5: set recorded for pole A, not for poles B, C"
    }


def test_another_workflow_reads_the_same_events_its_own_way() -> None:
    events = [event("12/3", "set", "5 08:00"), event("12/3", "framed", "6 08:00")]
    ground = fold(events, FRAMED_ON_GROUND, pole_letters=LISTED)[LINE, "12/3"]
    aloft = fold(events, FRAMED_ALOFT, pole_letters=LISTED)[LINE, "12/3"]
    assert (ground.stage, aloft.stage) == ("set", "framed")
    assert ground.done == aloft.done


def test_a_workflow_of_ones_own_speaks_in_its_own_words() -> None:
    own = Workflow(steps=(Step(code="F1", words="arms hung", per="pole"),))
    status = fold_structure([event("1/1", "F1", "5 08:00", pole="A")], own, key=(LINE, "1/1"), letters="AB")
    assert words(status, "pole missing") == ["arms hung recorded for pole A, not for pole B"]


NOON = moment("13 12:00")


@st.composite
def records(draw: st.DrawFn) -> list[Event]:
    """Up to 25 events with distinct identifiers at three structures, times often equal, clocks often off."""
    drawn = draw(
        st.lists(
            st.tuples(
                st.sampled_from(["12/3", "5/5", "9/9"]),
                st.sampled_from(["framed", "set", "dug", "painted"]),
                st.sampled_from(["done", "done", "done", "rejected", "withdrawn"]),
                st.sampled_from(["", "A", "B", "C"]),
                st.integers(min_value=0, max_value=6),
                st.integers(min_value=-3, max_value=6),
                st.sampled_from(["", "Heron", "Raven"]),
            ),
            max_size=25,
        )
    )
    return [
        Event(
            id=f"{number:02d}",
            line=LINE,
            structure=structure,
            step=step,
            result=result,
            pole=pole,
            crew=crew,
            happened_at=NOON + timedelta(hours=hour),
            received_at=NOON + timedelta(hours=hour + late),
        )
        for number, (structure, step, result, pole, hour, late, crew) in enumerate(drawn)
    ]


def folded(events: Iterable[Event]) -> dict[Key, StructureStatus]:
    return fold(events, FRAMED_ON_GROUND, pole_letters=LISTED)


@given(events=records(), data=st.data())
@settings(max_examples=examples(50))
def test_neither_order_nor_repetition_changes_the_status(events: list[Event], data: st.DataObject) -> None:
    again = data.draw(st.lists(st.sampled_from(events), max_size=10)) if events else []
    sent_late = [replace(one, received_at=one.received_at + timedelta(hours=9)) for one in again]
    assert folded(data.draw(st.permutations([*events, *again, *sent_late]))) == folded(events)


@given(events=records(), data=st.data())
@settings(max_examples=examples(50))
def test_a_new_event_needs_only_the_events_of_its_structure(events: list[Event], data: st.DataObject) -> None:
    cut = data.draw(st.integers(min_value=0, max_value=len(events)))
    keys = {event.key for event in events[cut:]}
    anew = {
        key: fold_structure(
            [event for event in events if event.key == key],
            FRAMED_ON_GROUND,
            key=key,
            letters=LISTED.get(key),
        )
        for key in keys
    }
    assert {**folded(events[:cut]), **anew} == folded(events)


@given(events=records(), step=st.sampled_from(STEPS), hour=st.integers(min_value=-2, max_value=8))
@settings(max_examples=examples(50))
def test_more_work_done_never_undoes_or_lowers(events: list[Event], step: str, hour: int) -> None:
    at = NOON + timedelta(hours=hour)
    more = Event(id="new", line=LINE, structure="12/3", step=step, crew="Owl", happened_at=at, received_at=at)
    before, after = folded(events)[LINE, "12/3"], folded([*events, more])[LINE, "12/3"]
    assert before.done.keys() <= after.done.keys()
    chain = ("", *FRAMED_ON_GROUND.chain)
    assert chain.index(before.stage) <= chain.index(after.stage)


@given(events=records(), step=st.sampled_from(STEPS), late=st.integers(min_value=0, max_value=90))
@settings(max_examples=examples(50))
def test_a_rejection_older_than_everything_undoes_nothing(events: list[Event], step: str, late: int) -> None:
    at = NOON - timedelta(hours=9)
    old = Event(
        id="old",
        line=LINE,
        structure="12/3",
        step=step,
        result="rejected",
        happened_at=at,
        received_at=at + timedelta(hours=late),
    )
    before, after = folded(events)[LINE, "12/3"], folded([*events, old])[LINE, "12/3"]
    assert (before.done, before.begun, before.stage) == (after.done, after.begun, after.stage)


@given(events=records())
@settings(max_examples=examples(50))
def test_an_event_for_the_structure_is_the_same_as_one_for_each_pole(events: list[Event]) -> None:
    def apart(event: Event) -> list[Event]:
        letters = LISTED.get(event.key, "AB")
        return [replace(event, id=event.id + pole, pole=pole) for pole in letters]

    split = [part for event in events for part in (apart(event) if not event.pole else [event])]
    for key, whole in folded(events).items():
        parts = folded(split)[key]
        assert whole.done.keys() == parts.done.keys()
        assert {code: state.poles for code, state in whole.begun.items()} == {
            code: state.poles for code, state in parts.begun.items()
        }


@given(events=records())
@settings(max_examples=examples(50))
def test_what_is_done_stands_on_a_done_event_of_that_step(events: list[Event]) -> None:
    by_id = {event.id: event for event in events}
    for key, status in folded(events).items():
        assert not status.done.keys() & status.begun.keys()
        assert status.stage in {"", *status.done}
        for code, state in (*status.done.items(), *status.begun.items()):
            source = by_id[state.event_id]
            assert (source.key, source.step, source.result) == (key, code, "done")
            assert (source.moment, source.crew) == (state.at, state.crew)
