"""What is not loaded or declared yet withholds what needs it and nothing else: pages and exports open."""

from __future__ import annotations

import datetime as dt
import html
from collections.abc import Iterator
from pathlib import Path

import pytest
from command import linemap
from starlette.testclient import TestClient

from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.job.job import create_job, declare
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.web.app import create_app

NOW = dt.datetime(2026, 5, 16, 8, tzinfo=dt.UTC)
PAGES = ("/", "/survey", "/progress", "/files", "/field")
ANSWERS = ("job", "structures", "centreline", "context", "survey", "progress", "holds", "field/index")
CENTRELINE = "line,point,easting,northing\nNorth,P1,1000,1000\nNorth,P2,5000,1000\n"
STRUCTURES = "line,structure,easting,northing\n" + "".join(
    f"North,{number},{1000 + 500 * number},1000\n" for number in range(1, 5)
)
SHOTS = (
    "point,northing,easting,elevation,description\n1,1006.25,1500,100,STR 1 A\n2,993.75,1500,100,STR 1 B\n"
)
FILES = {"centreline": CENTRELINE, "structures": STRUCTURES, "shots": SHOTS}
#: What is loaded -> what is declared -> what every page says, and the short name of it.
CASES = {
    "nothing": ((), {}, "No line is loaded yet", ["lines"]),
    "a centreline": (
        ("centreline",),
        {},
        "No structures are loaded yet",
        ["structures", "combined factor", "base point"],
    ),
    "no base point": (
        tuple(FILES),
        {"combined_factor": "1.0"},
        "Verdicts wait for the base point",
        ["base point"],
    ),
    "a factor that needs elevations": (
        tuple(FILES),
        {"combined_factor": "auto", "base_point": "none", "vertical_datum": "NAVD88"},
        "auto needs ground elevations, and no structure of line North has one",
        ["ground elevations"],
    ),
}


@pytest.fixture(params=CASES, ids=str)
def case(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Path, str, list[str]]:
    loaded, declared, words, waits = CASES[request.param]
    job = tmp_path / "north.linemap"
    create_job(str(job), {"crs": "EPSG:6515", **declared}, now=NOW)
    for kind in loaded:
        path = tmp_path / f"{kind}.csv"
        path.write_text(FILES[kind], encoding="utf-8")
        with open_job(str(job)) as database:
            load_files(database, LoadRequest(paths=(path,), kind=kind), now=NOW)
    return job, words, waits


@pytest.fixture
def client(case: tuple[Path, str, list[str]]) -> Iterator[TestClient]:
    with TestClient(create_app(Settings(job=str(case[0]))), raise_server_exceptions=False) as opened:
        yield opened


def test_pages_open_with_the_sentence_and_where_to_give_it(
    case: tuple[Path, str, list[str]], client: TestClient
) -> None:
    _, words, waits = case
    for page in PAGES:
        answer = client.get(page, headers={"accept": "text/html"})
        assert (answer.status_code, answer.headers["content-type"]) == (200, "text/html; charset=utf-8")
        if page != "/field":
            assert words in html.unescape(answer.text), page
            assert ("/settings#coordinates" in answer.text) == (waits[-1] not in ("lines", "structures")), (
                page
            )
    for name in ANSWERS:
        assert client.get(f"/api/{name}").status_code == 200, name
    assert any(words in each["words"] for each in client.get("/api/job").json()["waits"])
    assert client.get("/health").json()["waits"] == waits


def test_commands_say_the_same_and_do_what_can_be_done(
    case: tuple[Path, str, list[str]], tmp_path: Path
) -> None:
    job, words, waits = case
    for command in (
        ("check", str(job)),
        ("decide", str(job)),
        ("progress", str(job)),
        ("export", str(job), "csv", "--out", str(tmp_path / "out.csv")),
        ("export", str(job), "geojson", "--out", str(tmp_path / "out.geojson")),
        ("export", str(job), "gpkg", "--out", str(tmp_path / "out.gpkg")),
        ("export", str(job), "snapshot", "--out", str(tmp_path / "out.html")),
        ("redmarks", str(job), "--out", str(tmp_path / "marks.xlsx")),
        ("stakeout", str(job), "--out", str(tmp_path / "stakes.csv")),
    ):
        code, _, err = linemap(*command)
        assert (code, words in err) == (0, True), (command, err)
    code, out, err = linemap("next", str(job), "--crew", "Auger 1", "--step", "dug")
    assert words in err
    assert code == (2 if waits[0] in ("lines", "structures") else 0), (out, err)


def test_verdicts_come_when_what_they_wait_for_is_declared(tmp_path: Path) -> None:
    job = tmp_path / "north.linemap"
    create_job(str(job), {"crs": "EPSG:6515", "combined_factor": "auto", "base_point": "none"}, now=NOW)
    for kind, text in FILES.items():
        (tmp_path / f"{kind}.csv").write_text(text, encoding="utf-8")
    with open_job(str(job)) as database:
        paths = tuple(tmp_path / f"{kind}.csv" for kind in FILES)
        load_files(database, LoadRequest(paths=paths), now=NOW)
    with TestClient(create_app(Settings(job=str(job)))) as client:
        before = client.get("/api/structure?number=1").json()
        assert "no structure of line North has one" in html.unescape(client.get("/survey").text)
        with open_job(str(job)) as database:
            declare(database, {"combined_factor": "1.0"}, now=NOW)
        after = client.get("/api/structure?number=1").json()
        assert client.get("/api/job").json()["waits"] == []
    assert before["verdict"] == "cannot tell"
    assert after["verdict"] != "cannot tell"
