"""Answers of the line's routes: models, columns, ETags, errors."""

from __future__ import annotations

import gzip
from itertools import accumulate
from pathlib import Path

import pytest
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.line import Centrelines, FeatureCollection, Job, Places, Structures
from linemap.answers.panel import Panel
from linemap.settings import Settings
from linemap.web.app import create_app

Key = dict[str, list[dict[str, str]]]


def test_job_head(client: TestClient) -> None:
    job = read_answer(Job, client.get("/api/job").json())
    assert job.as_of == "2026-05-15"
    assert job.lines[0].structure_count == 121
    assert (job.lines[0].back_end, job.lines[0].ahead_end) == ("Brindle Gap", "Amber Sill")
    assert sum(job.counts["verdict"].values()) == 121
    assert job.counts["stage"]["set"] + job.counts["stage"]["inspected"] == 59


def test_a_place_is_found_by_any_usual_writing(client: TestClient) -> None:
    def ask(text: str) -> Places:
        return read_answer(Places, client.get("/api/place", params={"text": text}).json())

    (named,) = ask("12-3").places
    assert (named.read_as, named.structure) == ("structure", "12/3")
    assert named.words.startswith("structure 12/3: 612+40.00 (R2), on line")
    for text in (
        f"{named.northing} N {named.easting} E",
        f"{named.easting}, {named.northing}",
        f"{named.latitude}, {named.longitude}",
    ):
        (found,) = ask(text).places
        assert (found.longitude, found.latitude) == pytest.approx((named.longitude, named.latitude), abs=2e-8)
        assert found.on_lines[0].station_text == "612+40.00 (R2)"
    assert [each.on_lines[0].region for each in ask("953+30").places] == [2, 3]
    assert ask("471+00").places == []
    assert "lies in its gap" in ask("471+00").none
    assert client.get("/api/place", params={"text": "x" * 121}).status_code == 422


def test_the_servers_tiles_lie_under_the_job_at_any_time(demo_job: Path) -> None:
    settings = Settings(job=str(demo_job), tile_url="https://tiles.invalid/{z}", tile_attribution="Atlas")
    with TestClient(create_app(settings), client=("127.0.0.1", 50000)) as here:
        for days in ({}, {"as_of": "2026-05-10"}):
            job = read_answer(Job, here.get("/api/job", params=days).json())
            assert (job.tile_url, job.tile_attribution) == ("https://tiles.invalid/{z}", "Atlas"), days


def test_structures_are_columns_of_one_length(client: TestClient, key: Key) -> None:
    body = client.get("/api/structures").json()
    found = read_answer(Structures, body)
    columns = {name: column for name, column in body.items() if isinstance(column, list) and name != "types"}
    assert columns["mile"][:2] == [1, 1]
    assert {len(column) for column in columns.values()} == {121}
    assert found.number == [row["structure"] for row in key["structures"]]
    # revision C moved 15/2 8 ft ahead of the station the key has for revision B
    stations = {row["structure"]: row["station"] for row in key["structures"]} | {"15/2": "757+04.25"}
    assert found.station_text == list(stations.values())
    longitude = [value / found.scale for value in accumulate(found.lon)]
    first = key["centreline"][0]
    assert longitude[0] == pytest.approx(float(first["longitude"]), abs=6e-6)
    assert len(found.set.index) == len(found.set.a) == len(found.set.b) == len(found.set.c)


def test_centreline_ticks_follow_the_station_equations(client: TestClient) -> None:
    lines = read_answer(Centrelines, client.get("/api/centreline").json()).lines
    # 11 PIs and a point every 500 m of 35.9 km between
    assert len(lines[0].lon) == 11 + 71
    texts = [tick.text for tick in lines[0].ticks]
    assert texts[0] == "0+00"
    # the gap 470+00 Bk = 473+84.50 Ah leaves no station 471+00 to 473+84; 470+00 itself is the back station
    assert texts.count("470+00") == 1
    assert texts.count("480+00") == 1
    assert [tick.region for tick in lines[0].ticks] == sorted(tick.region for tick in lines[0].ticks)


def test_context_leaves_restricted_features_out(client: TestClient) -> None:
    collection = read_answer(FeatureCollection, client.get("/api/context").json())
    layers = {feature.properties["layer"] for feature in collection.features}
    assert {"road", "river", "access", "gate"} <= layers
    assert not layers & {"nest", "cultural", "restricted"}


def test_panel_of_an_angle_structure(client: TestClient) -> None:
    panel = read_answer(Panel, client.get("/api/structure", params={"number": "5/5"}).json())
    assert panel.deflection_text == "18°45'10\" L"
    assert (panel.back, panel.ahead) == ("5/4", "6/1")
    assert panel.verdict == "fail"
    assert [pole.letter for pole in panel.poles] == ["A", "B", "C"]
    assert "pole A is on your left" in panel.landmark
    assert panel.sketch_svg.startswith("<svg")


def test_panel_tells_what_a_revision_changed(client: TestClient) -> None:
    panel = read_answer(Panel, client.get("/api/structure", params={"number": "20/6"}).json())
    assert "Rev C: pole A class 2 -> 1" in panel.changes
    assert "Rev C: pole B class 2 -> 1" in panel.changes


def test_panel_of_a_held_structure_keeps_a_restricted_reason_to_itself(client: TestClient) -> None:
    answer = client.get("/api/structure", params={"number": "14/2"})
    panel = read_answer(Panel, answer.json())
    assert panel.holds[0].kind == "hold"
    assert "nest" not in answer.text.casefold()


@pytest.mark.parametrize("path", ["/api/job", "/api/structures", "/api/centreline", "/api/context"])
def test_answers_are_revalidated_and_packed(client: TestClient, path: str) -> None:
    first = client.get(path, headers={"accept-encoding": "identity"})
    assert first.headers["etag"]
    again = client.get(path, headers={"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    with client.stream("GET", path, headers={"accept-encoding": "gzip"}) as packed:
        raw = b"".join(packed.iter_raw())
    if packed.headers.get("content-encoding") == "gzip":
        raw = gzip.decompress(raw)
    assert raw == first.content


@pytest.mark.parametrize(
    ("path", "status", "code"),
    [
        ("/api/structure?number=99/9", 404, "not_found"),
        ("/api/structure?number=9/2&line=Nowhere", 404, "not_found"),
        ("/api/structure", 422, "invalid_request"),
        ("/api/structure?number=" + "9" * 41, 422, "invalid_request"),
        ("/api/nothing", 404, "not_found"),
        ("/static/../app.py", 404, "not_found"),
    ],
)
def test_errors_have_one_shape(client: TestClient, path: str, status: int, code: str) -> None:
    answer = client.get(path)
    assert answer.status_code == status
    assert answer.json()["error"]["code"] == code
    assert set(answer.json()["error"]) == {"code", "message", "where"}


def test_a_method_that_is_not_served_is_refused(client: TestClient) -> None:
    answer = client.delete("/api/job", headers={"sec-fetch-site": "same-origin"})
    assert (answer.status_code, answer.json()["error"]["code"]) == (405, "method_not_allowed")
