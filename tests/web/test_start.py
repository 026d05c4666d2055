"""Where there is no job yet: a person at the machine makes one, or opens one of a folder."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from linemap.service.job.job import create_job
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.store.job import load_job
from linemap.web.start import StartOrJob

HERE = "http://127.0.0.1:8765"
NOW = dt.datetime(2026, 5, 16, 8, tzinfo=dt.UTC)


def client_of(place: Path) -> TestClient:
    app = StartOrJob(Settings(job=str(place)), now=lambda: NOW)
    return TestClient(app, base_url=HERE, headers={"origin": HERE}, follow_redirects=False)


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_of(tmp_path / "north.linemap") as opened:
        yield opened


def bring(client: TestClient, name: str, text: str) -> None:
    answer = client.put(f"/api/proposals/new/files/{name}", content=text.encode())
    assert answer.status_code == 200, answer.text


def look(client: TestClient, crs: str = "", **kinds: str) -> Any:
    client.post("/api/start/look", json={"crs": crs, "kinds": kinds})
    for _ in range(600):
        looked = client.get("/api/start/look").json()
        if looked["state"] == "ready":
            return looked
        time.sleep(0.05)
    raise AssertionError("the files are still being read")


def make(client: TestClient, **declared: str) -> Any:
    return client.post("/api/start", json={"declared": declared, "who": "Ada Marrow"})


def test_every_page_leads_to_the_one_there_is(client: TestClient) -> None:
    assert client.get("/").status_code == 200
    assert client.get("/survey").headers["location"] == "/"
    assert client.get("/api/job").json()["error"]["message"] == "there is no job yet: make one at /"
    assert client.get("/health").json()["waits"] == ["job"]
    assert "Settings" not in client.get("/").text


def test_files_are_read_and_drawn_before_there_is_a_job(client: TestClient, tmp_path: Path) -> None:
    bring(client, "structures.csv", "structure,easting,northing\n1,2250000,900000\n2,2250500,900000\n")
    bring(client, "points.csv", "point,easting,northing\nP1,2250000,900000\nP2,2250900,900000\n")
    bring(client, "photo.jpg", "no list")
    bring(client, "empty.csv", "")
    looked = look(client)
    files = {each["name"]: each for each in looked["files"]}
    assert (files["structures.csv"]["kind"], files["structures.csv"]["rows_used"]) == ("structures", 2)
    assert files["points.csv"]["may_be"] == ["centreline", "structures", "shots"]
    assert [files[name]["problems"][0]["reason"] for name in ("photo.jpg", "empty.csv")] == [
        "files of this kind are not read",
        "the file is empty",
    ]
    drawn = {each["name"]: each for each in looked["drawn"]}
    assert drawn["structures.csv"]["places"] == [["1", [2250000.0, 900000.0]], ["2", [2250500.0, 900000.0]]]
    assert (drawn["points.csv"]["lines"], looked["unit"], looked["where"]) == ([], "", [])
    client.delete("/api/proposals/new/files/photo.jpg")
    looked = look(client, "EPSG:6515", **{"points.csv": "centreline"})
    assert [each["name"] for each in looked["files"]] == ["empty.csv", "points.csv", "structures.csv"]
    assert looked["drawn"][0]["lines"] == [[[2250000.0, 900000.0], [2250900.0, 900000.0]]]
    assert looked["where"][0].startswith("46.7131° N, 108.3762° W in NAD83(2011) / Montana (ft)")
    assert not (tmp_path / "north.linemap").exists(), "nothing is stored"


def test_a_file_left_out_while_it_is_read_is_in_nothing_that_is_found(client: TestClient) -> None:
    heads = "structure,easting,northing\n"
    bring(client, "large.csv", heads + "".join(f"{k},{k},{k}\n" for k in range(200_000)))
    bring(client, "structures.csv", f"{heads}1,2250000,900000\n")
    begun = client.post("/api/start/look", json={})
    assert (begun.status_code, begun.json()["state"]) == (202, "reading")
    client.delete("/api/proposals/new/files/large.csv")
    assert client.get("/api/start/look").json()["files"] == []
    assert [each["name"] for each in look(client)["files"]] == ["structures.csv"]


def test_a_reference_is_found_by_its_name_and_says_where_it_puts_the_files(client: TestClient) -> None:
    ask = {"words": "montana 2011 ft"}
    (found,) = client.get("/api/references", params=ask).json()
    assert found == {"crs": "EPSG:6515", "name": "NAD83(2011) / Montana (ft), foot", "lies": ""}
    assert client.get("/api/references", params={"words": "nowhere at all"}).json() == []
    bring(client, "structures.csv", "structure,easting,northing\n1,2250000,900000\n")
    look(client)
    (found,) = client.get("/api/references", params=ask).json()
    assert found["lies"] == "46.7131° N, 108.3772° W, within its area of use"
    (metres,) = client.get("/api/references", params={"words": "EPSG:6514 2011"}).json()
    assert metres["lies"].endswith(", outside its area of use")


def test_the_job_is_made_with_what_is_declared_and_its_files_wait_in_it(
    client: TestClient, tmp_path: Path
) -> None:
    bring(client, "structures.csv", "structure,easting,northing\n1,1000,1000\n")
    wrong = make(client, crs="EPSG:4326", pole_a="up")
    assert (wrong.status_code, wrong.json()["error"]["where"]) == (422, "crs;pole_a")
    assert make(client, name="North").json()["error"]["where"] == "crs"
    assert not (tmp_path / "north.linemap").exists()
    made = make(client, name="North rebuild", crs="EPSG:6515", base_point="none")
    assert made.status_code == 201
    assert client.get("/api/job").json()["name"] == "North rebuild", "it is served now"
    proposal = client.get(f"/api/proposals/{made.json()['proposal']}").json()
    assert (proposal["who"], proposal["state"]) == ("Ada Marrow", "waiting")
    with open_job(str(tmp_path / "north.linemap")) as database, database.reading() as connection:
        stamp = load_job(connection).settings["stamps"]["base_point"]
    assert stamp["who"] == "Ada Marrow"
    assert make(client, crs="EPSG:6515").status_code == 404, "the page is gone"


def test_a_folder_offers_its_jobs_and_names_a_new_one_after_itself(tmp_path: Path) -> None:
    create_job(str(tmp_path / "old.linemap"), {"crs": "EPSG:6515", "name": "Old"}, now=NOW)
    with client_of(tmp_path) as client:
        assert client.get("/api/start").json()["jobs"] == ["old.linemap"]
        assert client.post("/api/start/open", json={"job": "../old.linemap"}).status_code == 404
        assert make(client, crs="EPSG:6515").json()["error"]["code"] == "input_refused"
        made = make(client, crs="EPSG:6515", name="South / rebuild")
        assert made.json()["name"] == "South rebuild.linemap"
    with client_of(tmp_path) as client:
        assert client.get("/api/start").json()["jobs"] == ["South rebuild.linemap", "old.linemap"]
        assert client.post("/api/start/open", json={"job": "old.linemap"}).status_code == 200
        assert client.get("/api/job").json()["name"] == "Old"


def test_nobody_else_makes_a_job(client: TestClient) -> None:
    for headers in ({"host": "linemap.example"}, {"x-forwarded-for": "203.0.113.9"}):
        assert client.get("/api/start", headers=headers).status_code == 403
    elsewhere = client.post(
        "/api/start", json={"declared": {}, "who": "E"}, headers={"origin": "http://evil"}
    )
    assert elsewhere.status_code == 403
