"""Files of a selection: the same as the commands write, of the structures chosen, for their readers."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Protocol

import orjson
import pytest
from command import linemap
from starlette.testclient import TestClient

from linemap.domain.record.person import Role


class People(Protocol):
    """What the fixture `people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


def numbers(text: str) -> list[str]:
    return [row["structure"] for row in csv.DictReader(io.StringIO(text))]


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("from=3/1&to=3/3", ["3/1", "3/2", "3/3"]),
        ("from=22/6", ["22/6", "23/1", "23/2"]),
        ("structures=9/4&structures=9/2", ["9/2", "9/4"]),
        ("mile=3&from=3/2&to=4/1", ["3/2", "3/3", "3/4", "3/5"]),
    ],
)
def test_a_choice_is_the_same_for_every_file(client: TestClient, query: str, found: list[str]) -> None:
    said = client.get(f"/api/selection?{query}").json()
    assert said["count"] == len(found)
    assert said["words"].endswith(f"{found[0]} to {found[-1]}")
    assert numbers(client.get(f"/api/exports/csv?{query}").text) == found
    features = orjson.loads(client.get(f"/api/exports/geojson?{query}").content)["features"]
    assert [each["properties"]["structure"] for each in features] == found
    points = client.get(f"/api/stakeout.csv?{query}").text.splitlines()
    assert [each.split(",")[-1].split(" ")[0] for each in points if each.endswith("CL HUB")] == found
    for form in ("xlsx", "gpkg", "parquet"):
        assert len(client.get(f"/api/exports/{form}?{query}").content) > 1000


@pytest.mark.parametrize(
    ("path", "status", "words"),
    [
        ("selection?from=5/2&to=3/1", 422, "no stretch of a line"),
        ("selection?from=99/9", 404, "has no structure 99/9"),
        ("exports/csv?crew=Nobody", 404, "crew Nobody"),
        ("exports/snapshot?mile=3", 422, "holds the whole job"),
        ("exports/docx", 422, "path.form"),
        ("stakeout.csv?along=x", 422, "pattern"),
    ],
)
def test_what_cannot_be_chosen_is_said(client: TestClient, path: str, status: int, words: str) -> None:
    answer = client.get(f"/api/{path}")
    assert answer.status_code == status
    assert words in str(answer.json()["error"])


def test_commands_write_the_same_files(client: TestClient, demo_job: Path, tmp_path: Path) -> None:
    out = tmp_path / "structures.csv"
    linemap("export", str(demo_job), "csv", "--out", str(out), "--from", "3/1", "--to", "4/2")
    assert out.read_bytes() == client.get("/api/exports/csv?from=3/1&to=4/2").content
    stakes = tmp_path / "stakes.csv"
    linemap("stakeout", str(demo_job), "--out", str(stakes), "--structures", "9/2")
    assert stakes.read_bytes() == client.get("/api/stakeout.csv?structures=9/2").content


def test_a_file_holds_no_more_than_is_shown_to_who_takes_it(people: People) -> None:
    manager, surveyor = people.client(Role.MANAGER), people.client(Role.SURVEYOR)
    assert manager.get("/api/exports/csv?for=owner&mile=3").status_code == 200
    refused = surveyor.get("/api/exports/csv?for=owner&mile=3")
    assert refused.status_code == 403
    assert surveyor.get("/api/exports/csv?for=public&mile=3").status_code == 200
    for role in (Role.CREW, Role.VIEWER, None):
        assert people.client(role).get("/api/exports/csv").status_code in (401, 403)
