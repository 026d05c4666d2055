"""The chain of events: canonical form, and where a change shows."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

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


def event(identifier: str) -> Event:
    return Event(
        id=identifier, line="North", structure="13/4", step="framed", happened_at=NOON, received_at=NOON
    )


def record(count: int) -> list[Linked]:
    made: list[Linked] = []
    previous = FIRST_LINK
    for seq in range(1, count + 1):
        values = event_values(event(f"e{seq}"))
        previous = link(previous, values)
        made.append(Linked(2 * seq, values, previous))
    return made


def test_a_link_is_what_anyone_computes_with_two_common_functions() -> None:
    """As documented for the check of an export without this program."""
    values = event_values(replace(event("e1"), note='ü "x"\n', longitude=-108.25, latitude=46.5))
    said = json.dumps(values, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert link("ab", values) == hashlib.sha256(("ab" + said).encode()).hexdigest()
    assert json.loads(canonical_json(values)) == values


def test_what_is_not_given_is_left_out_so_that_old_links_stay_true() -> None:
    assert canonical_json(event_values(event("e1"))) == (
        '{"happened_at":"2026-05-13T12:00:00+00:00","id":"e1","line":"North",'
        '"received_at":"2026-05-13T12:00:00+00:00","step":"framed","structure":"13/4"}'
    )


def test_values_do_not_depend_on_what_a_database_may_lose() -> None:
    here = timezone(timedelta(hours=-6))
    one = replace(event("e1"), longitude=-0.0, latitude=3, received_at=NOON.astimezone(here))
    other = replace(event("e1"), longitude=0.0, latitude=3.0)
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
