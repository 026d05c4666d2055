"""Crew checks on record: judged by the job, shown as what they are, compared with the survey, asked for."""

from __future__ import annotations

import datetime as dt
import io
import re
import uuid
from typing import Any

import numpy as np
import pytest
from pypdf import PdfReader
from rover_checks import check_at
from starlette.testclient import TestClient

from linemap.domain.crew_check.frame import FrameDesign
from linemap.service.job.job import declare
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database

LINE = "Brindle Gap - Amber Sill 115 kV"
RNG = np.random.default_rng(20_261_130)
#: Framed, not set, not surveyed on the invented line.
OPEN = "13/4"


def post(phone: TestClient, structure: str, content: dict[str, Any], **changed: Any) -> dict[str, Any]:
    event = {
        "id": str(uuid.uuid4()), "line": LINE, "structure": structure, "what": "check", "content": content,
        "happened_at": "2026-05-14T10:00:00-06:00", "crew": "Heron", "actor": "J. Ode", **changed,
    }  # fmt: skip
    sent = {"sent_at": "2026-05-15T12:00:00-06:00", "events": [event]}
    (result,) = phone.post("/api/events", json=sent).json()["results"]
    return {"id": event["id"], **result}


def panel(phone: TestClient, number: str) -> dict[str, Any]:
    found: dict[str, Any] = phone.get("/api/structure", params={"line": LINE, "number": number}).json()
    return found


def turned(view: JobView, row: int, degrees: float) -> np.ndarray[Any, Any]:
    """Return the poles of a frame turned clockwise."""
    design = FrameDesign.of(view.figures, row, view.tolerances)
    assert design is not None
    angle = np.radians(degrees)
    return design.poles @ np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


@pytest.fixture
def view(phone: TestClient) -> JobView:
    database: Database = phone.app.state.database  # type: ignore[attr-defined]
    return build_view(database, today=dt.date(2026, 5, 16))


def test_a_check_that_passes_is_shown_as_a_crew_check_and_never_as_a_verdict(
    phone: TestClient, view: JobView
) -> None:
    before = panel(phone, OPEN)
    result = post(phone, OPEN, check_at(view, view.row(LINE, OPEN), RNG))
    assert (result["outcome"], result["findings"]) == ("stored", [])
    shown = panel(phone, OPEN)
    (check,) = shown["crew_checks"]
    assert (check["method"], check["verdict"], check["survey"]) == ("rover", "pass", "")
    assert check["words"].startswith("crew check by rover, 14 May 2026, Heron: passes; arm turned 0.")
    assert check["words"].endswith("a crew's own check, no survey")
    assert shown["verdict"] == before["verdict"] == "not surveyed"
    assert shown["look_first"] == before["look_first"]
    assert "crew check by rover, the phone found: pass by Heron" in shown["history"][-1]["text"]
    progress = phone.get("/api/progress").json()["crew_checks"]
    assert progress["newest"] == [{"words": "crew check: pass", "list": [{"line": LINE, "number": OPEN}]}]
    assert progress["precision"] == []


def test_a_failed_check_stands_first_with_what_to_move_until_one_passes(
    phone: TestClient, view: JobView
) -> None:
    row = view.row(LINE, OPEN)
    post(phone, OPEN, check_at(view, row, RNG, poles=turned(view, row, 4.0)))
    (first,) = [each for each in panel(phone, OPEN)["look_first"] if each["code"] == "crew check"]
    assert (first["severity"], first["asks"]) == ("wrong", "crew")
    assert re.search(r"fails; arm turned [34]\.\d° clockwise", first["words"])
    assert "to put it right move " in first["words"]
    later = {"happened_at": "2026-05-14T12:00:00-06:00"}
    post(phone, OPEN, check_at(view, row, RNG), **later)
    shown = panel(phone, OPEN)
    assert [each["verdict"] for each in shown["crew_checks"]] == ["pass", "fail"]
    assert not [each for each in shown["look_first"] if each["code"] == "crew check"]


def test_the_job_judges_by_itself_whatever_the_phone_says(phone: TestClient, view: JobView) -> None:
    row = view.row(LINE, OPEN)
    content = check_at(view, row, RNG, poles=turned(view, row, -3.0))
    post(phone, OPEN, {**content, "verdict": "pass"})
    (check,) = panel(phone, OPEN)["crew_checks"]
    assert check["verdict"] == "fail"
    assert "the phone found: passes" in check["words"]


def test_a_withdrawn_check_is_gone_and_stays_in_the_history(phone: TestClient, view: JobView) -> None:
    content = check_at(view, view.row(LINE, OPEN), RNG)
    kept = post(phone, OPEN, content)
    post(phone, OPEN, content, result="withdrawn", supersedes=kept["id"])
    shown = panel(phone, OPEN)
    assert shown["crew_checks"] == []
    assert [each["text"].startswith("crew check by rover") for each in shown["history"][-2:]] == [True, True]


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"method": "eye"}, "a crew check by 'eye' is not known; it is by tape or by rover"),
        ({"verdict": "fine"}, "the verdict 'fine' of a crew check is none of pass, fail, cannot tell"),
        ({"method": ["tape"]}, "a crew check by ['tape'] is not known"),
        ({"poles": "AC"}, "names its poles from left to right, AB to CBA"),
        ({"poles": ["A", "B"]}, "names its poles from left to right, AB to CBA"),
        ({"stakes": {}}, "places its stakes, 1 to 40"),
        ({"stakes": {"A OS25BK": [1.0]}}, "stake A OS25BK is placed by [1.0]"),
        ({"fixes": []}, "has fixes, 1 to 60"),
        ({"fixes": [{"at": "C", "face": "back"}]}, "a fix at 'C', face 'back', names no stake"),
        ({"fixes": [{"at": ["A"], "face": "back"}]}, "face 'back', names no stake"),
        (
            {"centre": {"longitude": 999, "latitude": 1, "azimuth_deg": 1}},
            "longitude 999 is no number between",
        ),
        ({"radii": [0.6]}, "is not one for each of 2 poles"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(
    phone: TestClient, view: JobView, changed: dict[str, Any], why: str
) -> None:
    content = check_at(view, view.row(LINE, OPEN), RNG)
    result = post(phone, OPEN, {**content, **changed})
    assert result["outcome"] == "refused"
    assert why in result["why"]


def test_new_records_give_what_computing_anew_gives(phone: TestClient, view: JobView) -> None:
    row = view.row(LINE, OPEN)
    for poles in (None, turned(view, row, 5.0)):
        post(phone, OPEN, check_at(view, row, RNG, poles=poles))
        live = panel(phone, OPEN)
        anew = build_view(phone.app.state.database, today=dt.date(2026, 5, 16))  # type: ignore[attr-defined]
        assert [each.event for each in anew.crew_checks[LINE, OPEN]] == [
            each["id"] for each in reversed(live["crew_checks"])
        ]
        assert [each.words for each in anew.ledger.on("panel", row)] == live["findings"]


def as_surveyed(view: JobView, row: int) -> np.ndarray[Any, Any]:
    """Return the poles of a frame as they were shot, from left to right."""
    count = len(view.figures.letters_of(row))
    ahead, right = view.figures.in_frame(row, view.set_poles.position[row, :count])
    seen = np.stack([right, ahead], axis=-1)
    return np.asarray(seen[np.argsort(right)])


def passed(view: JobView, wanted: str = "pass") -> list[int]:
    """Return rows of frames of two poles with a verdict of the survey."""
    return [
        row
        for row in range(len(view.figures))
        if str(view.checks.verdict[row]) == wanted and len(view.figures.letters_of(row)) == 2
    ]


#: Before anything was shot on the invented line.
EARLY = {"happened_at": "2026-04-01T10:00:00-06:00"}


def test_the_survey_judges_later_and_their_agreement_is_the_precision_of_a_crew(
    phone: TestClient, view: JobView
) -> None:
    rows = passed(view)[:4]
    for row in rows:
        post(phone, view.key(row)[1], check_at(view, row, RNG, poles=as_surveyed(view, row)), **EARLY)
    shown = panel(phone, view.key(rows[0])[1])
    assert shown["verdict"] == "pass"
    assert shown["crew_checks"][0]["survey"].startswith("beside the survey: turned 0.")
    whole, person = phone.get("/api/progress").json()["crew_checks"]["precision"]
    assert (whole["crew"], whole["person"], person["person"]) == ("Heron", "", "J. Ode")
    assert whole["count"] == 4
    assert whole["few_text"].startswith("4 checks; so few tell little: the true rms may be 2.4 times")
    assert "° rms, " in whole["rotation_text"]
    assert float(whole["poles_text"].split()[0]) < 0.1
    paper = PdfReader(io.BytesIO(phone.get("/api/sheets/report.pdf").content))
    printed = " ".join(" ".join(page.extract_text() for page in paper.pages).split())
    assert "Crew checks, no survey crew check: pass: " in printed
    assert "Heron J. Ode, by rover" in printed


def test_a_check_that_passed_where_the_survey_fails_asks_the_surveyor(
    phone: TestClient, view: JobView
) -> None:
    row = passed(view, "fail")[0]
    number = view.key(row)[1]
    post(phone, number, check_at(view, row, RNG), **EARLY)
    shown = panel(phone, number)
    (found,) = [words for words in shown["findings"] if words.startswith("the crew check by rover")]
    assert "Heron, passes, the survey says fail" in found
    assert shown["verdict"] == "fail"
    said = [each["words"] for each in shown["look_first"]] + shown["residuals"]
    assert not [words for words in said if "crew check" in words]


def test_a_job_may_ask_for_a_frame_check_before_set_counts_as_verified(
    phone: TestClient, view: JobView
) -> None:
    database: Database = phone.app.state.database  # type: ignore[attr-defined]
    declare(
        database, {"evidence": ["set=frame check: spec 9.3"]}, now=dt.datetime(2026, 5, 15, tzinfo=dt.UTC)
    )
    row = next(row for row in passed(view, "not surveyed") if "set" in view.statuses[view.key(row)].done)
    number = view.key(row)[1]

    def note() -> str:
        (step,) = [each for each in panel(phone, number)["steps"] if each["words"] == "set"]
        return str(step["note"])

    assert note() == "claimed, not verified: no frame check on record; asked for: frame check (spec 9.3)"
    post(phone, number, check_at(view, row, RNG, poles=turned(view, row, 4.0)))
    assert note().startswith("claimed, not verified: no frame check on record")
    kept = post(phone, number, check_at(view, row, RNG))
    named = "frame check: crew check by rover, 14 May 2026, Heron"
    assert note() == f"verified; asked for: frame check (spec 9.3); {named}"
    post(phone, number, check_at(view, row, RNG), result="withdrawn", supersedes=kept["id"])
    assert note().startswith("claimed, not verified: no frame check on record")
