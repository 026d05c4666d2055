"""Whole jobs whose crews describe shots in their own ways: all is read by the job's numbers, or asked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from linemap.domain.record.person import Audience
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.job.job import create_job
from linemap.service.people.redact import redact_view
from linemap.service.survey.survey import check_job
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import open_job

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
EAST, NORTH, SPAN, HALF = 2_250_000.0, 900_000.0, 1000.0, 6.25
RUN = [str(number) for number in range(1, 61)]
LETTERED = [*(f"T-{number}" for number in range(1, 9)), "DE-1", "END"]
#: How crews write pole p of structure n.
STYLES = (
    "POLE {n} {p}", "{p} POLE {n}", "{n} LEG {p}", "{n}/{p}", "{n}_{p}", "S-{n} {p}", "STR NO. {n} {p}",
    "TWR {n} {p}", "{n}{p}", "75-2 STR {n} {p} GL",
)  # fmt: skip

Load = Callable[..., JobView]


@pytest.fixture
def load(tmp_path: Path) -> Load:
    """Load files into one job, by their contents; return what is shown then."""

    def loaded(files: dict[str, Sequence[str]], **settings: str) -> JobView:
        job = str(tmp_path / "job.linemap")
        if settings or not Path(job).exists():
            rules = {"crs": "EPSG:6515", "line": "North", "combined_factor": "1", "base_point": "none"}
            create_job(job, {**rules, **settings}, now=NOW)
        for name, rows in files.items():
            (tmp_path / name).write_text("".join(f"{row}\n" for row in rows), encoding="utf-8")
        with open_job(job) as database:
            load_files(database, LoadRequest(paths=tuple(tmp_path / name for name in files)), now=NOW)
            return build_view(database, today=NOW.date())

    return loaded


def line_files(numbers: Sequence[str], **inserted: float) -> dict[str, Sequence[str]]:
    """Return a straight line with a structure every span, and some inserted at parts of it."""
    places = {**{number: float(at) for at, number in enumerate(numbers, 1)}, **inserted}
    return {
        "centreline.csv": ("PI,Northing,Easting", f"P1,{NORTH},{EAST}", f"P2,{NORTH},{EAST + 70 * SPAN}"),
        f"list{len(places)}.csv": (
            "Structure,Northing,Easting,Pole Spacing,Poles",
            *(f"{number},{NORTH},{EAST + SPAN * at},{2 * HALF},2" for number, at in places.items()),
        ),
    }


def shot(point: int, at: float, pole: str, text: str) -> str:
    north = NORTH + (HALF if pole == "A" else -HALF)
    return f"{point},{north:.3f},{EAST + SPAN * at:.3f},,{text}"


def findings(view: JobView, code: str) -> list[str]:
    return [found.words for found in view.ledger.everything() if found.code == code]


def test_ten_crews_describe_the_poles_of_one_line(load: Load) -> None:
    rows = [
        shot(10 * at + side, at, pole, STYLES[at % 10].format(n=at, p=pole))
        for at in range(1, 61)
        for side, pole in enumerate("AB")
    ]
    view = load({**line_files(RUN), "day.csv": rows})
    assert {(each.structure, each.pole) for each in view.observed_shots} == {
        (number, pole) for number in RUN for pole in "AB"
    }
    assert not view.set_poles.unused
    assert {each.item for each in view.observed_shots} == {"pole"}


def test_series_and_names_are_poles_by_the_owners_words(load: Load) -> None:
    texts = ("{n} {w}", "{n}-{w}", "{w} POLE {n}", "STR {n} {f}", "{n} {f} LEG")
    words = {"A": ("L", "LEFT"), "B": ("R", "RIGHT")}
    rows = [
        shot(10 * at + side, at, pole, texts[at % 5].format(n=number, w=words[pole][0], f=words[pole][1]))
        for at, number in enumerate(LETTERED, 1)
        for side, pole in enumerate("AB")
    ]
    view = load({**line_files(LETTERED), "day.csv": rows}, pole_words="L/R")
    assert [(each.structure, each.pole, each.item) for each in view.observed_shots] == [
        (number, pole, "pole") for number in LETTERED for pole in "AB"
    ]


def test_shots_before_their_list_are_read_when_it_comes(load: Load) -> None:
    files = line_files(LETTERED)
    shots = {"day.csv": [shot(1, 3, "A", "T3 A"), shot(2, 3, "B", "T3 B"), shot(3, 9, "A", "DE1A")]}
    before = load({"centreline.csv": files["centreline.csv"], **shots})
    assert {each.structure for each in before.observed_shots} == {""}
    after = load({name: rows for name, rows in files.items() if name != "centreline.csv"})
    assert [(each.structure, each.pole) for each in after.observed_shots] == [
        ("T-3", "A"),
        ("T-3", "B"),
        ("DE-1", "A"),
    ]


def test_a_number_inserted_later_makes_what_reads_two_ways_asked(load: Load) -> None:
    shots = {"day.csv": [shot(1, 45, "A", "45A"), shot(2, 45, "B", "45B"), shot(3, 46, "A", "46 A")]}
    before = load({**line_files(RUN), **shots})
    assert [each.pole for each in before.observed_shots] == ["A", "B", "A"]
    assert findings(before, "description reads two ways") == []
    after = load({name: rows for name, rows in line_files(RUN, **{"45A": 45.5}).items() if "list" in name})
    assert [(each.structure, each.pole) for each in after.observed_shots] == [
        ("", ""),
        ("45", "B"),
        ("46", "A"),
    ]
    (asked,) = findings(after, "description reads two ways")
    assert asked == '"45A", point 1 of day.csv: may be pole A of 45 or structure 45A; shot not used'
    assert asked in str(check_job(after).rows)


@pytest.mark.parametrize("text", ["TREE", "?", "123 OAK"])
def test_rows_that_are_not_read_stay_on_the_check(load: Load, text: str) -> None:
    view = load({**line_files(RUN), "day.csv": [shot(1, 3, "A", "3 A"), shot(2, 3, "B", text)]})
    (told,) = findings(view, "description not read")
    assert told == f'1 shot of day.csv not read and not used: "{text}"'
    assert told in str(check_job(view).rows)


def test_the_public_reads_no_descriptions_of_a_crew(load: Load) -> None:
    rows = [
        shot(1, 3, "A", "3 A"),
        shot(2, 3, "B", "STR 3"),
        shot(3, 3, "B", "OAK 3 B"),
        shot(4, 3, "B", "?"),
    ]
    view = load({**line_files(RUN), "day.csv": rows})
    codes = {"description reads two ways", "description not read"}
    assert {found.code for found in view.ledger.everything()} >= codes
    public = redact_view(view, Audience.PUBLIC)
    assert codes.isdisjoint(found.code for found in public.ledger.everything())


def test_columns_say_structure_pole_and_item_where_there_are_any(load: Load) -> None:
    rows = [
        "Point,Northing,Easting,Structure,Pole,Item,Desc",
        f"1,{NORTH + HALF},{EAST + SPAN},1,L,pole,PP",
        f"2,{NORTH - HALF},{EAST + SPAN},1,Right,,PP",
        f"3,{NORTH + HALF},{EAST + 2 * SPAN},2,L,top,x",
        f"4,{NORTH + HALF},{EAST + 2 * SPAN},2,L,,TOP",
        f"5,{NORTH},{EAST + 2 * SPAN},2,,centre,",
        f"6,{NORTH + HALF},{EAST + 3 * SPAN},,L,,3",
    ]
    view = load({**line_files(RUN), "columns.csv": rows}, pole_words="L/R")
    assert [(each.structure, each.pole, each.item) for each in view.observed_shots] == [
        ("1", "A", "pole"),
        ("1", "B", "pole"),
        ("2", "A", "top"),
        ("2", "A", "top"),
        ("2", "", "centre"),
        ("3", "A", "pole"),
    ]
