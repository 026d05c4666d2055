"""What reaches a browser of each role, over every address there is; and the release of a hold."""

from __future__ import annotations

import datetime as dt
import re
from typing import Protocol

import pytest
from starlette.testclient import TestClient

from linemap.domain.record.person import Role
from linemap.service.people.people import add_person
from linemap.store.database import Database
from linemap.web.permission import PERMISSIONS

SECRETS = re.compile(r"\bnest\b|\bcultural\b|Tollgate|lambing|Thistledown|Ledger Creek Gas", re.IGNORECASE)
QUERIES = {
    "/api/structure": [f"?number={number}" for number in ("7/3", "11/4", "14/1", "14/2", "14/3", "21/3")],
    "/api/field/mile": [f"?mile={mile}" for mile in (7, 11, 14, 21)],
    "/api/next": ["?crew=Raven&from=14/1"],
}


class People(Protocol):
    """What the fixture `people` gives."""

    database: Database

    def client(self, role: Role | None) -> TestClient: ...

    def forget(self, role: Role) -> None: ...


def readable(role: Role | None) -> list[str]:
    """Return every address without parameters in its path that a role may read, with queries that answer."""
    found = []
    for template, methods in PERMISSIONS.items():
        roles = methods.get("GET")
        if roles is not None and "{" not in template and (not roles or role in roles):
            found += [template + query for query in QUERIES.get(template, [""])]
    return found


@pytest.mark.parametrize("role", [each for each in Role if each is not Role.MANAGER] + [None])
def test_no_restricted_word_reaches_anybody_but_the_manager(people: People, role: Role | None) -> None:
    client = people.client(role)
    told = {}
    for address in readable(role):
        answer = client.get(address)
        if answer.headers.get("content-type", "").startswith(("application/json", "text/")):
            told[address] = set(SECRETS.findall(answer.text))
    assert len(told) >= (5 if role is None else 15)
    assert {address: words for address, words in told.items() if words} == {}


def test_the_manager_is_told(people: People) -> None:
    client = people.client(Role.MANAGER)
    assert "nest" in {each["properties"]["layer"] for each in client.get("/api/context").json()["features"]}
    assert "nest within 660 ft" in client.get("/api/structure?number=14/2").text
    assert "hold: environmental" in people.client(Role.CREW).get("/api/structure?number=14/2").text


def test_one_browser_that_changes_hands_is_not_told_that_nothing_changed(people: People) -> None:
    tag = people.client(Role.MANAGER).get("/api/context").headers["etag"]
    answer = people.client(Role.CREW).get("/api/context", headers={"if-none-match": tag})
    assert answer.status_code == 200
    assert "private" in answer.headers["cache-control"]


RELEASE = {"who": "Person inspector", "evidence": "mats in, photo 14", "at": "2026-05-15T07:30:00-06:00"}


def release(people: People, role: Role, hold: str, **changed: str) -> tuple[int, str]:
    body = {**RELEASE, "who": f"Person {role.value}", **changed}
    answer = people.client(role).post(f"/api/holds/{hold}/release", json=body)
    told = answer.json()
    return answer.status_code, str(told.get("sentence") or told["error"]["message"])


def test_a_hold_is_released_by_whom_it_names_once_with_evidence_and_shown(people: People) -> None:
    for role in (Role.CREW, Role.VIEWER, Role.MANAGER, Role.INSPECTOR):
        status, words = release(people, role, "HW-1")
        assert status == 403, role
    assert "is to be released by environmental lead" in words
    add_person(
        people.database,
        name="Person inspector",
        role=Role.INSPECTOR,
        releases=["environmental lead"],
        now=dt.datetime.now(dt.UTC),
    )
    people.forget(Role.INSPECTOR)
    assert release(people, Role.INSPECTOR, "HW-1", who="Person manager")[0] == 403
    assert release(people, Role.INSPECTOR, "HW-1", evidence=" ")[0] == 422
    assert release(people, Role.INSPECTOR, "HW-1", at="2199-01-01T00:00:00Z")[0] == 422
    assert release(people, Role.INSPECTOR, "no such")[0] == 404
    status, words = release(people, Role.INSPECTOR, "HW-1")
    assert status == 201
    assert words == "hold HW-1 released from 15 May 2026 by Person inspector, inspector: mats in, photo 14"
    assert release(people, Role.INSPECTOR, "HW-1")[0] == 409
    crew = people.client(Role.CREW)
    listed = {hold["id"]: hold for hold in crew.get("/api/holds").json()["holds"]}
    assert listed["HW-1"]["in_force"] is False
    assert [each["who"] for each in listed["HW-1"]["releases"]] == ["Person inspector"]
    panel = crew.get("/api/structure?number=7/3").json()
    assert [hold for hold in panel["holds"] if "mats" in hold["sentence"]] == []
    assert words in [each["text"] for each in panel["history"]]
    viewer = people.client(Role.VIEWER).get("/api/structure?number=7/3").text
    assert "Person inspector" not in viewer
