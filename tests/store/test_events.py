"""Events: each exactly once, in order of receipt, and never changed, whatever SQL is tried."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linemap.domain.record.chain import first_break
from linemap.domain.record.event import Event
from linemap.domain.record.reading import Reading
from linemap.errors import Conflict
from linemap.store import events, versions
from linemap.store.database import Database

MORNING = dt.datetime(2026, 5, 15, 7, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))

# NUL cannot be stored by PostgreSQL; surrogates are no text
texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)
named = texts.filter(str.strip)
moments = st.datetimes(
    min_value=dt.datetime(1970, 1, 2),  # noqa: DTZ001
    max_value=dt.datetime(2099, 1, 1),  # noqa: DTZ001
    timezones=st.builds(dt.timezone, st.builds(dt.timedelta, minutes=st.integers(-720, 840))),
)
readings = st.lists(
    st.builds(
        Reading,
        name=named,
        value=st.booleans() | st.floats(-1e6, 1e6) | texts,
        unit=texts,
        pole=st.sampled_from(["", "B"]),
    ),
    max_size=3,
).map(tuple)
measures = st.none() | st.floats(0.0, 1e6)


def event(identifier: str = "e1", **changes: Any) -> Event:
    plain = Event(
        id=identifier,
        line="North",
        structure="9/2",
        pole="A",
        step="framed",
        happened_at=MORNING,
        received_at=MORNING + dt.timedelta(hours=2),
        crew="Heron",
        note='arm "in" \u2013 \u00fc',
        file="log.csv",
        row=7,
    )
    return replace(plain, **changes)


def load(database: Database) -> tuple[Event, ...]:
    with database.reading() as connection:
        return tuple(each.event for each in events.since(connection, 0))


def version(database: Database) -> int:
    with database.reading() as connection:
        return versions.load_data_version(connection)


def test_an_event_comes_back_as_it_was_with_its_own_time_zone(database: Database) -> None:
    with database.writing() as connection:
        assert events.add_events(connection, [event()]).stored == 1
    (back,) = load(database)
    assert back == event()
    assert back.happened_at.isoformat() == "2026-05-15T07:30:00-06:00"
    assert back.received_at.isoformat() == "2026-05-15T15:30:00+00:00"


@settings(max_examples=examples(20), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_every_value_comes_back(database: Database, data: st.DataObject) -> None:
    seen = len(load(database))
    drawn = data.draw(
        st.lists(
            st.builds(
                Event,
                id=named,
                line=texts,
                structure=named,
                pole=st.sampled_from(["", "A", "C"]),
                step=named,
                result=st.sampled_from(["done", "rejected", "withdrawn"]),
                happened_at=moments,
                received_at=moments,
                crew=texts,
                note=texts,
                what=st.sampled_from(["step", "check", "moved"]),
                part=texts,
                content=texts,
                signed_by=texts,
                sent_by=texts,
                file=texts,
                row=st.integers(0, 2**31 - 1),
                longitude=st.floats(-180.0, 180.0),
                latitude=st.floats(-90.0, 90.0),
                accuracy_m=measures,
                revision_seen=texts,
                supersedes=texts.map(lambda text: f"~{text}"),
                brand_seen=texts,
                wind_speed_mph=measures,
                photos=st.lists(texts, max_size=3).map(tuple),
                readings=readings,
                skew_s=st.none() | st.floats(-1e6, 1e6),
            ),
            unique_by=lambda one: one.id,
            max_size=5,
        )
    )
    # the job keeps what earlier examples stored
    batch = [replace(one, id=f"{seen} {one.id}") for one in drawn]
    with database.writing() as connection:
        assert events.add_events(connection, batch) == (len(batch), 0)
        assert first_break(events.record_in_order(connection)) is None
    back = load(database)[seen:]
    assert back == tuple(batch)
    assert [one.happened_at.utcoffset() for one in back] == [one.happened_at.utcoffset() for one in batch]


def test_an_event_that_another_device_brings_is_the_same(database: Database) -> None:
    with database.writing() as connection:
        events.add_events(connection, [event()])
        assert events.add_events(connection, [replace(event(), sent_by="Ada")]) == (0, 1)
    with pytest.raises(Conflict, match="already recorded"), database.writing() as connection:
        events.add_events(connection, [replace(event(), actor="Cy")])


def test_the_same_event_again_changes_nothing(database: Database) -> None:
    with database.writing() as connection:
        events.add_events(connection, [event()])
    before = version(database)
    with database.writing() as connection:
        assert events.add_events(connection, [event(), event()]) == (0, 2)
        assert events.add_events(connection, [event()]).stored == 0
    assert load(database) == (event(),)
    assert version(database) == before


def test_sent_again_later_it_is_still_the_same_event(database: Database) -> None:
    later = event(received_at=MORNING + dt.timedelta(days=2), skew_s=3.5)
    with database.writing() as connection:
        events.add_events(connection, [event()])
        assert events.add_events(connection, [later]).stored == 0
    assert load(database)[0].received_at == event().received_at


def test_twice_in_one_batch_is_once(database: Database) -> None:
    one = event("e1")
    with database.writing() as connection:
        assert events.add_events(connection, [one, one, event("e2"), event("e1")]) == (2, 2)
    assert [each.id for each in load(database)] == ["e1", "e2"]


@pytest.mark.parametrize(
    "change",
    [
        {"structure": "9/3"},
        {"pole": "B"},
        {"step": "set"},
        {"result": "rejected"},
        {"happened_at": MORNING + dt.timedelta(microseconds=1)},
        {"crew": "Raven"},
        {"note": ""},
        {"line": "South"},
        {"longitude": -108.1, "latitude": 46.7},
        {"supersedes": "e0"},
        {"photos": ("p1",)},
    ],
)
def test_the_same_identifier_with_other_content_is_a_conflict_and_nothing_is_stored(
    database: Database, change: dict[str, Any]
) -> None:
    with database.writing() as connection:
        events.add_events(connection, [event()])
    with pytest.raises(Conflict, match="e1 is already recorded"), database.writing() as connection:
        events.add_events(connection, [event("e2"), event(**change)])
    assert load(database) == (event(),)


def test_other_content_within_one_batch_is_a_conflict(database: Database) -> None:
    with pytest.raises(Conflict, match="identifier"), database.writing() as connection:
        events.add_events(connection, [event(), event(structure="9/3")])
    assert load(database) == ()


def test_more_events_than_one_lookup_holds(database: Database) -> None:
    batch = [event(f"e{n}") for n in range(2500)]
    with database.writing() as connection:
        assert events.add_events(connection, batch) == (2500, 0)
        assert events.add_events(connection, reversed(batch)) == (0, 2500)
    assert load(database) == tuple(batch)


def test_since_gives_what_came_after_in_order_of_receipt(database: Database) -> None:
    late_but_older = event("e2", happened_at=MORNING - dt.timedelta(days=3))
    with database.writing() as connection:
        events.add_events(connection, [event("e1"), late_but_older])
    with database.writing() as connection:
        events.add_events(connection, [event("e3")])
    with database.reading() as connection:
        first, *rest = events.since(connection, 0)
        assert [received.event.id for received in rest] == ["e2", "e3"]
        assert events.since(connection, first.seq) == tuple(rest)
        assert events.since(connection, 0, limit=1) == (first,)
        assert events.since(connection, rest[-1].seq) == ()


def test_of_structure_gives_one_structure_of_one_line(database: Database) -> None:
    with database.writing() as connection:
        others = [event("e2", structure="9/20"), event("e3", line="South"), event("e4")]
        events.add_events(connection, [event("e1"), *others])
    with database.reading() as connection:
        assert [one.id for one in events.of_structures(connection, [("North", "9/2")])] == ["e1", "e4"]
