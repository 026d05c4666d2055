"""Records by section over HTTP: every number with its names, as table, sheet and file, and no acceptance."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import Protocol

from command import linemap
from starlette.testclient import TestClient

from linemap.domain.record.person import Role


class People(Protocol):
    """What the fixture `own_people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


def test_numbers_of_the_matrix_are_those_of_the_counts_and_their_lists(client: TestClient) -> None:
    counts = {row["words"]: row for row in client.get("/api/progress").json()["counts"]}
    for by in ("section", "mile"):
        found = client.get("/api/progress/closeout", params={"by": by}).json()
        rows = {row["words"]: row["cells"] for row in found["rows"]}
        for words, count in counts.items():
            cells = rows[words]
            assert sum(cell["found"] for cell in cells) == count["done"], words
            assert sum(cell["of"] for cell in cells) == count["of"], words
            done = [place["number"] for cell in cells for place in cell["found_list"]]
            assert sorted(done) == sorted(place["number"] for place in count["done_list"])
        for cells in rows.values():
            assert len(cells) == len(found["columns"])
            for cell in cells:
                assert cell["found"] == len(cell["found_list"])
                assert cell["of"] == len(cell["found_list"]) + len(cell["missing_list"])


def test_checks_beside_the_steps_are_there(client: TestClient) -> None:
    found = client.get("/api/progress/closeout").json()
    rows = [row["words"] for row in found["rows"]]
    for words in (
        "set, with its evidence",
        "frame surveyed within tolerance",
        "a photo",
        "ground resistance read",
        "no punch item open",
        "no case open",
    ):
        assert words in rows
    items = client.get("/api/list", params={"kind": "punch"}).json()
    assert items["rows"]
    cells = next(row["cells"] for row in found["rows"] if row["words"] == "no punch item open")
    assert sum(len(cell["missing_list"]) for cell in cells) > 0


def test_the_table_names_every_structure_and_nothing_reads_as_an_acceptance(client: TestClient) -> None:
    text = client.get("/api/progress/closeout.csv").text
    rows = list(csv.DictReader(io.StringIO(text)))
    for row in rows:
        assert int(row["recorded"]) == len([name for name in row["recorded_at"].split(", ") if name])
        assert int(row["of"]) - int(row["recorded"]) == len([n for n in row["lacking"].split(", ") if n])
    assert client.get("/api/sheets/closeout.pdf").content.startswith(b"%PDF")
    said = text + client.get("/api/progress/closeout").text
    assert not re.search(r"\b(safe|clear|certif\w*|approved|complete|accepted|ready)\b", said, re.IGNORECASE)


def test_the_public_is_not_told_what_records_lack(own_people: People) -> None:
    for path in ("/api/progress/closeout", "/api/progress/closeout.csv"):
        assert own_people.client(Role.VIEWER).get(path).status_code == 403
        assert own_people.client(Role.CREW).get(path).status_code == 200


def test_the_command_prints_it_and_writes_it_with_all_names(demo_job: Path, tmp_path: Path) -> None:
    code, out, _ = linemap("progress", demo_job, "--closeout", "section")
    assert code == 0
    assert re.search(r"set: \d+ of \d+; lacking: \d+/\d+", out)
    file = tmp_path / "records.csv"
    assert linemap("progress", demo_job, "--closeout", "mile", "--out", file).returncode == 0
    assert "mile 7" in file.read_text("utf-8")
    code, _, err = linemap("progress", demo_job, "--closeout", "week")
    assert code == 2
    assert "write section or mile" in err
