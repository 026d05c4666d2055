"""A job has an identity: what is made of one is never taken for what is made of another."""

from __future__ import annotations

import datetime as dt
import shutil
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import update
from starlette.testclient import TestClient

from linemap import __version__
from linemap.domain.record.person import Audience, Role
from linemap.service.people.people import add_person
from linemap.settings import Settings
from linemap.store import schema
from linemap.store.database import open_job
from linemap.store.job import renew_incarnation
from linemap.web import app
from linemap.web.session import cookie_name

LINE = "Brindle Gap - Amber Sill 115 kV"
READ = (
    "/api/job",
    "/api/structures",
    "/api/centreline",
    "/api/structure?number=9/2",
    "/api/field/mile?mile=9",
)


def another(demo_job: Path, folder: Path) -> Path:
    """Return a job that is the demo job in everything but its identity."""
    folder.mkdir()
    path = Path(shutil.copy(demo_job, folder))
    with open_job(path) as database, database.writing() as connection:
        own = {"identity": str(uuid.uuid4()), "incarnation": str(uuid.uuid4())}
        connection.execute(update(schema.job).values(**own))
    return path


@pytest.fixture
def two(demo_job: Path, tmp_path: Path) -> Iterator[tuple[TestClient, TestClient]]:
    """Two jobs with the same lines at the same data version, each served."""
    paths = [another(demo_job, tmp_path / name) for name in ("one", "other")]
    apps = [app.create_app(Settings(job=str(path)), today=lambda: dt.date(2026, 5, 16)) for path in paths]
    at = {"base_url": "http://127.0.0.1:8765", "headers": {"origin": "http://127.0.0.1:8765"}}
    with TestClient(apps[0], **at) as one, TestClient(apps[1], **at) as other:  # type: ignore[arg-type]
        yield one, other


def test_no_answer_of_one_job_stands_for_another(two: tuple[TestClient, TestClient]) -> None:
    one, other = two
    versions = [client.get("/api/job").json()["data_version"] for client in two]
    assert versions[0] == versions[1]
    for path in READ:
        tag = {"if-none-match": one.get(path).headers["etag"]}
        assert one.get(path, headers=tag).status_code == 304
        assert other.get(path, headers=tag).status_code == 200, path
    assert one.get("/sw.js").text != other.get("/sw.js").text
    assert one.get("/field").text != other.get("/field").text


def test_a_new_life_and_a_new_linemap_change_every_tag_but_not_the_job(
    two: tuple[TestClient, TestClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    client = two[0]
    before, job = client.get("/api/job").headers["etag"], client.get("/api/job").json()
    miles = client.get("/api/field/index").json()["lines"][0]["miles"]
    with client.app.state.database.writing() as connection:  # type: ignore[attr-defined]
        renew_incarnation(connection)
    after, index = client.get("/api/job"), client.get("/api/field/index").json()
    assert after.json()["identity"] == job["identity"] == index["identity"]
    assert after.json()["incarnation"] == index["incarnation"] != job["incarnation"]
    assert after.json()["software"] == index["software"] == __version__
    assert before.split("-")[0] != after.headers["etag"].split("-")[0]
    for old, new in zip(miles, index["lines"][0]["miles"], strict=True):
        assert old["version"] != new["version"]
    monkeypatch.setattr("linemap.service.view.view.__version__", "9.9.9")
    with TestClient(app.create_app(client.app.state.answers[Audience.CREW].settings)) as newer:  # type: ignore[attr-defined]
        assert newer.get("/api/job").headers["etag"] != after.headers["etag"]


def event(structure: str = "9/2") -> dict[str, object]:
    return {
        "sent_at": "2026-05-16T07:00:00-06:00",
        "events": [
            {
                "id": str(uuid.uuid4()),
                "line": LINE,
                "structure": structure,
                "step": "staked",
                "happened_at": "2026-05-16T06:59:00-06:00",
            }
        ],
    }


def test_what_is_meant_for_another_job_is_refused_by_a_code_and_changes_nothing(
    two: tuple[TestClient, TestClient],
) -> None:
    one, other = two
    meant = {"linemap-job": one.get("/api/job").json()["identity"]}
    version = other.get("/api/job").json()["data_version"]
    for method, path, body in (
        ("POST", "/api/events", event()),
        ("POST", "/api/claims", {}),
        ("GET", "/api/field/index", None),
    ):
        refused = other.request(method, path, json=body, headers=meant)
        assert (refused.status_code, refused.json()["error"]["code"]) == (409, "another_job"), path
    assert other.get("/api/job").json()["data_version"] == version
    assert one.post("/api/events", json=event(), headers=meant).json()["results"][0]["outcome"] == "stored"
    # a phone of version 0.1.0, or a program, names no job
    assert other.post("/api/events", json=event()).json()["results"][0]["outcome"] == "stored"


def test_every_operation_says_that_it_may_refuse_what_is_meant_for_another_job(
    two: tuple[TestClient, TestClient],
) -> None:
    document = two[0].get("/openapi.json").json()
    assert "Linemap-Job" in document["info"]["description"]
    for path, operations in document["paths"].items():
        assert all("409" in operation["responses"] for operation in operations.values()), path


def test_a_session_of_version_0_1_0_goes_on_and_ends(two: tuple[TestClient, TestClient]) -> None:
    application = two[0].app
    database = application.state.database  # type: ignore[attr-defined]
    code = add_person(database, name="Ada", role=Role.CREW, device="phone", now=dt.datetime.now(dt.UTC))
    address = {"base_url": "https://linemap.test", "headers": {"origin": "https://linemap.test"}}
    phone = TestClient(application, **address)  # type: ignore[arg-type]
    phone.post("/api/session", json={"code": code})
    token = phone.cookies[cookie_name(application.state.identity)]  # type: ignore[attr-defined]
    older = TestClient(application, cookies={"linemap_session": token}, **address)  # type: ignore[arg-type]
    assert older.get("/api/session").json()["name"] == "Ada"
    ended = older.delete("/api/session")
    assert ended.status_code == 204
    assert ended.headers["set-cookie"].startswith('linemap_session=""')
    assert phone.get("/api/session").json()["signed_in"] is False
