"""Shots: every value back, surveys beside each other."""

from __future__ import annotations

import datetime as dt
import hashlib
import math
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linemap.domain.survey.shot import Shot
from linemap.store import files, shots
from linemap.store.database import Database

texts = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12)
finite = st.floats(allow_nan=False, allow_infinity=False).map(lambda value: value + 0.0)

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


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    listed=st.lists(
        st.builds(
            Shot,
            point=texts,
            easting=finite,
            northing=finite,
            elevation=st.none() | finite,
            description=texts,
            structure=texts,
            pole=st.sampled_from(["", "A", "B", "C"]),
            item=st.sampled_from(["pole", "hub", "anchor", "check", "crossing", "ground", "other"]),
            line=texts,
            sigma=st.none() | finite,
            observed_on=texts,
            file=texts,
            row=st.integers(0, 2**31 - 1),
            note=texts,
        ),
        max_size=4,
    )
)
def test_every_value_comes_back(database: Database, listed: list[Shot]) -> None:
    with database.writing() as connection:
        before = shots.load_shots(connection)
        assert shots.add_shots(connection, listed) == len(listed)
    with database.reading() as connection:
        assert shots.load_shots(connection) == (*before, *listed)


def test_no_elevation_written_as_nan_is_none(database: Database) -> None:
    with database.writing() as connection:
        shots.add_shots(connection, [replace(SHOT, elevation=math.nan, sigma=math.nan)])
        assert shots.load_shots(connection) == (replace(SHOT, elevation=None, sigma=None),)


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
        shots.add_shots(connection, [SHOT], file_id=first)
        shots.add_shots(connection, [replace(SHOT, point="102")], file_id=second)
    with database.reading() as connection:
        assert [shot.point for shot in shots.load_shots(connection)] == ["101", "102"]
        assert [shot.point for shot in shots.load_shots(connection, file_id=second)] == ["102"]
