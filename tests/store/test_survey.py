import datetime as dt
import hashlib
import math
from dataclasses import replace
from typing import Any

import pytest
from dose import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linemap.domain.causes.cause import Decision, standing
from linemap.domain.survey.shot import Shot
from linemap.errors import Conflict
from linemap.store import files, survey, versions
from linemap.store.database import Database

texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)
whole_floats = st.floats(allow_nan=False, allow_infinity=False).map(lambda value: value + 0.0)

SHOT = Shot(
    point="101",
    easting=1_234_567.891,
    northing=0.1 + 0.2,
    elevation=812.44,
    description="STR 9/2 A",
    structure="9/2",
    pole="A",
    item="pole",
    line="North",
    sigma=0.03,
    observed_on="2026-05-14",
    file="day.csv",
    row=3,
    note="re-shot",
)


@settings(max_examples=examples(20), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    listed=st.lists(
        st.builds(
            Shot,
            point=texts,
            easting=whole_floats,
            northing=whole_floats,
            elevation=st.none() | whole_floats,
            description=texts,
            structure=texts,
            pole=st.sampled_from(["", "A", "B", "C"]),
            item=st.sampled_from(["pole", "hub", "anchor", "check", "crossing", "ground", "other"]),
            line=texts,
            sigma=st.none() | whole_floats,
            observed_on=texts,
            file=texts,
            row=st.integers(0, 2**31 - 1),
            note=texts,
        ),
        max_size=4,
    )
)
def test_every_value_of_a_shot_comes_back(database: Database, listed: list[Shot]) -> None:
    with database.writing() as connection:
        before = survey.load_shots(connection)
        assert survey.add_shots(connection, listed) == len(listed)
    with database.reading() as connection:
        assert survey.load_shots(connection) == (*before, *listed)


def test_no_elevation_written_as_nan_is_none(database: Database) -> None:
    with database.writing() as connection:
        survey.add_shots(connection, [replace(SHOT, elevation=math.nan, sigma=math.nan)])
        assert survey.load_shots(connection) == (replace(SHOT, elevation=None, sigma=None),)


def test_a_second_survey_is_kept_beside_the_first(database: Database, now: dt.datetime) -> None:
    with database.writing() as connection:
        first, second = (
            files.add_file(
                connection,
                name=name,
                content=b"",
                sha256=hashlib.sha256(b"").hexdigest(),
                kind="shots",
                loaded_by="",
                now=now,
                mapping={},
            )
            for name in ("a.csv", "b.csv")
        )
        survey.add_shots(connection, [SHOT], file_id=first)
        survey.add_shots(connection, [replace(SHOT, point="102")], file_id=second)
    with database.reading() as connection:
        assert [shot.point for shot in survey.load_shots(connection)] == ["101", "102"]
        assert files.rows_by_file(connection) == {first: 1, second: 1}


MORNING = dt.datetime(2026, 5, 15, 7, 30, 0, 250_003, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
named = texts.filter(str.strip)
moments = st.datetimes(
    min_value=dt.datetime(1970, 1, 2),  # noqa: DTZ001
    max_value=dt.datetime(2099, 1, 1),  # noqa: DTZ001
    timezones=st.builds(dt.timezone, st.builds(dt.timedelta, minutes=st.integers(-720, 840))),
)
finite = st.floats(allow_nan=False, allow_infinity=False)
corrections: st.SearchStrategy[dict[str, Any]] = st.one_of(
    st.just({}),
    st.fixed_dictionaries(
        {"kind": st.just("translate"), "file": texts, "east": finite, "north": finite},
    ),
    st.fixed_dictionaries(
        {
            "kind": st.just("relabel"),
            "file": texts,
            "rows": st.lists(st.integers(0, 10**6), min_size=1, max_size=4),
            "structure": named,
        },
    ),
)


def decision(identifier: str = "d1", **changes: Any) -> Decision:
    plain = Decision(
        id=identifier,
        cause="columns exchanged",
        subject="file may.csv",
        line="North",
        answer="accepted",
        who="R. Calder",
        at=MORNING,
        note='both "orders" tried \u2013 \u00fc',
        correction={"kind": "foot", "file": "may.csv", "factor": 1200 / 3937 / 0.3048},
    )
    return replace(plain, **changes)


def load(database: Database) -> tuple[Decision, ...]:
    with database.reading() as connection:
        return survey.load_decisions(connection)


def add(database: Database, *batch: Decision) -> list[bool]:
    with database.writing() as connection:
        return [survey.add_decision(connection, one) for one in batch]


def version(database: Database) -> int:
    with database.reading() as connection:
        return versions.load_data_version(connection)


def test_a_decision_comes_back_as_it_was_with_its_own_time_zone(database: Database) -> None:
    assert add(database, decision()) == [True]
    (back,) = load(database)
    assert back == decision()
    assert back.at.isoformat() == "2026-05-15T07:30:00.250003-06:00"
    assert back.correction["factor"] == 1200 / 3937 / 0.3048


drawn = st.builds(
    Decision,
    id=named,
    cause=named,
    subject=named,
    line=texts,
    answer=st.sampled_from(["accepted", "rejected", "needs evidence", "withdrawn"]),
    who=named,
    at=moments,
    note=texts,
    correction=corrections,
)


@settings(max_examples=examples(20), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(one=drawn)
def test_every_value_of_a_decision_comes_back(database: Database, one: Decision) -> None:
    before = load(database)
    made = replace(one, id=f"{len(before)} {one.id}")
    assert add(database, made) == [True]
    assert load(database) == (*before, made)
    assert load(database)[-1].at.utcoffset() == made.at.utcoffset()


def test_the_same_decision_again_changes_nothing(database: Database) -> None:
    rows = {"kind": "drop", "file": "may.csv", "rows": (3, 4)}
    add(database, decision(correction=rows))
    before = version(database)
    assert add(database, decision(correction=rows), decision(correction={**rows, "rows": [3, 4]})) == [
        False,
        False,
    ]
    assert len(load(database)) == 1
    assert version(database) == before


def test_a_new_decision_changes_the_data_version(database: Database) -> None:
    before = version(database)
    add(database, decision())
    assert version(database) == before + 1


@pytest.mark.parametrize(
    "change",
    [
        {"answer": "rejected"},
        {"subject": "file june.csv"},
        {"who": "A. Other"},
        {"at": MORNING + dt.timedelta(microseconds=1)},
        {"at": MORNING.astimezone(dt.UTC)},
        {"correction": {}},
        {"note": ""},
    ],
)
def test_the_same_identifier_with_other_content_is_a_conflict(
    database: Database, change: dict[str, Any]
) -> None:
    add(database, decision())
    with pytest.raises(Conflict, match="d1 is already recorded"):
        add(database, decision(**change))
    assert load(database) == (decision(),)


def test_history_stays_in_the_order_of_receipt_and_the_latest_stands(database: Database) -> None:
    late = decision("d1", at=MORNING + dt.timedelta(hours=2), answer="rejected", correction={})
    early = decision("d2")
    add(database, late, early)
    assert load(database) == (late, early)
    assert standing(load(database)) == {late.key: late}
