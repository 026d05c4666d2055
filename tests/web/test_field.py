"""The addresses a phone asks: the shell and its worker, the index, the miles."""

from __future__ import annotations

import datetime as dt
import gzip
import re
from pathlib import Path

import orjson
from fastapi import FastAPI
from starlette.testclient import TestClient

from linemap.service.demo import build_demo
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.store.job import change_settings
from linemap.web.app import create_app
from linemap.web.page import STATIC
from linemap.web.routes.field import shell_addresses


def test_shell_holds_nothing_of_the_job_and_nothing_inline(client: TestClient) -> None:
    page = client.get("/field")
    assert page.status_code == 200
    assert "Brindle Gap" not in page.text
    assert "style=" not in page.text
    assert re.findall(r"<script(?![^>]*src=)", page.text) == []
    assert re.findall(r"\bon[a-z]+=", page.text) == []


def test_worker_keeps_every_file_of_the_page_and_all_of_them_are_served(
    client: TestClient, application: FastAPI
) -> None:
    worker = client.get("/sw.js")
    assert worker.headers["content-type"].startswith("text/javascript")
    assert worker.headers["service-worker-allowed"] == "/"
    version = application.state.asset_version
    assert worker.text.startswith(f'const VERSION = "{application.state.identity}-{version}";')
    files = orjson.loads(worker.text.splitlines()[1].removeprefix("const FILES = ").removesuffix(";"))
    assert files == shell_addresses(version)
    assert all(client.get(address).status_code == 200 for address in files)


def test_every_module_the_page_imports_is_kept(application: FastAPI) -> None:
    kept = {address.split("?")[0] for address in shell_addresses(application.state.asset_version)}
    for path in (STATIC / "js" / "field").glob("*.js"):
        if path.name == "sw.js":
            continue
        for imported in re.findall(r'from "([^"]+)"', path.read_text(encoding="utf-8")):
            found = (path.parent / imported).resolve().relative_to(STATIC.resolve()).as_posix()
            assert f"/static/{found}" in kept


def test_manifest_and_its_signs(client: TestClient) -> None:
    answer = client.get("/manifest.webmanifest")
    assert answer.headers["content-type"].startswith("application/manifest+json")
    manifest = answer.json()
    assert manifest["start_url"] == "/field"
    for sign in manifest["icons"]:
        picture = client.get(sign["src"])
        assert picture.headers["content-type"] == "image/png"
        assert picture.content[16:24] == bytes.fromhex(f"{int(sign['sizes'].split('x')[0]):08x}" * 2)
    assert client.get("/icon-333.png").status_code == 422


def test_sizes_of_the_index_are_what_travels(client: TestClient) -> None:
    index = client.get("/api/field/index").json()
    line = index["lines"][0]
    assert sum(entry["structures"] for entry in line["miles"]) == 121
    for entry in line["miles"][:3]:
        with client.stream(
            "GET", "/api/field/mile", params={"mile": entry["mile"], "line": line["name"]}
        ) as answer:
            raw = b"".join(answer.iter_raw())
        assert len(raw) == entry["bytes"]
        assert orjson.loads(gzip.decompress(raw))["version"] == entry["version"]
        assert answer.headers["etag"] == f'"{entry["version"]}"'


def test_index_has_the_servers_clock_and_is_never_kept(client: TestClient) -> None:
    answer = client.get("/api/field/index")
    assert answer.headers["cache-control"] == "no-store"
    now = dt.datetime.fromisoformat(answer.json()["server_time"])
    assert abs(dt.datetime.now(dt.UTC) - now) < dt.timedelta(seconds=30)
    assert answer.json()["stale_after_hours"] == 24.0
    assert answer.json()["wind_limit_mph"] is None


def test_known_mile_is_not_sent_again(client: TestClient) -> None:
    first = client.get("/api/field/mile", params={"mile": 9})
    again = client.get(
        "/api/field/mile", params={"mile": 9}, headers={"if-none-match": first.headers["etag"]}
    )
    assert again.status_code == 304
    assert again.content == b""


def test_plans_that_cards_name_are_sent_once(client: TestClient) -> None:
    index = client.get("/api/field/index").json()
    answer = client.get("/api/field/check_plans")
    assert answer.json()["version"] == index["check_plans"]
    cards = client.get("/api/field/mile", params={"mile": 9}).json()["structures"]
    assert {card["tape"]["plan"] for card in cards} <= set(answer.json()["plans"])
    again = client.get("/api/field/check_plans", headers={"if-none-match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_unknown_miles_and_lines_are_said(client: TestClient) -> None:
    for asked in ({"mile": 99}, {"mile": 9, "line": "Nowhere"}):
        answer = client.get("/api/field/mile", params=asked)
        assert answer.status_code == 404
        assert "/api/field/index" in answer.json()["error"]["message"]
    assert client.get("/api/field/mile").status_code == 422
    assert client.get("/api/field/mile", params={"mile": -1}).status_code == 422


def test_limits_of_this_server_and_job_reach_the_phone(tmp_path: Path) -> None:
    job = build_demo(tmp_path, now=dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)).job
    with open_job(job) as database, database.writing() as connection:
        change_settings(connection, {"wind_limit_mph": 30})
    app = create_app(Settings(job=str(job), stale_after_hours=6.0), today=lambda: dt.date(2026, 5, 16))
    with TestClient(app) as opened:
        index = opened.get("/api/field/index").json()
    assert (index["stale_after_hours"], index["wind_limit_mph"]) == (6.0, 30.0)
