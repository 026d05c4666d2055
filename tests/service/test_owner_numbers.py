"""Whole jobs of owners who number in four ways: what the list writes comes back from all that is made."""

from __future__ import annotations

import csv
import datetime as dt
import io
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from command import linemap
from fastapi import FastAPI
from pypdf import PdfReader
from starlette.testclient import TestClient

from linemap.domain.record.person import Audience
from linemap.errors import InputRefused
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import Edit, load_files, review
from linemap.service.job.job import create_job, declare
from linemap.service.people.redact import redact_view
from linemap.service.sheets.sheets import Chosen, sheet_pdf
from linemap.service.view.build import build_view
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.web.app import create_app

RULES = {"crs": "EPSG:6515", "line": "North", "combined_factor": "1", "base_point": "none"}
NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
HERE = "http://127.0.0.1:8765"


@dataclass(frozen=True)
class Style:
    """One owner's numbers in line order, and how a hurried person writes the same."""

    numbers: tuple[str, ...]
    loose: tuple[str, ...]


STYLES = {
    "plain": Style(
        ("0041", "0042", "0043", "0044", "0045", "0046"),
        ("41", "STR 42", "#043", "44", "s45", "046"),
    ),
    "dashes": Style(
        ("12-1", "12-2", "12-3", "13-1", "13-2", "13-3"),
        ("12/1", "STR 12/2", "12/03", "13\u20131", "13_2", "013-3"),
    ),
    "letters": Style(
        ("DE-1", "T-45", "T-45A", "T-46", "DE-2", "T-47"),
        ("de1", "T 45", "t45a", "T-046", "STR DE 2", "t.47"),
    ),
    "words": Style(
        ("POB", "001", "002", "003", "004", "END"),
        ("pob", "1", "STR 2", "03", "S004", "end"),
    ),
}


def rows(*lines: str) -> str:
    return "\n".join(lines) + "\n"


def files_of(style: Style) -> dict[str, str]:
    """Lists and shots of a short line; all but the structure list write its numbers as people do."""
    own, loose = style.numbers, style.loose
    places = enumerate(own)
    return {
        "centreline": rows("PI,Northing,Easting", "P1,900000,2250000", "P2,905000,2250000"),
        "structures": rows(
            "Structure,Northing,Easting,Pole Spacing,Type,Poles",
            *(f"{each},{900000 + 1000 * at},2250000,12.5,H-TAN,{3 if at == 4 else 2}" for at, each in places),
        ),
        "poles": rows(
            "Structure,Pole,Length,Class",
            *(
                f"{each},{pole},75,2"
                for at, each in enumerate(loose)
                for pole in ("ABC" if at == 4 else "AB")
            ),
        ),
        "holds": rows(
            "Hold,Structures,Activities,From,To,Reason",
            f"H-1,{loose[1]},setting,2026-01-01,2027-01-01,drawing",
            f"H-2,{loose[2]} to {own[4]},all,2026-01-01,2027-01-01,drainage",
        ),
        "tickets": rows(
            "Ticket,Structures,Valid from,Expires", f'811-1,"{loose[0]}, {loose[5]}",2026-01-01,2027-01-01'
        ),
        "records": rows("Structure,Step,Date,Crew", f"{loose[0]},spotted,2026-05-01,Heron"),
        "crossings": rows("Crossing,Span", f"Route 5,{own[0]}-{own[1]}"),
        "guys": rows("Structure,Guy,Kind,Lead", f"{loose[4]},G1,bisector,60"),
        "punch": rows("Item,Structure,Opened,Text,Who", f"1,{loose[3]},2026-05-02,brace loose,Ode"),
        "shots_2026-05-02": rows(
            *(
                f"{5000 + 10 * at + side},{900000 + 1000 * at},{2250000 + dx},0,{word}{each} {pole}"
                for at, each in enumerate(own)
                for word in ["STR " if at % 2 else ""]
                for side, (pole, dx) in enumerate(
                    zip("ABC", (-12.5, 0.0, 12.5), strict=True)
                    if at == 4
                    else zip("AB", (-6.25, 6.25), strict=True)
                )
            )
        ),
    }


def write(folder: Path, files: dict[str, str]) -> tuple[Path, ...]:
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return tuple(folder / f"{name}.csv" for name in files)


@dataclass(frozen=True)
class Made:
    """A job of one style, with the application over it."""

    style: Style
    job: Path
    application: FastAPI

    def client(self) -> TestClient:
        return TestClient(
            self.application, base_url=HERE, client=("127.0.0.1", 5000), headers={"origin": HERE}
        )


@pytest.fixture(scope="module", params=STYLES)
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Made:
    style, folder = STYLES[request.param], tmp_path_factory.mktemp(request.param)
    job = folder / "job.linemap"
    create_job(str(job), RULES, now=NOW)
    with open_job(str(job)) as database:
        load_files(database, LoadRequest(paths=write(folder / "lists", files_of(style))), now=NOW)
    return Made(style, job, create_app(Settings(job=str(job)), today=NOW.date))


@pytest.fixture
def phone(made: Made) -> Iterator[TestClient]:
    with made.client() as client:
        yield client


def panel(client: TestClient, number: str) -> dict[str, Any]:
    answer = client.get("/api/structure", params={"line": "", "number": number})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def test_map_and_panel_have_the_numbers_as_listed(made: Made, phone: TestClient) -> None:
    assert phone.get("/api/structures").json()["number"] == list(made.style.numbers)
    for own, loose in zip(made.style.numbers, made.style.loose, strict=True):
        assert [panel(phone, each)["number"] for each in (own, loose)] == [own, own]


def test_what_other_lists_say_stands_at_the_structure_they_mean(made: Made, phone: TestClient) -> None:
    own = made.style.numbers
    panels = [panel(phone, each) for each in own]
    assert [len(each["poles"]) for each in panels] == [2, 2, 2, 2, 3, 2]
    assert {each["verdict"] for each in panels} == {"pass"}
    held = [[hold["id"] for hold in each["holds"]] for each in panels]
    assert held == [[], ["H-1"], ["H-2"], ["H-2"], ["H-2"], []]
    assert f"at {own[2]} to {own[4]}" in panels[3]["holds"][0]["sentence"]
    assert panels[0]["crossings"][0]["span"] == f"{own[0]} to {own[1]}"
    assert {step["code"] for step in panels[0]["steps"] if step["done"]} == {"spotted"}
    assert (panels[2]["back"], panels[2]["ahead"]) == (own[1], own[3])
    assert f"back to {own[1]}, face {own[3]}" in panels[2]["landmark"]


def test_the_phone_gets_them_and_records_in_any_spelling_land(made: Made, phone: TestClient) -> None:
    own, loose = made.style.numbers, made.style.loose
    (line,) = phone.get("/api/field/index").json()["lines"]
    miles = [
        phone.get("/api/field/mile", params={"line": "North", "mile": each["mile"]}).json()
        for each in line["miles"]
    ]
    assert [card["number"] for mile in miles for card in mile["structures"]] == list(own)
    said = {"step": "spotted", "crew": "Heron", "happened_at": "2026-05-14T09:00:00+00:00"}
    for structure in (own[3], loose[3]):
        event = {**said, "structure": structure, "id": str(uuid.uuid4())}
        sent = {"sent_at": dt.datetime.now(dt.UTC).isoformat(), "events": [event]}
        first, again = (phone.post("/api/events", json=sent).json()["results"][0] for _ in range(2))
        assert (first["outcome"], again["outcome"]) == ("stored", "duplicate"), first
    history = panel(phone, own[3])["history"]
    assert len(history) == 2
    listed = [each["event"]["structure"] for each in phone.get("/api/events").json()["events"]]
    assert listed == [own[0], own[3], own[3]]


def test_paper_export_next_and_stakes_print_them(made: Made, tmp_path: Path) -> None:
    own, loose = made.style.numbers, made.style.loose
    with open_job(str(made.job)) as database:
        view = redact_view(build_view(database, today=NOW.date()), Audience.CREW)
        paper = sheet_pdf(database, view, "card", chosen=Chosen(structures=(loose[2],)))
        text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(paper)).pages)
    assert all(each in text for each in own[1:4])
    linemap("export", made.job, "csv", "--out", tmp_path / "all.csv")
    table = list(csv.DictReader((tmp_path / "all.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["structure"] for row in table] == list(own)
    assert f"from {own[0]}" in linemap("next", made.job, "--crew", "Heron", "--from", loose[0]).stdout
    checked = linemap("check", made.job, "--all").stdout
    assert all(f"\n{each} " in f"\n{checked}" for each in own)
    linemap("stakeout", made.job, "--out", tmp_path / "stakes.csv", "--structures", loose[0])
    assert f"{own[0]} CL HUB" in (tmp_path / "stakes.csv").read_text(encoding="utf-8")
    assert f"North {own[4]}" in linemap("marks", made.job, loose[4]).stdout


def test_the_own_export_loaded_again_changes_no_number(made: Made, tmp_path: Path) -> None:
    linemap("export", made.job, "csv", "--out", tmp_path / "structures.csv")
    with open_job(str(made.job)) as database:
        request = LoadRequest(paths=(tmp_path / "structures.csv",))
        (file,) = review(database, Edit(load=request), now=NOW).applied.files
        assert file.rows_used == 6
        assert not [words for words in file.changes if "number" in words or "removed" in words]


@pytest.fixture
def plain(tmp_path: Path) -> Path:
    """A job whose list writes 12/1 to 13/3."""
    job, style = tmp_path / "again.linemap", STYLES["dashes"]
    create_job(str(job), RULES, now=NOW)
    files = {name: text for name, text in files_of(style).items() if name != "shots_2026-05-02"}
    files["structures"] = files["structures"].replace("-", "/").replace("H/TAN", "H-TAN")
    with open_job(str(job)) as database:
        load_files(database, LoadRequest(paths=write(tmp_path / "first", files)), now=NOW)
    return job


def test_a_list_written_another_way_changes_the_spelling_and_says_so(plain: Path, tmp_path: Path) -> None:
    anew = files_of(STYLES["dashes"])["structures"]
    with open_job(str(plain)) as database:
        before = build_view(database, today=NOW.date())
        request = LoadRequest(paths=write(tmp_path / "anew", {"structures": anew}))
        found = review(database, Edit(load=request), now=NOW)
        assert {each.code: each.count for each in found.consequences} == {"written anew": 6}
        assert not found.needs
        (file,) = load_files(database, request, now=NOW).files
        assert [words for words in file.changes if "12-1" in words] == ["12-1 number 12/1 -> 12-1"]
        after = build_view(database, today=NOW.date())
    assert [key[1] for key in after.row_of] == list(STYLES["dashes"].numbers)
    for was, now in zip(before.row_of, after.row_of, strict=True):
        assert len(before.poles_by_structure.get(was, ())) == len(after.poles_by_structure.get(now, ()))
        assert len(before.events_by_structure.get(was, ())) == len(after.events_by_structure.get(now, ()))
    assert before.holds_by_row.keys() == after.holds_by_row.keys() >= {1}


def test_records_sent_before_and_after_it_changed_are_of_one_structure(plain: Path, tmp_path: Path) -> None:
    anew = files_of(STYLES["dashes"])["structures"]
    made = Made(STYLES["dashes"], plain, create_app(Settings(job=str(plain)), today=NOW.date))
    said = {"step": "dug", "crew": "Raven", "happened_at": "2026-05-14T09:00:00+00:00", "structure": "13/1"}
    with made.client() as client:
        sent = {"sent_at": NOW.isoformat(), "events": [{**said, "id": str(uuid.uuid4())}]}
        assert client.post("/api/events", json=sent).json()["results"][0]["outcome"] == "stored"
        with open_job(str(plain)) as database:
            load_files(database, LoadRequest(paths=write(tmp_path / "anew", {"structures": anew})), now=NOW)
        assert client.post("/api/events", json=sent).json()["results"][0]["outcome"] == "duplicate"
        later = {**said, "id": str(uuid.uuid4()), "happened_at": "2026-05-15T09:00:00+00:00"}
        client.post("/api/events", json={**sent, "events": [later]})
        found = panel(client, "13-1")
    assert [each["text"] for each in found["history"]] == ["dug by Raven"] * 2


ALIKE = rows(
    "Structure,Northing,Easting",
    "45,900000,2250000",
    "045,901000,2250000",
    "46,902000,2250000",
    "T-1,903000,2250000",
)


def test_a_number_that_may_be_two_is_said_with_both(tmp_path: Path) -> None:
    job = tmp_path / "alike.linemap"
    create_job(str(job), RULES, now=NOW)
    lists = {"centreline": files_of(STYLES["plain"])["centreline"], "structures": ALIKE}
    with open_job(str(job)) as database:
        (_, listed) = load_files(database, LoadRequest(paths=write(tmp_path, lists)), now=NOW).files
        assert any(
            "45 and 045 differ in nothing but their writing" in each.reason for each in listed.problems
        )
        for name, header, cell in (
            ("poles", "Structure,Pole,Length", "0045,A,75"),
            ("holds", "Hold,Structures,Activities,From", "H,0045,all,2026-01-01"),
        ):
            with pytest.raises(InputRefused, match="may be structure 45 or 045"):
                load_files(database, LoadRequest(paths=write(tmp_path, {name: rows(header, cell)})), now=NOW)
        exact = rows("Structure,Pole,Length", "045,A,75", "STR 45,A,80")
        load_files(database, LoadRequest(paths=write(tmp_path, {"poles": exact})), now=NOW)
        view = build_view(database, today=NOW.date())
    assert [pole.length_ft for key in view.row_of for pole in view.poles_by_structure.get(key, ())] == [
        80.0,
        75.0,
    ]
    with Made(STYLES["plain"], job, create_app(Settings(job=str(job)), today=NOW.date)).client() as client:
        refused = client.get("/api/structure", params={"line": "", "number": "0045"})
        assert "45 or 045" in refused.json()["error"]["message"]
        event = {"step": "dug", "structure": "00045", "id": str(uuid.uuid4()), "happened_at": NOW.isoformat()}
        (sent,) = client.post("/api/events", json={"sent_at": NOW.isoformat(), "events": [event]}).json()[
            "results"
        ]
        assert (sent["outcome"], "45 or 045" in sent["why"]) == ("refused", True)


def test_poles_are_read_and_printed_by_the_words_of_the_owner(tmp_path: Path) -> None:
    job, style = tmp_path / "words.linemap", STYLES["letters"]
    create_job(str(job), RULES, now=NOW)
    lists = files_of(style)
    lines = {name: lists[name] for name in ("centreline", "structures")}
    poles = ("T-45,Lt,75", "T-45,RT,80", "DE-2,left,70", "DE-2,M,75", "DE-2,R,80", "T-46,A,65")
    lines["poles"] = rows("Structure,Pole,Length", *poles)
    lines["shots_2026-05-02"] = rows(
        "1,901000,2249993.75,0,T-45 L", "2,901000,2250006.25,0,STR T45 POLE R", "3,902000,2249993.75,0,T45A-L"
    )
    lines["records"] = rows(
        "Structure,Pole,Step,Date,Crew,Low by (in)",
        "DE-2,R,dug,2026-05-01,Heron,",
        "T-45,,framed,2026-05-02,Heron,0.5 at R",
    )
    lines["guys"] = rows(
        "Structure,Guy,Direction,Side,Pole,Lead", "DE-2,G1,back,,Rt.,60", "T-45,G1,back,,R,60"
    )
    lines["facts"] = rows(
        "Structure,Fact,Pole,Pointed by,Length,Who,Date", "T-45,brand,RT,place,80,Otter,2026-05-02"
    )
    lines["punch"] = rows("Item,Structure,Pole,Opened,Text", "P-1,DE-2,M,2026-05-02,staple missing")
    with open_job(str(job)) as database:
        declare(database, {"pole_words": "L/R", "numbering": "mile/number"}, now=NOW, who="Ode")
        report = load_files(database, LoadRequest(paths=write(tmp_path / "lists", lines)), now=NOW)
        noted = [each.reason for file in report.files for each in file.problems if "numbered" in each.reason]
        assert len(noted) == 6
        view = build_view(database, today=NOW.date())
        paper = sheet_pdf(database, view, "card", chosen=Chosen(structures=("DE-2",)))
    lengths = {
        key[1]: [(each.letter, each.length_ft) for each in found]
        for key, found in view.poles_by_structure.items()
    }
    assert lengths == {
        "T-45": [("A", 75.0), ("B", 80.0)],
        "DE-2": [("A", 70.0), ("B", 75.0), ("C", 80.0)],
        "T-46": [("A", 65.0)],
    }
    assert [(shot.structure, shot.pole) for shot in view.observed_shots] == [
        ("T-45", "A"),
        ("T-45", "B"),
        ("T-45A", "A"),
    ]
    (event,) = view.events_by_structure["North", "DE-2"]
    assert event.pole == "C"
    assert [reading.pole for reading in view.events_by_structure["North", "T-45"][0].readings] == ["B"]
    assert {guy.structure: guy.pole for guy in view.guys} == {"DE-2": "C", "T-45": "B"}
    assert view.facts_by_structure["North", "T-45"][0].pole == "B"
    assert view.punch[0].part == "B"
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(paper)).pages)
    assert {"L", "M", "R"} <= set(text.split())
    with Made(style, job, create_app(Settings(job=str(job)), today=NOW.date)).client() as client:
        found = panel(client, "DE-2")
    assert found["pole_words"] == ["L", "M", "R"]
    assert ">M</text>" in found["sketch_svg"]
    assert found["landmark"] == (
        "at DE-2: stand at pole M, the middle one, back to T-46, face T-47: pole L is on your left"
    )
    said = linemap("declare", job, "--numbering", "letters", "--pole-words", "1/2", "--preview").stdout
    assert "T-45A: series T, number 45, inserted A; place 4 by number; poles T-45A 1, T-45A 2" in said
    assert "nothing declared" in said
