"""Cases: what a record went against stays until who answers it closes it, and says by what evidence."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.in_force import InForce
from linemap.domain.crew.recorded_against import recorded_against
from linemap.domain.design.list_numbers import ListOfLine, numbers_of
from linemap.domain.design.revision import Change, Revised
from linemap.domain.finding.code import Severity
from linemap.domain.record.case import Case, may_close, read_act
from linemap.domain.record.event import Event
from linemap.domain.record.person import Person, Role
from linemap.domain.record.reading import Reading
from linemap.domain.record.replay import corrected_ids
from linemap.domain.record.status import fold
from linemap.domain.record.workflow import FRAMED_ON_GROUND

KEY = ("North", "9/2")
HOLD = Hold(
    id="HN-1",
    structures=("9/2",),
    activities=("dig",),
    from_date=date(2026, 5, 1),
    to_date=date(2026, 5, 20),
    release_by="environmental lead",
)


def event(step: str, day: int, hour: int = 10, **said: Any) -> Event:
    at = datetime(2026, 5, day, hour, tzinfo=UTC)
    given = {"id": str(uuid.uuid4()), "crew": "Heron", "happened_at": at, "received_at": at, **said}
    return Event(line="North", structure="9/2", step=step, **given)


def act(what: str, case: Case, day: int, note: str = "mats in place", **said: Any) -> Event:
    about = {"act": what, "code": case.finding.code, "part": case.finding.part, "records": [*case.records]}
    return event("", day, what="case", content=json.dumps(about), note=note, actor="Ada", **said)


def cases(
    *events: Event, in_force: InForce | None = None, letters: Mapping[tuple[str, str], str] | None = None
) -> Sequence[Case]:
    held = InForce(holds=(HOLD,)) if in_force is None else in_force
    statuses = fold(events, FRAMED_ON_GROUND, pole_letters={KEY: "AB"} if letters is None else letters)
    found = recorded_against(
        statuses, held, FRAMED_ON_GROUND, events={KEY: events}, corrected=corrected_ids(events)
    )
    return found[KEY].cases if KEY in found else ()


def under_hold(*events: Event) -> Case:
    (found,) = [each for each in cases(*events) if each.finding.code == "recorded under hold"]
    return found


STAKED = event("staked", 2)


def test_a_case_waits_for_its_releaser_until_it_is_closed_with_evidence() -> None:
    dug = event("dug", 4)
    case = under_hold(STAKED, dug)
    assert (case.state, case.asked, case.records) == ("open", "environmental lead", (dug.id,))
    said = act("answer", case, 5, "the monitor looks at it tomorrow")
    answered = under_hold(STAKED, dug, said)
    assert (answered.state, answered.is_open, answered.finding.id) == ("answered", True, case.finding.id)
    assert answered.finding.words.endswith("; answered 5 May 2026 by Ada: the monitor looks at it tomorrow")
    shut = act("close", case, 6)
    closed = under_hold(STAKED, dug, said, shut)
    assert (closed.state, [each.id for each in closed.acts]) == ("closed", [said.id, shut.id])
    again = under_hold(STAKED, dug, shut, act("reopen", case, 7, "the photo shows another pole"))
    assert again.is_open
    taken_back = event("", 8, what="case", content=shut.content, result="withdrawn", supersedes=shut.id)
    assert under_hold(STAKED, dug, shut, taken_back).state == "open"


def test_what_is_recorded_later_under_the_same_hold_opens_the_case_again() -> None:
    dug = event("dug", 4, pole="A")
    shut = act("close", under_hold(STAKED, dug), 5)
    more = event("dug", 6, pole="B")
    case = under_hold(STAKED, dug, shut, more)
    assert (case.state, case.records) == ("answered", (dug.id, more.id))
    assert not under_hold(STAKED, dug, more, act("close", case, 7)).is_open


def test_a_record_put_right_is_the_same_case_and_so_is_one_taken_back() -> None:
    dug = event("dug", 4)
    right = event("dug", 25, supersedes=dug.id, note="9.5 ft, not 9")
    case = under_hold(STAKED, dug, right)
    assert (case.records, case.is_open) == ((dug.id,), True), "the work was done when the hold stood"
    assert not under_hold(STAKED, dug, right, act("close", case, 26)).is_open
    back = event("dug", 5, supersedes=dug.id, result="withdrawn")
    gone = under_hold(STAKED, dug, back)
    assert (gone.state, gone.taken_back) == ("open", True), "who took it back did not answer it"
    assert gone.finding.words.endswith("; taken back since")
    assert not under_hold(STAKED, dug, back, act("close", gone, 7)).is_open
    rejected = under_hold(STAKED, dug, event("dug", 6, result="rejected"))
    assert rejected.is_open, "it was dug, accepted or not"


def test_a_condition_is_no_case_where_the_record_names_who_watched_over_it() -> None:
    condition = replace(HOLD, condition="monitor on site")
    alone, watched = event("dug", 4), event("dug", 4, readings=(Reading(name="monitor", value="B. Reed"),))
    held = InForce(holds=(condition,))
    (case,) = cases(STAKED, alone, in_force=held)
    assert (case.finding.severity, case.asked) == (Severity.UNSURE, "environmental lead")
    assert cases(STAKED, watched, in_force=held) == ()


@pytest.mark.parametrize(
    ("said", "wind"),
    [
        ({"wind_gust_mph": 31.0}, 31.0),
        ({"readings": (Reading(name="gust", value=50.0, unit="km/h"),)}, 31.1),
        ({"wind_speed_mph": 29.0}, None),
        ({"readings": (Reading(name="brand", value="27.5"),)}, None),
    ],
)
def test_wind_above_the_limit_of_the_employer_is_the_managers_case(
    said: Mapping[str, Any], wind: float | None
) -> None:
    found = cases(event("staked", 4, **said), in_force=InForce(wind_limit_mph=30.0))
    assert [each.finding.values["wind_mph"] for each in found] == ([] if wind is None else [wind])
    if found:
        assert found[0].asked == "manager"
        limit = f"staked recorded 4 May 2026 by Heron in wind of {wind:g} mph, above the employer's limit"
        assert found[0].finding.words == f"{limit} of 30 mph"


def test_a_step_out_of_order_stays_a_case_when_the_earlier_step_is_recorded_later() -> None:
    dug = event("dug", 4)
    (missing,) = cases(dug, in_force=InForce())
    assert (missing.finding.words, missing.asked) == ("dug recorded, but not staked", "inspector")
    (late,) = cases(dug, event("staked", 6), in_force=InForce())
    assert late.finding.id == missing.finding.id
    assert late.finding.words == "dug recorded, but not staked (recorded 6 May 2026, after it)"
    assert cases(dug, event("staked", 4, 16), in_force=InForce()) == (), "a day's order is nobody's case"
    assert not cases(dug, act("close", missing, 7), in_force=InForce())[0].is_open


def test_a_record_by_a_list_that_a_newer_one_had_replaced_is_the_surveyors_case() -> None:
    came = {label: datetime(2026, 5, day, tzinfo=UTC) for label, day in (("B", 1), ("C", 10))}
    lists = numbers_of(("North", ListOfLine(at=at, label=label)) for label, at in came.items())
    moved = Revised(
        revision="Rev C", change=Change(number="9/2", change="moved", values={"distance": 8.0, "unit": "ft"})
    )
    held = InForce(lists=lists, revised={KEY: [(came["C"], moved)]})
    (case,) = cases(event("staked", 12, revision_seen="B"), in_force=held)
    assert case.asked == "surveyor"
    assert case.finding.words == (
        "staked recorded 12 May 2026 by Heron by revision B, when a newer one had changed it: "
        "Rev C: moved 8.00 ft"
    )
    for day, seen in ((12, "C"), (9, "B"), (12, "")):
        assert cases(event("staked", day, revision_seen=seen), in_force=held) == ()


def test_records_of_a_structure_in_no_list_are_a_case_until_it_is_closed() -> None:
    dug = event("dug", 4)
    (case,) = cases(STAKED, dug, in_force=InForce(), letters={})
    assert case.finding.words == "events recorded: 2 (staked, dug), but the structure is in no list"
    shut = act("close", case, 5, "taken out by Rev D; hole filled, photo 3")
    assert not cases(STAKED, dug, shut, in_force=InForce(), letters={})[0].is_open
    more = event("set", 6)
    assert cases(STAKED, dug, shut, more, in_force=InForce(), letters={})[0].is_open


def test_only_who_answers_a_case_closes_it_or_the_manager() -> None:
    case = under_hold(STAKED, event("dug", 4))
    lead = Person(name="Ada", role=Role.INSPECTOR, releases=("Environmental Lead",))
    assert may_close(case, lead)
    assert may_close(case, Person(name="Max", role=Role.MANAGER))
    assert not may_close(case, Person(name="Bo", role=Role.SURVEYOR))
    assert not may_close(case, Person(name="Cy", role=Role.CREW, releases=("environmental lead",)))


@pytest.mark.parametrize(
    ("content", "note", "why"),
    [
        ({"act": "close", "code": "recorded under hold", "records": ["1"]}, "", "evidence that closes it"),
        ({"act": "shut", "code": "x", "records": ["1"]}, "mats", "use one of answer, close, reopen"),
        ({"act": "close", "records": ["1"]}, "mats", "which case it is about is not said"),
        ({"act": "close", "code": "x", "records": []}, "mats", "which case it is about is not said"),
        ({"act": "close", "code": "x", "records": ["1"], "by": "Ada"}, "mats", "and nothing else"),
    ],
)
def test_what_says_nothing_closes_nothing(content: Mapping[str, Any], note: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        read_act(event("", 5, what="case", content=json.dumps(content), note=note))
