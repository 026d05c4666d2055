"""Signing in and out, the cookie, the pauses, and who sits at the machine."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import pytest
from argon2 import PasswordHasher
from fastapi import FastAPI
from sqlalchemy import text
from starlette.testclient import TestClient

from linemap.domain.record.person import Person, Role
from linemap.errors import NotAllowed
from linemap.service.people import people
from linemap.service.people.people import add_person, list_people, revoke
from linemap.settings import Settings
from linemap.store.attempts import MOST_OF_PERSON
from linemap.store.database import Database, open_job
from linemap.web.app import create_app
from linemap.web.session import Entrance, cookie_name, signed_as

NOW = dt.datetime(2026, 5, 16, 12, 0, tzinfo=dt.UTC)
PASSWORD = "correct horse battery"


@pytest.fixture
def job(new_sqlite: Path) -> Path:
    """An empty job."""
    return new_sqlite


@pytest.fixture
def quick_passwords(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep passwords with the least work there is, where not the work is what is tried."""
    least = partial(PasswordHasher, time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(people, "PasswordHasher", least)


@pytest.fixture
def application(job: Path) -> Iterator[FastAPI]:
    made = create_app(Settings(job=str(job), network=True))
    made.state.entrance._remember_s = 0.0
    yield made
    made.state.database.close()


def browser(application: FastAPI, *, address: str = "10.0.0.1", scheme: str = "https") -> TestClient:
    base = f"{scheme}://linemap.test"
    return TestClient(
        application, base_url=base, headers={"origin": base}, client=(address, 50000), follow_redirects=False
    )


def add(application: FastAPI, name: str = "Ada", role: Role = Role.CREW, *, password: str = "") -> str:
    now = dt.datetime.now(dt.UTC)
    return add_person(application.state.database, name=name, role=role, password=password, now=now)


def test_a_link_signs_in_one_phone_once(application: FastAPI) -> None:
    code = add(application)
    phone = browser(application)
    answer = phone.post("/api/session", json={"code": code})
    assert answer.status_code == 200
    said = answer.json()
    assert said.pop("mark").startswith("1-")
    assert said == {
        "signed_in": True, "name": "Ada", "role": "crew", "crew": "", "device": "phone", "local": False,
    }  # fmt: skip
    assert phone.get("/api/session").json()["name"] == "Ada"
    again = browser(application).post("/api/session", json={"code": code})
    assert (again.status_code, again.json()["error"]["code"]) == (401, "not_known")


def test_the_cookie_is_out_of_reach_of_scripts_and_of_other_sites(application: FastAPI) -> None:
    made = browser(application).post("/api/session", json={"code": add(application)}).headers["set-cookie"]
    parts = {part.strip().casefold() for part in made.split(";")[1:]}
    assert {"httponly", "samesite=strict", "secure", "path=/", "max-age=34560000"} <= parts
    plain = browser(application, scheme="http").post("/api/session", json={"code": add(application, "Bo")})
    assert "secure" not in plain.headers["set-cookie"].casefold()


def test_behind_a_proxy_the_cookie_travels_by_https_only(job: Path) -> None:
    application = create_app(Settings(job=str(job), network=True, https=True))
    code = add(application)
    made = browser(application, scheme="http").post("/api/session", json={"code": code})
    assert "secure" in made.headers["set-cookie"].casefold()
    application.state.database.close()


def test_secrets_are_nowhere_in_the_job(application: FastAPI, job: Path) -> None:
    code = add(application, password=PASSWORD) or add(application)
    phone = browser(application)
    phone.post("/api/session", json={"code": code})
    desktop = browser(application)
    assert desktop.post("/api/session", json={"name": "ada", "password": PASSWORD}).status_code == 200
    name = cookie_name(application.state.identity)
    secrets = [code, phone.cookies[name], desktop.cookies[name], PASSWORD]
    assert all(len(secret) >= 43 for secret in secrets[:3])
    with application.state.database.writing() as connection:
        connection.execute(text("SELECT 1"))
    content = b"".join(path.read_bytes() for path in job.parent.glob("north.linemap*"))
    assert b"truck" not in content
    assert b"$argon2id$v=19$m=65536,t=3,p=4$" in content
    assert not [secret for secret in secrets if secret.encode() in content]


def test_a_password_signs_in_for_twelve_hours(application: FastAPI) -> None:
    add(application, password=PASSWORD)
    desktop = browser(application)
    answer = desktop.post("/api/session", json={"name": " ADA ", "password": PASSWORD})
    assert (answer.status_code, answer.json()["device"]) == (200, "browser")
    assert "max-age=43200" in answer.headers["set-cookie"].casefold()
    wrong = browser(application).post("/api/session", json={"name": "Ada", "password": PASSWORD + "r"})
    nobody = browser(application).post("/api/session", json={"name": "Eve", "password": PASSWORD})
    assert wrong.status_code == nobody.status_code == 401
    assert wrong.json() == nobody.json()


def test_signing_out_lets_the_device_in_no_longer(application: FastAPI) -> None:
    phone = browser(application)
    phone.post("/api/session", json={"code": add(application)})
    name = cookie_name(application.state.identity)
    token = phone.cookies[name]
    assert phone.delete("/api/session").status_code == 204
    assert name not in phone.cookies
    thief = browser(application)
    thief.cookies.set(name, token)
    assert thief.get("/api/session").json()["signed_in"] is False


def test_a_revoked_device_is_let_in_no_longer_and_the_other_is(application: FastAPI) -> None:
    phones = {}
    for label in ("one", "two"):
        now = dt.datetime.now(dt.UTC)
        code = add_person(application.state.database, name="Ada", role=Role.CREW, device=label, now=now)
        phones[label] = browser(application)
        phones[label].post("/api/session", json={"code": code})
    revoke(application.state.database, "one", now=dt.datetime.now(dt.UTC))
    signed_in = {label: phone.get("/api/session").json()["signed_in"] for label, phone in phones.items()}
    assert signed_in == {"one": False, "two": True}


def test_last_seen_is_kept(application: FastAPI) -> None:
    phone = browser(application)
    phone.post("/api/session", json={"code": add(application)})
    with application.state.database.writing() as connection:
        connection.execute(text("UPDATE device SET last_seen = '2026-01-01 00:00:00.000000'"))
    phone.get("/api/session")
    ((device,),) = [person.devices for person in list_people(application.state.database)]
    assert device.last_seen is not None
    assert dt.datetime.now(dt.UTC) - device.last_seen < dt.timedelta(minutes=1)


@pytest.mark.usefixtures("quick_passwords")
def test_too_many_wrong_passwords_pause_that_person_from_every_address(application: FastAPI) -> None:
    add(application, password=PASSWORD)
    wrong = {"name": "Ada", "password": "x" * 20}
    answers = [
        browser(application, address=f"10.0.1.{index}").post("/api/session", json=wrong).status_code
        for index in range(MOST_OF_PERSON)
    ]
    assert answers == [401] * MOST_OF_PERSON
    paused = browser(application).post("/api/session", json={"name": "Ada", "password": PASSWORD})
    assert (paused.status_code, paused.json()["error"]["code"]) == (429, "too_many_tries")
    assert 0 < int(paused.headers["retry-after"]) <= 900
    # the pause is in the database, so another worker knows of it
    other = create_app(application.state.answers["crew"].settings)
    assert browser(other).post("/api/session", json=wrong).status_code == 429
    other.state.database.close()


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"code": ""},
        {"name": "Ada"},
        {"code": "x", "name": "Ada", "password": "y"},
        [],
        "code",
        {"code": 7},
    ],
)
def test_other_ways_to_sign_in_are_refused(application: FastAPI, body: object) -> None:
    answer = browser(application).post("/api/session", json=body)
    assert (answer.status_code, answer.json()["error"]["code"]) == (422, "invalid_request")


def test_a_page_of_another_site_cannot_sign_anybody_in_or_out(application: FastAPI) -> None:
    foreign = browser(application)
    for method in ("POST", "DELETE"):
        answer = foreign.request(method, "/api/session", headers={"origin": "https://elsewhere.test"})
        assert answer.status_code == 403


def test_the_sign_in_page_tells_nothing_of_the_job(application: FastAPI) -> None:
    page = browser(application).get("/sign-in").text
    assert "north" not in page
    assert "<script>" not in page


def entrance(database: Database, *, network: bool = False) -> Entrance:
    return Entrance(database, network=network, remember_s=0.0)


def scope(**headers: str) -> dict[str, object]:
    raw = [(name.replace("_", "-").encode(), value.encode()) for name, value in headers.items()]
    served = SimpleNamespace(state=SimpleNamespace(identity="7d444840-9dc0-11d1-b245-5ffdce74fad2"))
    return {"type": "http", "headers": raw, "client": ("127.0.0.1", 50000), "app": served}


@pytest.mark.parametrize(
    "host", ["127.0.0.1:8765", "localhost:8765", "[::1]:8765", "testserver", "job.localhost"]
)
def test_a_job_without_people_is_its_machines_own(job: Path, host: str) -> None:
    with open_job(job) as database:
        found = entrance(database).find(scope(host=host))
    assert found is not None
    assert (found.role, found.local) == (Role.MANAGER, True)


@pytest.mark.parametrize(
    "headers",
    [
        {"host": "rebound.example:8765"},
        {"host": "192.168.8.2:8765"},
        {"host": ""},
        {},
        {"host": "127.0.0.1", "x_forwarded_for": "192.168.8.7"},
        {"host": "127.0.0.1", "forwarded": "for=192.168.8.7"},
    ],
)
def test_a_job_without_people_is_nobody_elses(job: Path, headers: dict[str, str]) -> None:
    with open_job(job) as database:
        assert entrance(database).find(scope(**headers)) is None
        assert entrance(database, network=True).find(scope(host="127.0.0.1")) is None


def test_with_the_first_person_the_machine_is_asked_for_a_name_too(job: Path) -> None:
    with open_job(job) as database:
        asked = entrance(database)
        assert asked.find(scope(host="127.0.0.1")) is not None
        add_person(database, name="Ada", role=Role.VIEWER, now=NOW)
        assert asked.find(scope(host="127.0.0.1")) is None
        assert asked.remembered(scope(host="127.0.0.1")) is None
        revoke(database, "Ada", now=NOW)
        assert asked.find(scope(host="127.0.0.1")) is None


def test_what_is_remembered_is_forgotten_in_time(job: Path) -> None:
    clock = iter([0.0, 0.5, 0.9, 1.5])
    with open_job(job) as database:
        asked = Entrance(database, network=False, remember_s=1.0, clock=lambda: next(clock))
        asked.find(scope(host="localhost"))
        known = [asked.remembered(scope(host="localhost")) for _ in range(3)]
    assert [person is not None for person in known] == [True, True, False]


@pytest.mark.parametrize(("who", "signed"), [("ada  MARROW", "Ada Marrow"), ("Bo", None)])
def test_everybody_signs_as_themselves(who: str, signed: str | None) -> None:
    ada = Person(name="Ada Marrow", role=Role.SURVEYOR)
    if signed is None:
        with pytest.raises(NotAllowed, match="signed in as Ada Marrow"):
            signed_as(ada, who)
    else:
        assert signed_as(ada, who) == signed
    assert signed_as(Person.at_the_machine(), who) == who
