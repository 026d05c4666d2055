"""The surveyor's answers over HTTP: what is shown, how decisions are taken, who may send them."""

from __future__ import annotations

import datetime as dt
import shutil
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.survey import DecisionAnswer, Survey
from linemap.settings import Settings
from linemap.web.app import create_app

FOOT = {"cause": "foot definition", "subject": "file shots_2026-04-29.csv"}
FOUR = ["7/1", "7/2", "7/5", "7/6"]
HERE = {"sec-fetch-site": "same-origin"}


def application(job: Path) -> FastAPI:
    return create_app(Settings(job=str(job)), today=lambda: dt.date(2026, 5, 16))


@pytest.fixture
def own(demo_job: Path, tmp_path: Path) -> Iterator[TestClient]:
    """A client over a copy of the demo job that a test may change."""
    job = shutil.copy(demo_job, tmp_path / "demo.linemap")
    with TestClient(application(Path(job)), raise_server_exceptions=False, headers=HERE) as opened:
        yield opened


def asked(client: TestClient, **other: Any) -> dict[str, Any]:
    """Return the acceptance of the foot cause, with what is given put over it."""
    line = client.get("/api/job").json()["lines"][0]["name"]
    answer = {"id": str(uuid.uuid4()), **FOOT, "line": line, "answer": "accepted", "who": "P. Chief"}
    return {**answer, "note": "controller was set to US feet", **other}


def survey(client: TestClient) -> Survey:
    return read_answer(Survey, client.get("/api/survey").json())


def test_one_cause_once_however_many_structures(client: TestClient) -> None:
    found = survey(client)
    (foot,) = [index for index, cause in enumerate(found.causes) if cause.code == FOOT["cause"]]
    assert found.causes[foot].structures == FOUR
    assert found.causes[foot].correctable
    assert [row.structure for row in found.exceptions if row.cause == foot] == FOUR
    assert [cause.cost_rank for cause in found.causes] == sorted(cause.cost_rank for cause in found.causes)
    row = next(row for row in found.exceptions if row.structure == "7/1")
    assert [(shot.file, shot.row) for shot in row.shots] == [
        (FOOT["subject"][5:], 1),
        (FOOT["subject"][5:], 2),
    ]
    assert (found.declared.crs, found.declared.unit, found.declared.missing) == (
        "EPSG:6515",
        "international foot",
        [],
    )


def test_accepting_turns_four_to_pass_and_withdrawing_turns_them_back(own: TestClient) -> None:
    before = survey(own)
    answer = own.post("/api/decisions", json=asked(own))
    assert answer.status_code == 201
    told = read_answer(DecisionAnswer, answer.json())
    assert [(each.structure, each.before, each.after) for each in told.changed] == [
        (number, "fail", "pass") for number in FOUR
    ]
    assert told.after["pass"] == told.before["pass"] + 4
    after = survey(own)
    assert FOOT["cause"] not in [cause.code for cause in after.causes]
    (settled,) = after.settled
    assert settled.structures == FOUR
    assert "1.000002" in settled.words
    withdrawn = own.post("/api/decisions", json=asked(own, answer="withdrawn", note="wrong file"))
    assert withdrawn.json()["after"] == told.before
    undone = survey(own)
    assert (undone.causes, undone.exceptions) == (before.causes, before.exceptions)
    assert [(each.answer, each.who) for each in undone.history] == [
        ("accepted", "P. Chief"),
        ("withdrawn", "P. Chief"),
    ]


def test_sending_twice_records_once(own: TestClient) -> None:
    once = asked(own)
    statuses = [own.post("/api/decisions", json=once).status_code for _ in range(2)]
    assert statuses == [201, 200]
    assert len(survey(own).history) == 1
    other = own.post("/api/decisions", json={**once, "note": "something else"})
    assert (other.status_code, other.json()["error"]["code"]) == (409, "conflict")


def test_a_cause_accepted_is_not_accepted_over_itself(own: TestClient) -> None:
    """Two corrections of one file would scale it twice."""
    assert own.post("/api/decisions", json=asked(own)).status_code == 201
    assert own.post("/api/decisions", json=asked(own)).status_code == 404
    kept = {"cause": "offset stake", "subject": "structure 4/2"}
    assert own.post("/api/decisions", json=asked(own, **kept)).status_code == 201
    again = own.post("/api/decisions", json=asked(own, **kept))
    assert again.status_code == 409
    assert "withdraw that first" in again.json()["error"]["message"]


def test_the_correction_is_the_servers_own(own: TestClient) -> None:
    forged = asked(own, correction={"kind": "drop", "file": "shots_2026-05-13.csv", "rows": [1]})
    assert own.post("/api/decisions", json=forged).status_code == 422
    assert survey(own).history == []


def test_labels_are_not_exchanged_without_second_evidence(own: TestClient) -> None:
    reversed_one = {"cause": "reversed single", "subject": "structure 2/3"}
    bare = own.post("/api/decisions", json=asked(own, **reversed_one, note=" "))
    assert bare.status_code == 422
    assert "second evidence" in bare.json()["error"]["message"]
    named = own.post("/api/decisions", json=asked(own, **reversed_one, note="photo: ground wire on the left"))
    assert [each["after"] for each in named.json()["changed"]] == ["pass"]


@pytest.mark.parametrize("answer", ["rejected", "needs evidence"])
def test_other_answers_stand_without_a_correction(own: TestClient, answer: str) -> None:
    told = own.post(
        "/api/decisions", json=asked(own, cause="offset stake", subject="structure 4/2", answer=answer)
    )
    assert (told.status_code, told.json()["changed"]) == (201, [])
    (stood,) = [cause for cause in survey(own).causes if cause.subject == "structure 4/2"]
    assert stood.decision is not None
    assert stood.decision.answer == answer


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"cause": "sunspots"}, 404),
        ({"subject": "file other.csv"}, 404),
        ({"answer": "withdrawn"}, 404),
        ({"answer": "maybe"}, 422),
        ({"who": "  "}, 422),
        ({"id": "7"}, 422),
        ({"note": "n" * 2001}, 422),
    ],
)
def test_what_is_no_decision_is_refused(own: TestClient, change: dict[str, str], status: int) -> None:
    answer = own.post("/api/decisions", json=asked(own, **change))
    assert answer.status_code == status
    assert set(answer.json()["error"]) == {"code", "message", "where"}
    assert survey(own).history == []


def test_hostile_texts_come_back_as_they_were_and_run_nowhere(own: TestClient) -> None:
    who = "</script><img src=x onerror=alert(1)>"
    assert own.post("/api/decisions", json=asked(own, who=who)).status_code == 201
    assert survey(own).history[0].who == who
    assert "<img" not in own.get("/survey").text


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"sec-fetch-site": "same-origin"}, 404),
        ({"sec-fetch-site": "none"}, 404),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"sec-fetch-site": "cross-site", "origin": "http://testserver"}, 403),
        ({"origin": "http://testserver"}, 404),
        ({"origin": "http://testserver.invalid"}, 403),
        ({"origin": "null"}, 403),
        ({}, 403),
    ],
)
def test_changes_come_from_this_server_only(demo_job: Path, headers: dict[str, str], status: int) -> None:
    body = {"id": str(uuid.uuid4()), "cause": "sunspots", "subject": "x", "answer": "accepted", "who": "P"}
    with TestClient(application(demo_job)) as client:
        answer = client.post("/api/decisions", json=body, headers=headers)
    assert answer.status_code == status
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")
    if status == 403:
        assert answer.json()["error"]["code"] == "other_origin"


@pytest.mark.parametrize(("host", "status"), [("127.0.0.1", 404), ("::1", 404), ("192.0.2.7", 403)])
def test_a_program_sends_from_this_machine_only(demo_job: Path, host: str, status: int) -> None:
    body = {"id": str(uuid.uuid4()), "cause": "sunspots", "subject": "x", "answer": "accepted", "who": "P"}
    with TestClient(application(demo_job), client=(host, 50_000)) as client:
        assert client.post("/api/decisions", json=body).status_code == status


def test_a_large_request_is_refused_whether_it_says_so_or_not(own: TestClient) -> None:
    def pieces() -> Iterator[bytes]:
        for _ in range(66):
            yield b" " * 1024

    for content in (b" " * (64 * 1024 + 1), pieces()):
        answer = own.post("/api/decisions", content=content, headers={"content-type": "application/json"})
        assert (answer.status_code, answer.json()["error"]["code"]) == (413, "too_large")
    padded = b" " * (60 * 1024) + b"{}"
    assert own.post("/api/decisions", content=padded).status_code == 422


def test_survey_is_revalidated_until_something_changes(own: TestClient) -> None:
    tag = own.get("/api/survey").headers["etag"]
    assert own.get("/api/survey", headers={"if-none-match": tag}).status_code == 304
    own.post("/api/decisions", json=asked(own))
    assert own.get("/api/survey", headers={"if-none-match": tag}).status_code == 200


@pytest.mark.parametrize(
    ("path", "kind", "start"),
    [
        ("/api/red-marks.xlsx", "spreadsheetml.sheet", b"PK"),
        ("/api/package.zip?paper=a4", "zip", b"PK"),
        ("/api/red-marks.pdf", "pdf", b"%PDF-"),
        ("/api/red-marks.pdf?paper=a4&mile=3&as_of=2026-05-14", "pdf", b"%PDF-"),
    ],
)
def test_red_marks_are_sent_as_files(client: TestClient, path: str, kind: str, start: bytes) -> None:
    answer = client.get(path)
    assert answer.status_code == 200
    assert answer.headers["content-type"].endswith(kind)
    assert answer.headers["content-disposition"].startswith("attachment;")
    assert answer.content.startswith(start)


def test_no_other_paper_is_made(client: TestClient) -> None:
    assert client.get("/api/red-marks.pdf?paper=a3").status_code == 422


@pytest.mark.parametrize("path", ["/survey", "/files"])
def test_pages_hold_nothing_inline(client: TestClient, path: str) -> None:
    text = client.get(path).text
    assert "<style" not in text
    assert "style=" not in text
    assert " on" not in [piece[:3] for piece in text.split("<")[1:]]
    scripts = [piece.partition(">") for piece in text.split("<script")[1:]]
    assert [rest.startswith("</script>") for _, _, rest in scripts] == [True] * len(scripts)
    assert text.count('<script type="module" src="/static/js/') == 1
