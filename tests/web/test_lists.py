"""Whole lists over HTTP: every field with what it is, every state for the manager, nothing for the public."""

from __future__ import annotations

from typing import Protocol

from starlette.testclient import TestClient

from linemap.domain.record.person import Role


class People(Protocol):
    """What the fixture `people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


def test_a_list_comes_with_its_fields_and_states(client: TestClient) -> None:
    found = client.get("/api/list", params={"kind": "tickets"}).json()
    fields = [field["name"] for field in found["fields"]]
    assert fields[:3] == ["number", "line", "structures"]
    rows = [dict(zip(fields, row, strict=True)) for row in found["rows"]]
    assert len(rows) == 24
    by_number = {row["number"]: row for row in rows}
    assert all(row["structures"] or row["from_structure"] for row in by_number.values())
    (state,) = found["states"]
    assert (state["source_file"], state["current"], state["part"]) == ("tickets.csv", True, "")


def test_a_state_the_list_never_had_is_not_found(people: People) -> None:
    answer = people.client(Role.MANAGER).get("/api/list", params={"kind": "tickets", "state": 999_999})
    assert answer.status_code == 404
    assert "no state 999999" in answer.json()["error"]["message"]


def test_shots_are_no_list(client: TestClient) -> None:
    answer = client.get("/api/list", params={"kind": "shots"})
    assert answer.status_code == 404
    assert client.get("/api/list", params={"kind": "lists"}).status_code == 422


def test_others_get_the_list_as_they_may_see_it_and_no_earlier_state(people: People) -> None:
    manager = people.client(Role.MANAGER).get("/api/list", params={"kind": "tickets"}).json()
    state = manager["states"][0]["id"]
    asked = people.client(Role.MANAGER).get("/api/list", params={"kind": "tickets", "state": state})
    assert asked.json()["rows"] == manager["rows"]
    for role, rows in ((Role.CREW, len(manager["rows"])), (Role.VIEWER, 0)):
        asked = people.client(role)
        found = asked.get("/api/list", params={"kind": "tickets"}).json()
        assert (len(found["rows"]), found["states"]) == (rows, [])
        assert asked.get("/api/list", params={"kind": "tickets", "state": state}).status_code == 403
