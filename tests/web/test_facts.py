"""One thing seen at a structure, over HTTP: what it changes, who may, and every refusal."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.survey import FactAnswer
from linemap.settings import Settings
from linemap.web.app import create_app

HERE = {"sec-fetch-site": "same-origin"}
NOW = dt.datetime(2026, 5, 16, 8, tzinfo=dt.UTC)
PLUMB = {
    "what": "plumb",
    "pole": "A",
    "lower_height": 0.0,
    "lower_along": 0.0,
    "lower_across": 0.0,
    "upper_height": 60.0,
    "upper_along": 1.4,
    "upper_across": 0.0,
    "pole_height": 61.0,
}


@pytest.fixture
def own(demo_job: Path, tmp_path: Path) -> Iterator[TestClient]:
    """A client over a copy of the demo job that a test may change."""
    job = Path(shutil.copy(demo_job, tmp_path / "demo.linemap"))
    application = create_app(Settings(job=str(job)), today=NOW.date, now=lambda: NOW)
    with TestClient(application, raise_server_exceptions=False, headers=HERE) as opened:
        yield opened


def seen(**other: Any) -> dict[str, Any]:
    given = {"structure": "2/3", "what": "ground wire", "pole": "A", "pointed_by": "place", "who": "P. Chief"}
    return {**given, "at": "2026-05-15T09:12:00-06:00", **other}


def panel(client: TestClient, number: str) -> dict[str, Any]:
    found: dict[str, Any] = client.get("/api/structure", params={"number": number}).json()
    return found


def test_the_ground_wire_decides_what_the_coordinates_cannot(own: TestClient) -> None:
    """2/3 has equal legs and exchanged shots; the pole scheduled for the wire stands in its place."""
    before = panel(own, "2/3")
    assert before["second_evidence"]["conclusion"] == "still open"
    carrier = next(pole["letter"] for pole in before["poles"] if pole["ground_wire"])
    answer = own.post("/api/facts", json=seen(pole=carrier))
    assert answer.status_code == 201, answer.text
    told = read_answer(FactAnswer, answer.json())
    assert (told.recorded, told.counted) == (True, True)
    assert told.changes[0].startswith("second evidence: labels reversed")
    assert "before: still open" in told.changes[0]
    assert told.changes[1].startswith("the verdict on positions stays with the shots: ")
    after = panel(own, "2/3")["second_evidence"]
    assert after["conclusion"] == "labels reversed"
    assert "(P. Chief, 2026-05-15, seen 09:12 (UTC-06:00))" in after["reasons"][-1]


def test_the_same_fact_again_is_recorded_once(own: TestClient) -> None:
    assert own.post("/api/facts", json=seen()).status_code == 201
    again = own.post("/api/facts", json=seen())
    assert again.status_code == 200
    assert not read_answer(FactAnswer, again.json()).recorded


def test_a_plumb_reading_is_judged_and_shown_with_person_and_time(own: TestClient) -> None:
    answer = own.post(
        "/api/facts", json={**PLUMB, "structure": "9/1", "who": "Insp. Reed", "at": seen()["at"]}
    )
    assert answer.status_code == 201, answer.text
    assert answer.json()["changes"][0].startswith("pole A: leans 2.8 in per 10 ft")
    reading = panel(own, "9/1")["plumb"][-1]
    assert (reading["what"], reading["verdict"]) == ("pole A", "fail")
    assert reading["seen"] == "Insp. Reed, 2026-05-15, seen 09:12 (UTC-06:00)"


def test_what_was_seen_after_the_day_shown_is_kept_and_not_counted(own: TestClient) -> None:
    answer = own.post("/api/facts", json=seen(at="2026-05-16T07:00:00+00:00"))
    assert answer.status_code == 201
    assert answer.json()["counted"] is False
    assert "shown as of 2026-05-15" in answer.json()["changes"][0]


@pytest.mark.parametrize(
    ("other", "status", "words"),
    [
        ({"structure": "2/99"}, 404, "no structure 2/99"),
        ({"pole": "C"}, 422, "is no pole of 2/3"),
        ({"pole": ""}, 422, "needs pole"),
        ({"pointed_by": ""}, 422, "needs pointed by"),
        ({"face": "back"}, 422, "does not belong to ground wire"),
        ({"at": "2026-05-17T09:12:00-06:00"}, 422, "lies ahead of the job's clock"),
        ({"at": "2026-05-15T09:12:00"}, 422, ""),
        ({"who": " "}, 422, ""),
        ({"what": "moonlight"}, 422, ""),
        ({**PLUMB, "pointed_by": "", "upper_height": 0.0}, 422, ""),
        ({**PLUMB, "pointed_by": "", "upper_height": float("1e9")}, 422, ""),
    ],
)
def test_refusals_record_nothing(own: TestClient, other: dict[str, Any], status: int, words: str) -> None:
    version = own.get("/api/job").json()["data_version"]
    answer = own.post("/api/facts", json=seen(**other))
    assert answer.status_code == status, answer.text
    assert words in answer.json()["error"]["message"]
    assert own.get("/api/job").json()["data_version"] == version
