"""Four facts of each record, roles of steps, withdrawals and claims, through the real application."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from typing import Any, Protocol

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from linemap.domain.record.person import Role
from linemap.service.people.people import add_person, revoke
from linemap.service.record.log import export_record, verify_record
from linemap.store.database import Database


class People(Protocol):
    """What the fixture `own_people` gives."""

    application: FastAPI
    database: Database

    def client(self, role: Role | None) -> TestClient: ...


def now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


def made(step: str = "dug", structure: str = "13/5", **changed: Any) -> dict[str, Any]:
    given = {"id": str(uuid.uuid4()), "happened_at": "2026-05-15T09:00:00-06:00", "crew": "Heron"}
    return {"structure": structure, "step": step, **given, **changed}


def post(client: TestClient, *events: object) -> list[dict[str, Any]]:
    answer = client.post("/api/events", json={"sent_at": now().isoformat(), "events": list(events)})
    assert answer.status_code == 200, answer.text
    results: list[dict[str, Any]] = answer.json()["results"]
    return results


def kept(people: People, identifier: str) -> dict[str, Any]:
    found = people.client(Role.MANAGER).get("/api/events", params={"since": 700, "limit": 1000}).json()
    (event,) = [each["event"] for each in found["events"] if each["event"]["id"] == identifier]
    return dict(event)


def panel(people: People, structure: str) -> dict[str, Any]:
    return dict(people.client(Role.INSPECTOR).get("/api/structure", params={"number": structure}).json())


def signature(client: TestClient) -> dict[str, str]:
    """What the phone keeps of its sign-in and puts into each record."""
    session = client.get("/api/session").json()
    return {"signed_by": session["name"], "mark": session["mark"]}


def test_what_was_recorded_under_one_person_stays_so_when_another_brings_it(
    own_people: People, tmp_path: Any
) -> None:
    crew, surveyor = own_people.client(Role.CREW), own_people.client(Role.SURVEYOR)
    record = made(actor="Old Hand", device="phone-1a2b", **signature(crew))
    unsigned = made("set", actor="Old Hand", device="phone-1a2b", happened_at="2026-05-14T09:00:00-06:00")
    revoke(own_people.database, "Person crew", now=now())
    own_people.application.state.entrance.forget_all()
    assert crew.get("/api/session").json()["signed_in"] is False
    assert [each["outcome"] for each in post(surveyor, record, unsigned)] == ["stored", "stored"]
    four = kept(own_people, record["id"])
    assert (four["actor"], four["device"]) == ("Old Hand", "phone crew")
    assert (four["signed_by"], four["signed_how"], four["role"]) == ("Person crew", "proven", "crew")
    assert four["sent_by"] == "Person surveyor"
    assert "mark" not in four
    said = [each["text"] for each in panel(own_people, "13/5")["history"] if each["id"] == record["id"]]
    words = "done by Old Hand, signed in was Person crew, on phone crew, sent by Person surveyor"
    assert said == [f"dug by Heron, {words}"]
    older = kept(own_people, unsigned["id"])
    assert "signed_by" not in older
    assert older["actor"] == "Old Hand"
    out = tmp_path / "record.jsonl"
    export_record(own_people.database, out)
    lines = [json.loads(line) for line in out.read_text("utf-8").splitlines()]
    (exported,) = [each["event"] for each in lines if each.get("event", {}).get("id") == record["id"]]
    assert exported == four
    assert verify_record(own_people.database).holds


def test_a_mark_that_was_used_after_it_ended_and_a_bare_name_are_said_by_the_phone(
    own_people: People,
) -> None:
    crew, surveyor = own_people.client(Role.CREW), own_people.client(Role.SURVEYOR)
    signed = signature(crew)
    revoke(own_people.database, "Person crew", now=now())
    late, bare = made(happened_at=now().isoformat(), **signed), made("set", signed_by="Person crew")
    post(surveyor, late, bare)
    for record in (late, bare):
        event = kept(own_people, record["id"])
        assert (event["signed_by"], event["signed_how"], event["role"]) == ("Person crew", "said", "crew")
    assert "signed in was Person crew (said by the phone)" in json.dumps(panel(own_people, "13/5")["history"])


def test_the_same_record_brought_by_two_is_one(own_people: People) -> None:
    crew, surveyor = own_people.client(Role.CREW), own_people.client(Role.SURVEYOR)
    record = made(actor="Old Hand", **signature(crew))
    assert post(crew, record)[0]["outcome"] == "stored"
    assert post(surveyor, record)[0]["outcome"] == "duplicate"
    assert kept(own_people, record["id"])["sent_by"] == "Person crew"


def test_a_step_counts_when_a_role_it_names_records_it(own_people: People) -> None:
    crew, inspector = own_people.client(Role.CREW), own_people.client(Role.INSPECTOR)
    (result,) = post(crew, made("inspected", "13/5", **signature(crew)))
    assert result["outcome"] == "stored"
    assert any(
        "not counted as done until inspector or manager records it too" in each for each in result["findings"]
    )

    def inspected() -> str:
        (step,) = [each for each in panel(own_people, "13/5")["steps"] if each["code"] == "inspected"]
        return str(step["done"])

    assert inspected() == "False"
    assert "inspected recorded" in json.dumps(panel(own_people, "13/5")["findings"])
    assert "by Person crew, crew: not counted as done" in json.dumps(panel(own_people, "13/5")["cases"])
    post(inspector, made("inspected", "13/5", **signature(inspector)))
    assert inspected() == "True"
    assert "not counted as done" not in json.dumps(panel(own_people, "13/5"))


def test_the_job_says_which_roles_record_a_step(own_people: People) -> None:
    manager, crew = own_people.client(Role.MANAGER), own_people.client(Role.CREW)
    assert not any("until" in each for each in post(crew, made("blocks hung", "13/6"))[0]["findings"])
    change = {"name": "step_roles", "part": "blocks hung", "text": "inspector"}
    given = {"changes": [change], "source": "contract 4.2", "who": "Person manager"}
    answer = manager.post("/api/declarations", json=given)
    assert answer.status_code == 200, answer.text
    asked = crew.get("/api/field/index").json()["workflow"]["steps"]
    assert {rule["code"]: rule["roles"] for rule in asked}["blocks hung"] == ["inspector"]
    (result,) = post(crew, made("blocks hung", "13/6"))
    assert any("until inspector records it too" in each for each in result["findings"])


def test_crews_do_not_take_back_what_others_recorded(own_people: People) -> None:
    crew, inspector = own_people.client(Role.CREW), own_people.client(Role.INSPECTOR)
    rejection = made("framed", "13/5", result="rejected", **signature(inspector))
    post(inspector, rejection)
    withdrawal = made("framed", "13/5", result="withdrawn", supersedes=rejection["id"], **signature(crew))
    (result,) = post(crew, withdrawal)
    assert result["outcome"] == "refused"
    assert result["why"].startswith("recorded by Person inspector: its author, an inspector or a manager")
    own = made("dug", "13/5", **signature(crew))
    post(crew, own)
    assert post(crew, made("dug", "13/5", result="withdrawn", supersedes=own["id"]))[0]["outcome"] == "stored"
    again = made("framed", "13/5", result="withdrawn", supersedes=rejection["id"])
    assert post(own_people.client(Role.MANAGER), again)[0]["outcome"] == "stored"


def test_a_withdrawal_takes_back_no_record_of_others_that_comes_after_it(own_people: People) -> None:
    crew, surveyor = own_people.client(Role.CREW), own_people.client(Role.SURVEYOR)
    ahead = made("set", crew="", result="withdrawn", happened_at="2026-05-15T12:00:00-06:00")
    late = made("set", happened_at="2026-05-15T11:00:00-06:00")
    assert [post(crew, ahead)[0]["outcome"], post(surveyor, late)[0]["outcome"]] == ["stored", "stored"]

    def is_set() -> bool:
        return next(
            bool(each["done"]) for each in panel(own_people, "13/5")["steps"] if each["code"] == "set"
        )

    assert is_set()
    mine = made("set", crew="", result="withdrawn", happened_at="2026-05-15T12:30:00-06:00")
    assert post(surveyor, mine)[0]["outcome"] == "stored"
    assert not is_set()


@pytest.mark.parametrize(("role", "status"), [(Role.CREW, 422), (Role.MANAGER, 201)])
def test_claims_are_for_ones_own_crew(own_people: People, role: Role, status: int) -> None:
    add_person(own_people.database, name=f"Person {role.value}", role=role, crew="Lark", now=now())
    own_people.application.state.entrance.forget_all()
    client = own_people.client(role)
    assert client.get("/api/session").json()["crew"] == "Lark"

    def claim(crew: str) -> Any:
        ends = now() + dt.timedelta(hours=8)
        times = {"made_at": now().isoformat(), "expires_at": ends.isoformat()}
        return client.post(
            "/api/claims", json={"id": str(uuid.uuid4()), "structure": "13/5", "crew": crew, **times}
        )

    other = claim("Heron")
    assert other.status_code == status
    assert status == 201 or "Person crew is of crew Lark and claims for that one" in other.text
    mine = claim("lark")
    assert mine.status_code == 201
    assert f"lark (Person {role.value}, " in mine.json()["claim"]["sentence"] or role is Role.CREW


def test_photos_of_a_record_come_with_it_or_from_its_author(own_people: People) -> None:
    crew, surveyor = own_people.client(Role.CREW), own_people.client(Role.SURVEYOR)
    named, other = str(uuid.uuid4()), str(uuid.uuid4())
    record = made("dug", "13/5", photos=[named], **signature(crew))
    post(crew, record)
    picture = b"\xff\xd8\xff" + bytes(40)

    def put(client: TestClient, photo: str) -> Any:
        where = {"event": record["id"], "total": 900}
        headers = {"content-range": f"bytes 0-{len(picture) - 1}/900"}
        return client.put(f"/api/photos/{photo}", params=where, content=picture, headers=headers)

    assert put(surveyor, named).status_code == 200
    refused = put(surveyor, other)
    assert (refused.status_code, "names no such photo" in refused.text) == (422, True)
    assert put(crew, other).status_code == 200
