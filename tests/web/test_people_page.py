"""Letting people in and keeping them out in the browser: links shown once, and nobody locked out by it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any, Protocol

import pytest
from starlette.testclient import TestClient

from linemap.domain.record.person import Role
from linemap.service.job.job import create_job
from linemap.settings import Settings
from linemap.web.app import create_app


class People(Protocol):
    """What the fixture `own_people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


def named(answer: Any, name: str) -> Any:
    return next(each for each in answer.json()["people"] if each["name"] == name)


def test_a_link_signs_in_one_phone_once_and_is_never_told_again(own_people: People) -> None:
    manager = own_people.client(Role.MANAGER)
    sent = {
        "name": "Bo Quill",
        "role": "crew",
        "device": "truck phone",
        "releases": ["yard"],
        "address": "https://linemap.test",
    }
    made = manager.post("/api/people", json=sent)
    body = made.json()
    assert (made.status_code, body["once"], made.headers["cache-control"]) == (201, True, "no-store")
    assert body["link"].startswith("https://linemap.test/sign-in#code=")
    assert body["square"].startswith("<svg")
    code = body["link"].partition("#code=")[2]
    assert code not in manager.get("/api/people").text
    found = named(manager.get("/api/people"), "Bo Quill")
    assert (found["role"], found["releases"], found["devices"][0]["state"]) == (
        "crew",
        ["yard"],
        "link waits",
    )
    phone = own_people.client(None)
    assert phone.post("/api/session", json={"code": code}).json()["name"] == "Bo Quill"
    assert own_people.client(None).post("/api/session", json={"code": code}).status_code == 401
    assert named(manager.get("/api/people"), "Bo Quill")["devices"][0]["state"] == "in use"


def test_who_is_kept_out_is_let_in_no_longer(own_people: People) -> None:
    manager = own_people.client(Role.MANAGER)
    device = named(manager.get("/api/people"), "Person surveyor")["devices"][0]["id"]
    after = manager.post("/api/people/keep-out", json={"device": device})
    assert named(after, "Person surveyor")["devices"][0]["state"] == "kept out"
    after = manager.post("/api/people/keep-out", json={"name": "Person crew"})
    assert named(after, "Person crew")["kept_out"] is True
    last = manager.post("/api/people/keep-out", json={"name": "person MANAGER"})
    assert (last.status_code, last.json()["error"]["code"]) == (409, "conflict")
    assert "only manager" in last.json()["error"]["message"]
    nobody = manager.post("/api/people/keep-out", json={"name": "No One"})
    assert nobody.status_code == 404


@pytest.mark.parametrize("role", [Role.CREW, Role.SURVEYOR, Role.INSPECTOR, Role.VIEWER, None])
def test_people_are_the_managers_matter(own_people: People, role: Role | None) -> None:
    client = own_people.client(role)
    assert client.get("/api/people").status_code in (401, 403)
    sent = {"name": "Eve", "role": "manager"}
    assert client.post("/api/people", json=sent).status_code in (401, 403)


def test_the_first_person_is_a_manager(tmp_path: Path) -> None:
    job = tmp_path / "north.linemap"
    create_job(str(job), {"crs": "EPSG:6515"}, now=dt.datetime.now(dt.UTC))
    here = "http://127.0.0.1:8765"
    app = create_app(Settings(job=str(job)))
    with TestClient(app, base_url=here, headers={"origin": here}) as client:
        refused = client.post("/api/people", json={"name": "Bo", "role": "crew", "device": "phone"})
        assert refused.status_code == 422
        assert "first person must be a manager" in refused.json()["error"]["message"]
        short = client.post("/api/people", json={"name": "Ada", "role": "manager", "password": "short"})
        assert (short.status_code, client.get("/api/people").json()["open"]) == (422, True)
        sent = {"name": "Ada", "role": "manager", "device": "desk", "address": here}
        code = client.post("/api/people", json=sent).json()["link"].partition("#code=")[2]
        assert client.get("/api/people").status_code == 401, "the machine alone is nobody now"
        assert client.post("/api/session", json={"code": code}).status_code == 200
        assert client.get("/api/people").json()["address"] == here
