"""Every code of a finding through every surface of the real application: each shows what its rule asks for.

Each code is written at a structure of its own on a copy of the invented line; commands, pages, packs, sheets
and exports are then read as people read them. Run with `-s` to print the table.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from every_code import finding_every_code, packed
from pypdf import PdfReader
from python_calamine import CalamineWorkbook
from starlette.testclient import TestClient

from linemap.cli.main import main
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import CODES
from linemap.domain.finding.ledger import SURFACES, Surface
from linemap.service.sheets.sheets import sheet_pdf
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.web.app import create_app

DAY = dt.date(2026, 5, 16)
#: These two judge records as they come and go through no view.
OF_RECORDS = ("answer", "report")


@pytest.fixture(scope="module")
def job(places: dict[str, int], demo_job: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A copy of the job whose design review finds every code there is."""
    with finding_every_code(places, demo_job, tmp_path_factory.mktemp("walk")) as copied:
        yield copied


@pytest.fixture(scope="module")
def view(job: Path) -> JobView:
    with open_job(str(job)) as database:
        return build_view(database, today=DAY)


@pytest.fixture(scope="module")
def client(job: Path) -> Iterator[TestClient]:
    with TestClient(create_app(Settings(job=str(job)), today=lambda: DAY)) as opened:
        yield opened


def words_at(view: JobView, code: str, row: int) -> str:
    return next(finding.words for finding in view.ledger.at(row) if finding.code == code)


def flat(text: str) -> str:
    """Text without line ends and blanks: paper and terminals break lines where they like."""
    return "".join(text.split())


def run(monkeypatch: pytest.MonkeyPatch, *arguments: object) -> None:
    monkeypatch.setattr("sys.argv", ["linemap", *map(str, arguments)])
    main()


def shown_by(rows: list[Any], places: Mapping[str, int], view: JobView, key: str) -> dict[str, bool]:
    """Say of each code whether the rows of an answer name it at its structure, by code and in its words."""
    found = {row["structure"]: row for row in rows}
    shown = {}
    for code, row in places.items():
        told = found.get(view.figures.structures.number[row], {"findings": [], key: []})
        shown[code] = code in {each["code"] for each in told[key]}
        assert shown[code] == (words_at(view, code, row) in told["findings"]), code
    return shown


def test_every_code_is_shown_where_its_severity_asks_for(
    job: Path,
    view: JobView,
    client: TestClient,
    places: dict[str, int],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    shown: dict[Surface, dict[str, bool]] = {}
    number = view.figures.structures.number

    worst = client.get("/api/structures").json()["worst"]
    shown["list"] = shown["map"] = {code: worst[row] == CODES[code].severity for code, row in places.items()}

    cards = {card["number"]: card for card in packed(client)}
    shown["panel"] = {}
    for code, row in places.items():
        panel = client.get("/api/structure", params={"line": view.key(row)[0], "number": number[row]}).json()
        shown["panel"][code] = words_at(view, code, row) in panel["findings"]
        assert panel["look_first"] == cards[number[row]]["look_first"]

    shown["card"] = {
        code: words_at(view, code, row) in cards[number[row]]["findings"] for code, row in places.items()
    }
    shown["top"] = {
        code: code in {each["code"] for each in cards[number[row]]["look_first"]}
        for code, row in places.items()
    }

    run(monkeypatch, "check", job, "--json")
    shown["check"] = shown_by(json.loads(capsys.readouterr().out), places, view, "ledger")
    run(monkeypatch, "check", job)
    printed = flat(capsys.readouterr().out)
    for code, row in places.items():
        assert (flat(words_at(view, code, row)) in printed) == shown["check"][code], code
    shown["survey"] = shown_by(client.get("/api/survey").json()["exceptions"], places, view, "ledger")

    with open_job(str(job)) as database:
        paper = sheet_pdf(database, view, "exceptions")
    text = flat("".join(page.extract_text() for page in PdfReader(io.BytesIO(paper)).pages))
    shown["exceptions"] = {
        code: flat(f"{number[row]}") in text and flat(words_at(view, code, row)) in text
        for code, row in places.items()
    }

    run(monkeypatch, "redmarks", job, "--out", tmp_path / "marks.xlsx")
    head, *rows = CalamineWorkbook.from_path(tmp_path / "marks.xlsx").get_sheet_by_index(0).to_python()
    marked = {str(row[head.index("structure")]): str(row[head.index("findings")]) for row in rows}
    shown["red marks"] = {
        code: words_at(view, code, row) in marked[number[row]] for code, row in places.items()
    }

    run(monkeypatch, "export", job, "csv", "--out", tmp_path / "all.csv")
    with (tmp_path / "all.csv").open(encoding="utf-8-sig", newline="") as file:
        table = {row["structure"]: row["findings"] for row in csv.DictReader(file)}
    shown["export"] = {code: words_at(view, code, row) in table[number[row]] for code, row in places.items()}

    for surface, rule in SURFACES.items():
        if surface not in OF_RECORDS:
            wanted = {name: rule(code.severity, code.asks) for name, code in CODES.items()}
            assert shown[surface] == wanted, surface
    print_table(shown)


def test_next_refuses_what_stops_work_by_name_and_for_no_other_step(
    view: JobView, client: TestClient, places: dict[str, int]
) -> None:
    assert {code for code, declared in CODES.items() if declared.severity is Severity.STOPS} == {
        code for code, declared in CODES.items() if declared.stop is not None
    }
    refused: dict[str, dict[str, str]] = {}
    for step in view.workflow.order():
        asked = {"crew": "Heron", "step": step.code, "from": "1/1"}
        answer = client.get("/api/next", params=asked).json()
        refused[step.code] = {row["number"]: row["reason"] for row in answer["refused"]}
    cards = {card["number"]: card for card in packed(client)}
    for code in [name for name, declared in CODES.items() if declared.stop is not None]:
        number = view.figures.structures.number[places[code]]
        (found,) = [each for each in cards[number]["look_first"] if each["code"] == code]
        declared = CODES[code].stop
        assert declared is not None
        named = {
            step
            for step, rows in refused.items()
            if {found["in_the_way"], declared.short} & parts(rows, number)
        }
        assert named
        assert named == {step for step in found["stops"] if number in refused[step]}, code
        done = {step["code"] for step in cards[number]["steps"] if step["done"]}
        assert {step for step in found["stops"] if number not in refused[step]} <= done, code


def parts(rows: Mapping[str, str], number: str) -> set[str]:
    """Return the first cause of a refusal, and the names of the others."""
    first, _, rest = rows.get(number, "").partition("; also ")
    return {first.rpartition("; ")[0], *rest.split(", ")}


def print_table(shown: Mapping[Surface, Mapping[str, bool]]) -> None:
    print("\n" + f"{'':32}" + " ".join(shown))
    for name, code in CODES.items():
        marks = " ".join(f"{'x' if on[name] else '.':^{len(surface)}}" for surface, on in shown.items())
        print(f"{name:32}{marks}  {code.severity.label}, {code.asks}")
