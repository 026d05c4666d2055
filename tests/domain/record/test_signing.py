"""Who stands behind a record: four facts, what proves them, what they let somebody do."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from linemap.domain.record.event import Event
from linemap.domain.record.person import Person, Role
from linemap.domain.record.signing import (
    Said,
    SignIn,
    Signing,
    lacks_role,
    may_add_photo,
    signing_of,
    taken_back_by,
    who_words,
    why_not_taken_back,
)

AT = dt.datetime(2026, 5, 15, 14, 0, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
BO = Person(name="Bo Finch", role=Role.CREW, device="spare phone", since=AT - HOUR, mark="2-b")
ADA = SignIn(name="Ada Marrow", role=Role.INSPECTOR, device="truck phone", since=AT - 5 * HOUR, until=None)
NOTHING_SAID = Said("", "p7", "")


def test_what_was_made_under_a_sign_in_stays_under_it_whoever_sends_it() -> None:
    found = signing_of(Said("Cy", "p7", "Ada Marrow"), ADA, BO, at=AT)
    assert found == Signing("Cy", "truck phone", "Ada Marrow", "proven", "inspector", "Bo Finch")


@pytest.mark.parametrize("ended", [AT - HOUR, AT - dt.timedelta(seconds=1)])
def test_a_sign_in_proves_nothing_that_was_made_after_its_end(ended: dt.datetime) -> None:
    found = signing_of(Said("", "p7", "Ada Marrow"), replace(ADA, until=ended), BO, at=AT)
    assert found == Signing("Ada Marrow", "p7", "Ada Marrow", "said", "crew", "Bo Finch")


def test_a_name_without_a_sign_in_of_that_person_is_said_by_the_phone() -> None:
    assert signing_of(Said("", "p7", "Ada Marrow"), None, BO, at=AT).signed_how == "said"
    # the sign-in it carries is of somebody else
    assert signing_of(Said("", "p7", "Cy"), ADA, BO, at=AT) == Signing(
        "Cy", "p7", "Cy", "said", "crew", "Bo Finch"
    )


def test_what_says_nothing_is_of_its_sender_from_their_sign_in_on() -> None:
    mine = Signing("Bo Finch", "spare phone", "Bo Finch", "proven", "crew", "Bo Finch")
    assert signing_of(NOTHING_SAID, None, BO, at=AT) == mine
    older = signing_of(Said("Ada", "p7", ""), None, BO, at=AT - 2 * HOUR)
    assert older == Signing("Ada", "p7", "", "", "crew", "Bo Finch")


def test_what_was_made_where_nobody_was_signed_in_gets_no_role_from_who_brings_it() -> None:
    di = Person(name="Di Hall", role=Role.INSPECTOR, device="tablet", since=AT - HOUR, mark="3-d")
    stranger = Said("", "p7", "", by_its_sender=False)
    assert signing_of(stranger, None, di, at=AT) == Signing("", "p7", "", "", "crew", "Di Hall")
    named = signing_of(Said("", "p7", "Di Hall", by_its_sender=False), None, di, at=AT)
    assert (named.signed_how, named.role) == ("said", "crew")
    assert signing_of(NOTHING_SAID, None, di, at=AT).role == "inspector"


def test_where_nobody_signs_in_what_is_said_is_kept_as_said() -> None:
    local = Person.at_the_machine()
    assert signing_of(Said("Cy", "p7", "Ada"), None, local, at=AT) == Signing("Cy", "p7", "Ada", "said")
    assert signing_of(Said("Cy", "p7", ""), None, None, at=AT) == Signing("Cy", "p7")


def record(identifier: str, **values: str) -> Event:
    made: dict[str, str] = {"step": "dug", "structure": "9/2", **values}
    return Event(id=identifier, line="North", happened_at=AT, received_at=AT, **made)  # type: ignore[arg-type]


OF_ADA = record("1", signed_by="Ada", signed_how="proven", role="crew", sent_by="Bo")


@pytest.mark.parametrize(
    ("by", "role", "allowed"),
    [("Ada", "crew", True), (" ada", "crew", True), ("Bo", "crew", False), ("Cy", "surveyor", False),
     ("Di", "inspector", True), ("Em", "manager", True), ("", "", True)],
)  # fmt: skip
def test_authors_inspectors_and_managers_take_back(by: str, role: str, allowed: bool) -> None:
    withdrawal = record(
        "2", result="withdrawn", supersedes="1", signed_by=by, signed_how="proven", role=role, sent_by=by
    )
    why = why_not_taken_back(withdrawal, [OF_ADA])
    assert (why == "") is allowed
    assert allowed or why.startswith("recorded by Ada: its author, an inspector or a manager takes it back")


def test_a_name_that_is_only_said_takes_nothing_back() -> None:
    forged = record(
        "2", result="withdrawn", supersedes="1", signed_by="Ada", signed_how="said", role="crew", sent_by="Bo"
    )
    assert "not Bo" in why_not_taken_back(forged, [OF_ADA])


def test_a_withdrawal_takes_back_what_it_names_or_what_stands_of_its_crew() -> None:
    named = record("2", result="withdrawn", supersedes="1")
    assert taken_back_by(named, {"1": OF_ADA}, []) == [OF_ADA]
    assert taken_back_by(record("3"), {}, [OF_ADA]) == []
    both = [replace(OF_ADA, crew="Heron"), replace(OF_ADA, id="4", crew="Lark"), record("5", step="set")]
    assert taken_back_by(record("6", result="withdrawn", crew="Lark"), {}, both) == [both[1]]
    assert taken_back_by(record("6", result="withdrawn"), {}, both) == both[:2]


def test_photos_come_with_their_record_or_from_its_author() -> None:
    with_photo = replace(OF_ADA, photos=("p1",))
    assert may_add_photo(with_photo, "p1", BO)
    assert not may_add_photo(with_photo, "p2", BO)
    assert may_add_photo(with_photo, "p2", replace(BO, name="Ada"))
    assert may_add_photo(with_photo, "p2", replace(BO, role=Role.MANAGER))


def test_only_done_asks_for_a_role_and_only_where_it_is_known() -> None:
    roles = ("inspector", "manager")
    assert lacks_role(OF_ADA, roles)
    assert not lacks_role(replace(OF_ADA, role=""), roles)
    assert not lacks_role(replace(OF_ADA, result="rejected"), roles)
    assert not lacks_role(OF_ADA, ())


def test_the_four_are_said_where_they_differ() -> None:
    assert who_words(record("1")) == ""
    assert who_words(record("1", actor="Ada", signed_by="ada ", signed_how="proven", sent_by="Ada")) == ""
    assert who_words(OF_ADA) == "signed in was Ada, sent by Bo"
