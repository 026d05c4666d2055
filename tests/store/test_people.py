"""People, devices, tries to sign in and releases of holds, on both databases."""

from __future__ import annotations

import datetime as dt

import pytest

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.hold_release import HoldRelease
from linemap.domain.record.person import Role
from linemap.store import people
from linemap.store.attempts import (
    MOST_OF_ADDRESS,
    MOST_OF_PERSON,
    WINDOW,
    begin_attempt,
    forget_attempts,
)
from linemap.store.crew import add_release, load_releases
from linemap.store.database import Database
from linemap.store.versions import load_data_version

NOW = dt.datetime(2026, 5, 15, 6, 0, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)


def add_ada(database: Database, *, code: str = "c", role: Role = Role.CREW) -> int:
    with database.writing() as connection:
        person = people.save_person(connection, name="Ada  Marrow", role=role, now=NOW)
        return people.add_device(connection, person, label="truck", code=(code, NOW + HOUR), now=NOW)


def test_a_code_gives_a_token_once(database: Database) -> None:
    add_ada(database)
    with database.writing() as connection:
        assert not people.redeem_code(connection, code="other", token="t0", now=NOW)
        assert people.redeem_code(connection, code="c", token="t1", now=NOW)
        assert not people.redeem_code(connection, code="c", token="t2", now=NOW)
        found = people.find_by_token(connection, "t1", now=NOW)
        assert people.find_by_token(connection, "t2", now=NOW) is None
    assert found is not None
    assert (found[0].name, found[0].role, found[0].device) == ("Ada Marrow", Role.CREW, "truck")


def test_a_code_that_is_too_old_gives_nothing(database: Database) -> None:
    add_ada(database)
    with database.writing() as connection:
        assert not people.redeem_code(connection, code="c", token="t", now=NOW + HOUR)


def test_a_revoked_device_is_nobody_and_the_others_stay(database: Database) -> None:
    first, second = add_ada(database), add_ada(database, code="d")
    with database.writing() as connection:
        people.redeem_code(connection, code="c", token="t1", now=NOW)
        people.redeem_code(connection, code="d", token="t2", now=NOW)
        people.revoke_device(connection, first, now=NOW)
        assert people.find_by_token(connection, "t1", now=NOW) is None
        kept = people.find_by_token(connection, "t2", now=NOW)
    assert kept is not None
    assert kept[1].id == second


def test_a_revoked_person_is_nobody_on_all_devices_and_links(database: Database) -> None:
    add_ada(database)
    add_ada(database, code="waiting")
    with database.writing() as connection:
        people.redeem_code(connection, code="c", token="t", now=NOW)
        found = people.find_person(connection, " ada marrow ")
        assert found is not None
        people.revoke_person(connection, found.id, now=NOW)
        assert people.find_by_token(connection, "t", now=NOW) is None
        assert not people.redeem_code(connection, code="waiting", token="u", now=NOW)
        assert people.find_person(connection, "Ada Marrow") is None
        assert people.any_people(connection)


def test_somebody_let_in_again_has_new_devices_only(database: Database) -> None:
    add_ada(database)
    with database.writing() as connection:
        people.redeem_code(connection, code="c", token="t", now=NOW)
        found = people.find_person(connection, "Ada Marrow")
        assert found is not None
        people.revoke_person(connection, found.id, now=NOW)
    add_ada(database, code="new", role=Role.SURVEYOR)
    with database.writing() as connection:
        assert people.find_by_token(connection, "t", now=NOW) is None
        assert people.redeem_code(connection, code="new", token="u", now=NOW)
        (person,) = people.load_people(connection)
    assert (person.role, person.revoked_at, len(person.devices)) == (Role.SURVEYOR, None, 2)


def test_a_password_session_ends_by_itself_and_last_seen_is_kept(database: Database) -> None:
    with database.writing() as connection:
        person = people.save_person(connection, name="Bo", role=Role.MANAGER, password_hash="h", now=NOW)
        device = people.add_device(connection, person, label="browser", token=("t", NOW + HOUR), now=NOW)
        people.mark_seen(connection, device, now=NOW + HOUR / 2)
        found = people.find_by_token(connection, "t", now=NOW + HOUR / 2)
        assert people.find_by_token(connection, "t", now=NOW + HOUR) is None
    assert found is not None
    assert found[1].last_seen == NOW + HOUR / 2


def test_what_is_not_given_again_stays(database: Database) -> None:
    with database.writing() as connection:
        first = people.save_person(
            connection, name="Bo", role=Role.MANAGER, releases=["engineer"], password_hash="h", now=NOW
        )
        again = people.save_person(connection, name="BO", role=Role.INSPECTOR, now=NOW)
        found = people.find_person(connection, "bo")
    assert first == again
    assert found is not None
    assert (found.role, found.releases, found.password_hash) == (Role.INSPECTOR, ("engineer",), "h")


@pytest.mark.parametrize(("kind", "most"), [("person", MOST_OF_PERSON), ("address", MOST_OF_ADDRESS)])
def test_too_many_tries_wait_until_the_first_is_out_of_the_window(
    database: Database, kind: str, most: int
) -> None:
    def attempt(index: int, now: dt.datetime) -> int:
        name, address = ("Ada", f"10.0.0.{index}") if kind == "person" else (f"p{index}", "10.0.0.1")
        return begin_attempt(connection, person=name, address=address, now=now)

    with database.writing() as connection:
        for index in range(most):
            assert attempt(index, NOW + dt.timedelta(seconds=index)) == 0
        assert attempt(most, NOW + dt.timedelta(seconds=most)) == WINDOW.total_seconds() - most
        assert attempt(most, NOW + WINDOW - dt.timedelta(seconds=1)) == 1
        assert attempt(most, NOW + WINDOW) == 0


def test_getting_in_forgets_ones_own_tries_only(database: Database) -> None:
    with database.writing() as connection:
        for _ in range(MOST_OF_PERSON):
            begin_attempt(connection, person="Ada", address="10.0.0.1", now=NOW)
            begin_attempt(connection, person="Bo", address="10.0.0.2", now=NOW)
        forget_attempts(connection, person="ADA", address="10.0.0.1")
        assert begin_attempt(connection, person="Ada", address="10.0.0.1", now=NOW) == 0
        assert begin_attempt(connection, person="Bo", address="10.0.0.1", now=NOW) > 0


RELEASE = HoldRelease(
    hold=Hold(
        id="HW-1",
        structures=("7/3",),
        activities=("dig", "set"),
        from_date=NOW.date(),
        reason="nest",
        restricted=True,
    ),
    who="Ada",
    role=Role.INSPECTOR,
    device="truck",
    evidence="mats in",
    at=dt.datetime(2026, 5, 29, 23, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6))),
    recorded_at=NOW,
)


def test_releases_come_back_as_recorded_and_count_as_a_change(database: Database) -> None:
    with database.reading() as connection:
        before = load_data_version(connection)
    with database.writing() as connection:
        add_release(connection, RELEASE)
    with database.reading() as connection:
        (found,) = load_releases(connection)
        assert load_data_version(connection) == before + 1
    assert found == RELEASE
    assert found.at.utcoffset() == dt.timedelta(hours=-6)
