"""Events: what is refused, and the order in which things happened."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.record.chain import (
    FIRST_LINK,
    Break,
    Linked,
    canonical_json,
    event_values,
    first_break,
    link,
)
from linemap.domain.record.event import Event

NOON = datetime(2026, 5, 13, 12, 0, tzinfo=UTC)


def event(**changed: Any) -> Event:
    given: dict[str, Any] = {
        "id": "0b9d3c1e-6a52-4a53-9c55-0d6f6b1f7a01",
        "line": "North",
        "structure": "13/4",
        "step": "framed",
        "happened_at": NOON,
        "received_at": NOON + timedelta(hours=3),
    }
    return Event(**{**given, **changed})


def test_an_event_without_more_is_done_for_the_whole_structure() -> None:
    plain = event()
    assert (plain.result, plain.pole, plain.key) == ("done", "", ("North", "13/4"))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"id": " "}, "blank id"),
        ({"structure": ""}, "blank structure"),
        ({"step": "\t"}, "blank step"),
        ({"what": "wish"}, "of the kind 'wish'; use one of step, check"),
        ({"result": "finished"}, "'finished'; use one of done, rejected, withdrawn"),
        ({"pole": "AB"}, "the pole 'AB'"),
        ({"happened_at": datetime(2026, 5, 13, 12)}, "no time zone in happened_at"),  # noqa: DTZ001
        ({"received_at": datetime(2026, 5, 13, 12)}, "no time zone in received_at"),  # noqa: DTZ001
    ],
)
def test_what_is_refused_is_named(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        event(**changed)


def test_what_is_no_step_needs_none_and_old_links_stay() -> None:
    assert event(what="check", step="", content='{"a":1}').step == ""
    assert not {"what", "part", "content", "signed_by", "sent_by"} & event_values(event()).keys()
    assert event_values(event(what="check", sent_by="Ada"))["sent_by"] == "Ada"


def test_a_fast_clock_cannot_put_an_event_after_its_arrival() -> None:
    fast = event(happened_at=NOON + timedelta(hours=2), received_at=NOON)
    assert fast.moment == NOON
    assert event().moment == NOON


def test_events_of_a_fast_clock_that_arrive_together_keep_their_order() -> None:
    framed = event(id="b", happened_at=NOON + timedelta(hours=1), received_at=NOON)
    set_ = event(id="a", happened_at=NOON + timedelta(hours=2), received_at=NOON)
    assert framed.order_key < set_.order_key


def test_rows_of_one_file_and_hour_keep_the_order_of_the_file() -> None:
    rows = [event(id=f"{9 - row}", file="0513.txt", row=row) for row in range(1, 12)]
    rows.reverse()
    assert [one.row for one in sorted(rows, key=lambda one: one.order_key)] == list(range(1, 12))


def test_who_recorded_it() -> None:
    assert event(crew="Heron", actor="J. Ode").who == "Heron"
    assert event(actor="J. Ode").who == "J. Ode"
    assert event().who == "crew not named"


@given(
    late=st.timedeltas(min_value=timedelta(days=-3), max_value=timedelta(days=3)),
    hours=st.integers(min_value=-12, max_value=14),
)
def test_the_moment_does_not_depend_on_the_zone_it_is_written_in(late: timedelta, hours: int) -> None:
    here = event(received_at=NOON + late)
    zone = timezone(timedelta(hours=hours))
    there = event(happened_at=NOON.astimezone(zone), received_at=(NOON + late).astimezone(zone))
    assert here.moment == there.moment
    assert here.moment <= here.received_at
    assert here.order_key == there.order_key


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"supersedes": "0b9d3c1e-6a52-4a53-9c55-0d6f6b1f7a01"}, "corrects itself"),
        ({"longitude": -108.2}, "half a position"),
        ({"latitude": 46.7}, "half a position"),
        ({"longitude": -108.2, "latitude": 90.1}, "the latitude 90.1"),
        ({"longitude": float("nan"), "latitude": 46.7}, "the longitude nan"),
        ({"accuracy_m": -1.0}, "the accuracy_m -1.0"),
        ({"wind_gust_mph": float("inf")}, "the wind_gust_mph inf"),
        ({"wind_speed_mph": -0.1}, "the wind_speed_mph -0.1"),
        ({"skew_s": float("nan")}, "the skew_s nan"),
    ],
)
def test_measures_that_are_none_are_refused(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        event(**changed)


def test_a_position_has_both_parts_or_none() -> None:
    assert event().position is None
    assert event(longitude=-108.2, latitude=46.7, accuracy_m=5.0).position == (-108.2, 46.7)


def linked(identifier: str) -> Event:
    return Event(
        id=identifier, line="North", structure="13/4", step="framed", happened_at=NOON, received_at=NOON
    )


def record(count: int) -> list[Linked]:
    made: list[Linked] = []
    previous = FIRST_LINK
    for seq in range(1, count + 1):
        values = event_values(linked(f"e{seq}"))
        previous = link(previous, values)
        made.append(Linked(2 * seq, values, previous))
    return made


def test_a_link_is_what_anyone_computes_with_two_common_functions() -> None:
    """As documented for the check of an export without this program."""
    values = event_values(replace(linked("e1"), note='ü "x"\n', longitude=-108.25, latitude=46.5))
    said = json.dumps(values, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert link("ab", values) == hashlib.sha256(("ab" + said).encode()).hexdigest()
    assert json.loads(canonical_json(values)) == values


def test_what_is_not_given_is_left_out_so_that_old_links_stay_true() -> None:
    assert canonical_json(event_values(linked("e1"))) == (
        '{"happened_at":"2026-05-13T12:00:00+00:00","id":"e1","line":"North",'
        '"received_at":"2026-05-13T12:00:00+00:00","step":"framed","structure":"13/4"}'
    )


def test_values_do_not_depend_on_what_a_database_may_lose() -> None:
    here = timezone(timedelta(hours=-6))
    one = replace(linked("e1"), longitude=-0.0, latitude=3, received_at=NOON.astimezone(here))
    other = replace(linked("e1"), longitude=0.0, latitude=3.0)
    assert canonical_json(event_values(one)) == canonical_json(event_values(other))


def test_an_unbroken_record_has_no_break() -> None:
    assert first_break([]) is None
    assert first_break(record(5)) is None


@given(st.integers(0, 5), st.sampled_from(["note", "structure", "link", "remove", "exchange"]))
def test_the_first_event_that_does_not_follow_is_named(at: int, how: str) -> None:
    made = record(7)
    linked = made[at]
    if how == "link":
        made[at] = linked._replace(link=linked.link[:-1] + ("0" if linked.link[-1] != "0" else "1"))
    elif how == "remove":
        del made[at]
    elif how == "exchange":
        made[at : at + 2] = reversed(made[at : at + 2])
    else:
        made[at] = linked._replace(values={**linked.values, how: "12/3"})
    assert first_break(made) == Break(at + 1, made[at].seq, made[at].values["id"])


def test_a_number_that_json_does_not_have_is_refused() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        canonical_json({"a": float("nan")})
