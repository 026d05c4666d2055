"""Claims and briefings over HTTP."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.record import BriefingAnswer, ClaimAnswer, ClaimList


def claim(crew: str = "Heron", **changed: Any) -> dict[str, Any]:
    given = {
        "id": str(uuid.uuid4()),
        "structure": "13/4",
        "crew": crew,
        "made_at": "2026-05-15T09:00:00-06:00",
        "expires_at": "2026-05-16T09:00:00-06:00",
    }
    return {**given, **changed}


def briefing(**changed: Any) -> dict[str, Any]:
    given = {
        "id": str(uuid.uuid4()),
        "structure": "13/4",
        "at": "2026-05-15T07:00:00-06:00",
        "person_in_charge": "J. Ode",
        "subjects": {"hazards": "slope, line beside", "ppe": "gloves"},
    }
    return {**given, **changed}


def test_two_phones_claim_one_structure_offline_and_both_are_told(phone: TestClient) -> None:
    first = phone.post("/api/claims", json=claim())
    assert first.status_code == 201
    made = read_answer(ClaimAnswer, first.json())
    assert made.recorded
    assert made.claim is not None
    assert (made.claim.others, made.claim.made_offline) == ([], True)
    second = read_answer(ClaimAnswer, phone.post("/api/claims", json=claim("Raven")).json())
    assert second.claim is not None
    assert [other.crew for other in second.claim.others] == ["Heron"]
    listed = read_answer(ClaimList, phone.get("/api/claims").json())
    # made at the same moment, so neither comes first by right
    assert {each.crew: [other.crew for other in each.others] for each in listed.claims} == {
        "Heron": ["Raven"],
        "Raven": ["Heron"],
    }
    assert all("both claims stand" in each.sentence for each in listed.claims)


def test_a_claim_sent_again_changes_nothing_and_other_content_is_a_conflict(phone: TestClient) -> None:
    one = claim()
    version = phone.post("/api/claims", json=one).json()["data_version"]
    again = phone.post("/api/claims", json=one)
    assert (again.status_code, again.json()["recorded"], again.json()["data_version"]) == (
        200,
        False,
        version,
    )
    other = phone.post("/api/claims", json={**one, "crew": "Raven"})
    assert (other.status_code, other.json()["error"]["code"]) == (409, "conflict")


def test_a_claim_that_ended_before_it_came_is_recorded_and_does_not_stand(phone: TestClient) -> None:
    ended = claim(made_at="2026-05-14T07:00:00-06:00", expires_at="2026-05-14T19:00:00-06:00")
    answer = read_answer(ClaimAnswer, phone.post("/api/claims", json=ended).json())
    assert (answer.recorded, answer.claim) == (True, None)
    assert phone.get("/api/claims").json()["claims"] == []


@pytest.mark.parametrize(
    ("changed", "where"),
    [
        ({"structure": "99/9"}, "structure"),
        ({"structure": ""}, "body.structure"),
        ({"crew": " "}, "body.crew"),
        ({"crew": "a\x00"}, "body.crew"),
        ({"expires_at": "2026-05-15T09:00:00-06:00"}, "expires_at"),
        ({"expires_at": "2026-06-15T09:00:00-06:00"}, "expires_at"),
        ({"made_at": "2026-05-15"}, "body.made_at"),
        ({"id": "1"}, "body.id"),
        ({"lock": True}, "body.lock"),
    ],
)
def test_a_claim_that_is_none_is_refused_in_words(
    phone: TestClient, changed: dict[str, Any], where: str
) -> None:
    answer = phone.post("/api/claims", json=claim(**changed))
    assert answer.status_code == 422
    assert answer.json()["error"]["where"] == where
    assert answer.json()["error"]["message"]


def test_a_briefing_is_recorded_once_and_says_what_it_does_not_cover(phone: TestClient) -> None:
    one = briefing(structure="13-04")
    first = phone.post("/api/briefings", json=one)
    made = read_answer(BriefingAnswer, first.json())
    assert (first.status_code, made.structure, made.recorded) == (201, "13/4", True)
    assert made.not_covered == ["procedures", "precautions", "energy_sources"]
    again = phone.post("/api/briefings", json=one)
    assert (again.status_code, again.json()["recorded"]) == (200, False)
    other = phone.post("/api/briefings", json={**one, "person_in_charge": "A. Marrow"})
    assert other.status_code == 409


@pytest.mark.parametrize(
    "changed",
    [
        {"person_in_charge": ""},
        {"structure": "99/9"},
        {"at": "today"},
        {"subjects": {"weather": "fine"}},
        {"subjects": {"hazards": "a\x00b"}},
        {"subjects": None},
    ],
)
def test_a_briefing_that_is_none_is_refused(phone: TestClient, changed: dict[str, Any]) -> None:
    assert phone.post("/api/briefings", json=briefing(**changed)).status_code == 422
