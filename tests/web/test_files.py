"""The page of files over HTTP: what was understood, the original bytes, and what people say of columns."""

from __future__ import annotations

import datetime as dt
import hashlib
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.lists import FileColumn, FileList, LoadedFile
from linemap.io.cells.shape import shape_key
from linemap.io.source.read import read_source
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.store.files import standing_answer
from linemap.web.app import create_app


@pytest.fixture
def copied(demo_job: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(demo_job, tmp_path / "demo.linemap"))


@pytest.fixture
def own(copied: Path) -> Iterator[TestClient]:
    app = create_app(Settings(job=str(copied)), today=lambda: dt.date(2026, 5, 16))
    with TestClient(app, raise_server_exceptions=False, headers={"sec-fetch-site": "same-origin"}) as opened:
        yield opened


def loaded(client: TestClient) -> dict[str, LoadedFile]:
    return {file.name: file for file in read_answer(FileList, client.get("/api/files").json()).files}


def test_every_file_tells_how_it_was_understood(client: TestClient, demo_files: Path) -> None:
    found = loaded(client)
    structures = found["structures_revC.csv"]
    assert (structures.kind, structures.rows_kept) == ("structures", 121)
    assert FileColumn(field="number", heading="Structure", named="Structure") in structures.mapping
    assert "headings in row" in structures.read_as
    assert structures.sha256 == hashlib.sha256((demo_files / "structures_revC.csv").read_bytes()).hexdigest()
    assert found["shots_2026-04-29.csv"].rows_kept == 9
    assert found["tolerances.csv"].rows_kept == 7
    assert [name for name, file in found.items() if file.rows_kept == 0] == []
    assert structures.loaded_by == "demo"
    assert "layer" in found["context.geojson"].headings
    assert "EPSG:4326" in found["context.geojson"].read_as


def test_a_problem_names_row_value_and_reason(client: TestClient) -> None:
    problems = [problem for file in loaded(client).values() for problem in file.problems]
    assert problems
    assert all(problem.reason for problem in problems)
    assert any(problem.row is not None and problem.value for problem in problems)


def test_original_bytes_come_back_and_only_as_a_download(client: TestClient, demo_files: Path) -> None:
    file = loaded(client)["shots_2026-04-16.csv"]
    answer = client.get(f"/api/files/{file.id}/content")
    assert answer.content == (demo_files / file.name).read_bytes()
    assert answer.headers["content-type"] == "application/octet-stream"
    assert answer.headers["content-disposition"] == f"attachment; filename*=UTF-8''{file.name}"


@pytest.mark.parametrize(("file_id", "status"), [("9999", 404), ("0", 422), ("x", 422), ("9" * 30, 422)])
def test_no_such_file(client: TestClient, file_id: str, status: int) -> None:
    assert client.get(f"/api/files/{file_id}/content").status_code == status


def test_an_answer_stands_for_the_next_file_of_the_shape(
    own: TestClient, copied: Path, demo_files: Path
) -> None:
    file = loaded(own)["structures_revC.csv"]
    said = {"by": "P. Chief", "kind": "structures", "fields": {"number": "Structure", "station": 3}}
    before = own.get("/api/structures").json()["station_text"]
    statuses = [own.post(f"/api/files/{file.id}/answer", json=said).status_code for _ in range(2)]
    assert statuses == [201, 200]
    shape = shape_key(read_source(demo_files / "structures_revB.csv", kind="structures").table("structures"))
    with open_job(copied) as database, database.reading() as connection:
        kept = standing_answer(connection, shape)
    assert kept is not None
    assert (kept.who, kept.content["fields"]) == ("P. Chief", said["fields"])
    told = loaded(own)["structures_revC.csv"].answer
    assert told is not None
    assert told.fields == {"number": "Structure", "station": "3"}
    assert own.get("/api/structures").json()["station_text"] == before


@pytest.mark.parametrize(
    "change",
    [
        {"by": " "},
        {"kind": "nonsense"},
        {"fields": {"number": "No such heading"}},
        {"fields": {"colour": "Structure"}},
        {"fields": {"number": 0}},
        {"units": {"number": "ft"}},
    ],
)
def test_what_cannot_be_kept_is_refused(own: TestClient, change: dict[str, object]) -> None:
    file = loaded(own)["structures_revC.csv"]
    said = {"by": "P. Chief", "kind": "structures", "fields": {"number": "Structure"}, **change}
    answer = own.post(f"/api/files/{file.id}/answer", json=said)
    assert answer.status_code == 422
    assert answer.json()["error"]["message"]
    assert loaded(own)["structures_revC.csv"].answer is None


def test_an_answer_about_no_file(own: TestClient) -> None:
    said = {"by": "P. Chief", "kind": "structures", "fields": {}}
    assert own.post("/api/files/9999/answer", json=said).status_code == 404


def test_an_answer_from_another_page_is_refused(own: TestClient) -> None:
    said = {"by": "P. Chief", "kind": "structures", "fields": {}}
    answer = own.post("/api/files/1/answer", json=said, headers={"sec-fetch-site": "cross-site"})
    assert answer.status_code == 403
