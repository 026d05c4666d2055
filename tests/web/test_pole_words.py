"""Whatever a person reads of a job names its poles by the owner's words, whichever code of a finding it is.

Every code stands at a structure of its own on a copy of the invented line, whose poles are called 1, 2, 3 or
L, R. What commands, pages, phones, sheets and exports say of it is searched for letters of poles.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from every_code import finding_every_code, packed
from pole_letters import letters_in
from pypdf import PdfReader
from python_calamine import CalamineWorkbook
from starlette.testclient import TestClient

from linemap.cli.main import main
from linemap.domain.finding.finding import CODES
from linemap.errors import InputRefused
from linemap.report import SHEETS
from linemap.service.job.job import declare
from linemap.service.sheets.sheets import sheet_pdf
from linemap.service.view.build import build_view
from linemap.service.view.marks import AsFound, marks_of
from linemap.service.view.view import JobView
from linemap.settings import Settings
from linemap.store.database import Database, open_job
from linemap.web.app import create_app

NOW = dt.datetime(2026, 5, 16, 12, tzinfo=dt.UTC)


class Worded(NamedTuple):
    """A job that declares words for its poles, computed, served."""

    path: Path
    database: Database
    view: JobView
    client: TestClient


@pytest.fixture(scope="module", params=["1/2/3", "L/R"])
def worded(
    request: pytest.FixtureRequest,
    places: dict[str, int],
    demo_job: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Worded]:
    folder = tmp_path_factory.mktemp("words")
    with finding_every_code(places, demo_job, folder) as job, open_job(str(job)) as database:
        declare(database, {"pole_words": request.param}, now=NOW, who="Ode")
        view = build_view(database, today=NOW.date())
        with TestClient(create_app(Settings(job=str(job)), today=NOW.date)) as client:
            yield Worded(job, database, view, client)


def said_in(answer: Any) -> Iterator[str]:
    """Give the texts of an answer; letters alone are keys."""
    if isinstance(answer, dict):
        for name, value in answer.items():
            yield from said_in(value) if name not in {"values", "description"} else ()
    elif isinstance(answer, list):
        for value in answer:
            yield from said_in(value)
    elif isinstance(answer, str) and not re.fullmatch("[ABC]+", answer):
        yield answer


def test_the_search_finds_what_it_is_for() -> None:
    for text in ("pole A", "A and B", "dig A 9.5 ft", "(A, C)", "A-C", "depth 9 ft at B", "A: dig 9"):
        assert letters_in(text), text
    for text in ("Rev C: moved 8 ft", "12/3A", "A HUB, CL HUB", "A depth shown here", "pole L"):
        assert not letters_in(text), text


@pytest.mark.parametrize("code", CODES)
def test_every_code_is_said_in_the_words_of_the_owner(
    worded: Worded, places: dict[str, int], code: str
) -> None:
    (found,) = [each for each in worded.view.ledger.at(places[code]) if each.code == code]
    assert not letters_in(found.words, found.closes)


def test_pages_and_phones_speak_the_words_of_the_owner(worded: Worded, written: list[str]) -> None:
    client, answers = (
        worded.client,
        ["/api/job", "/api/survey", "/api/survey/shots", "/api/progress", "/api/holds"],
    )
    texts = [*said_in([client.get(path).json() for path in answers])]
    for line, number in worded.view.row_of:
        panel = client.get("/api/structure", params={"line": line, "number": number}).json()
        assert panel["number"] == number
        texts += said_in(panel)
    texts += said_in([*packed(client)])
    for step in worded.view.workflow.order():
        asked = {"crew": "Heron", "step": step.code, "from": "1/1"}
        texts += said_in(client.get("/api/next", params=asked).json())
    assert not letters_in(*texts, written=written)


@pytest.mark.parametrize("sheet", SHEETS)
def test_sheets_speak_the_words_of_the_owner(worded: Worded, written: list[str], sheet: Any) -> None:
    paper = sheet_pdf(worded.database, worded.view, sheet)
    texts = [page.extract_text() for page in PdfReader(io.BytesIO(paper)).pages]
    assert not letters_in(*texts, written=written)


def test_commands_speak_the_words_of_the_owner(
    worded: Worded, written: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    first = worded.view.figures.called(0)["A"]
    for arguments in (
        ["check", "--all"],
        ["marks", "6/4", "--measured", f"{first}=75.4", "--brand", f"{first}=9", "--depth", f"{first}=9"],
        ["marks", "2/3"],
        ["next", "--crew", "Heron"],
        ["progress"],
    ):
        monkeypatch.setattr("sys.argv", ["linemap", arguments[0], str(worded.path), *arguments[1:]])
        main()
        assert not letters_in(capsys.readouterr().out, written=written), arguments


def test_rows_of_lists_keep_letters_and_say_what_they_are_called(worded: Worded) -> None:
    for kind, name in (("poles", "letter"), ("guys", "pole"), ("records", "pole"), ("shots", "pole")):
        found = worded.client.get("/api/list", params={"kind": kind}).json()
        place = [field["name"] for field in found["fields"]].index(name)
        pairs = {
            (row[place], called) for row, called in zip(found["rows"], found["called"][name], strict=True)
        }
        assert {("A", worded.view.figures.called(0)["A"])} <= pairs
        assert not {called for _, called in pairs} & {"A", "B"}


def test_what_is_measured_on_no_pole_is_refused_in_the_words_of_the_owner(worded: Worded) -> None:
    with pytest.raises(InputRefused, match=r"6/4 has no pole X, only (1, 2|L, R)") as refused:
        marks_of(worded.view, "", "6/4", found=AsFound(lengths={"X": 75.0}))
    assert not letters_in(str(refused.value))


def test_exports_speak_the_words_of_the_owner_and_keep_their_keys(
    worded: Worded, written: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = {name: tmp_path / name for name in ("all.csv", "marks.xlsx", "staking.xlsx", "points.csv")}
    for arguments in (
        ["export", worded.path, "csv", "--out", out["all.csv"]],
        ["redmarks", worded.path, "--out", out["marks.xlsx"]],
        ["stakeout", worded.path, "--out", out["points.csv"], "--table", out["staking.xlsx"]],
    ):
        monkeypatch.setattr("sys.argv", ["linemap", *map(str, arguments)])
        main()
    with out["all.csv"].open(encoding="utf-8-sig", newline="") as file:
        texts = [row[name] for row in csv.DictReader(file) for name in row if name != "remarks"]
    for name in ("marks.xlsx", "staking.xlsx"):
        book = CalamineWorkbook.from_path(out[name])
        pages = [book.get_sheet_by_index(place).to_python()[1:] for place in range(len(book.sheet_names))]
        texts += [cell for page in pages for row in page for cell in row if isinstance(cell, str)]
    keys = {"A", "B", "C"}
    assert keys & {*texts}
    assert not letters_in(*(text for text in texts if text not in keys), written=written)
    assert "A HUB" in out["points.csv"].read_text(encoding="utf-8")
