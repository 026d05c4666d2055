"""Whole lists over HTTP: every field with what it is, every state for the manager, nothing for the public."""

from __future__ import annotations

from typing import Any, Protocol

import pytest
from starlette.testclient import TestClient

from linemap.domain.kind.kind import Code, columns_of
from linemap.domain.record.person import Role
from linemap.kinds.registry import DECLARED


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


@pytest.mark.parametrize("kind", DECLARED)
def test_every_kind_that_can_be_loaded_is_a_list(people: People, kind: Code) -> None:
    found = people.client(Role.MANAGER).get("/api/list", params={"kind": kind}).json()
    names = [column.name for column in columns_of(DECLARED[kind])]
    assert [field["name"] for field in found["fields"]] == names
    assert found["rows"], f"the demo job has {kind}"
    assert all(len(row) == len(names) for row in found["rows"])


def test_what_is_no_kind_is_no_list(client: TestClient) -> None:
    assert client.get("/api/list", params={"kind": "lists"}).status_code == 422


def listed(asking: TestClient, kind: Code) -> list[dict[str, Any]]:
    found = asking.get("/api/list", params={"kind": kind}).json()
    names = [field["name"] for field in found["fields"]]
    return [dict(zip(names, row, strict=True)) for row in found["rows"]]


def test_structures_are_told_with_their_numbers_and_rules(client: TestClient) -> None:
    rows = listed(client, "structures")
    assert len(rows) == 121
    assert (rows[0]["number"], rows[0]["rule"], rows[0]["pole_count"]) == ("1/1", "bisector", 2)
    assert {type(row["easting"]) for row in rows} == {float}


def test_readers_get_of_shots_and_records_what_pages_show_them(people: People) -> None:
    manager, crew, viewer = map(people.client, (Role.MANAGER, Role.CREW, Role.VIEWER))
    assert any(row["device"] for row in listed(manager, "records"))
    assert any(row["note"] for row in listed(manager, "records"))
    assert any(row["description"] for row in listed(manager, "shots"))
    assert {row["device"] for row in listed(crew, "records")} == {""}
    for name in ("device", "note", "crew", "actor"):
        assert {row[name] for row in listed(viewer, "records")} == {""}
    assert {row["description"] for row in listed(viewer, "shots")} == {""}
    assert all(row["structure"] for row in listed(viewer, "shots"))
    assert {row["remarks"] for row in listed(viewer, "structures")} == {""}


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
