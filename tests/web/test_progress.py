"""The progress page and its answers over the invented line."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.progress import Period, Progress
from linemap.service.job.job import create_job
from linemap.settings import Settings
from linemap.web.app import create_app


@pytest.fixture(scope="module")
def found(client: TestClient) -> Progress:
    return read_answer(Progress, client.get("/api/progress").json())


@pytest.fixture(scope="module")
def empty_client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    job: Path = tmp_path_factory.mktemp("empty") / "empty.linemap"
    create_job(str(job), {"crs": "EPSG:6515"}, now=dt.datetime(2026, 5, 16, tzinfo=dt.UTC))
    with TestClient(create_app(Settings(job=str(job)))) as opened:
        yield opened


def test_answer_holds_the_numbers_of_the_day(found: Progress) -> None:
    counts = {count.step: (count.done, count.of) for count in found.counts}
    assert (counts["dug"], counts["framed"], counts["set"]) == ((71, 121), (66, 121), (59, 121))
    assert found.as_of == "2026-05-15"
    assert "68 planned by Fri 15 May 2026: 9 behind" in found.plan_text
    assert "not before Mon 17 Aug 2026" in found.forecast[0]
    assert [chart.key for chart in found.charts] == ["curve", "strip", "time"]
    assert all(chart.wide.startswith("<svg") and chart.narrow.startswith("<svg") for chart in found.charts)


def test_answer_is_revalidated_by_its_tag(client: TestClient) -> None:
    tag = client.get("/api/progress").headers["etag"]
    assert client.get("/api/progress", headers={"if-none-match": tag}).status_code == 304


def test_any_day_may_be_asked_for_in_both_senses(client: TestClient) -> None:
    earlier = read_answer(Progress, client.get("/api/progress?as_of=2026-04-24").json())
    assert next(count.done for count in earlier.counts if count.step == "set") == 33
    known = client.get("/api/progress?as_of=2026-05-13&known_by=2026-05-13")
    assert read_answer(Progress, known.json()).known_by == "2026-05-13"
    then = read_answer(Progress, client.get("/api/progress?known_by=2026-05-12").json())
    assert (then.as_of, then.known_by) == ("2026-05-12", "2026-05-12")


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        ("as_of=someday", 422, "as_of"),
        ("line=South", 404, "has no line South"),
    ],
)
def test_what_cannot_be_asked_is_refused(client: TestClient, query: str, status: int, words: str) -> None:
    answer = client.get(f"/api/progress?{query}")
    assert answer.status_code == status
    error = answer.json()["error"]
    assert words in f"{error['message']} {error['where']}"


def test_report_of_a_day_rebuilds(client: TestClient) -> None:
    first = client.get("/api/progress/period?first=2026-05-13&known_by=2026-05-13").json()
    assert client.get("/api/progress/period?first=2026-05-13&known_by=2026-05-13").json() == first
    report = read_answer(Period, first)
    heron = next(one for one in report.quantities if one.crew == "Heron")
    assert (heron.count, [place.number for place in heron.list]) == (3, ["13/1", "13/3", "13/4"])


def test_page_comes_with_its_own_files_only(client: TestClient) -> None:
    page = client.get("/progress")
    assert page.status_code == 200
    assert 'src="/static/js/progress/app.js' in page.text
    assert "<script>" not in page.text
    assert " style=" not in page.text


def test_a_job_without_structures_says_what_is_missing(empty_client: TestClient) -> None:
    answer = empty_client.get("/api/progress")
    assert (answer.status_code, answer.json()["plan_text"][:11]) == (200, "0 of 0 set;")
    assert "No line is loaded yet" in empty_client.get("/progress").text
