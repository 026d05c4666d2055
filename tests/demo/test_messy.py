"""The messy twins of the invented line's files: read with all their damage, they mean the same."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from linemap.domain.design.compute_figures import figures
from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Line
from linemap.domain.design.structure import Structures
from linemap.errors import Severity
from linemap.geometry.projection import Projection
from linemap.geometry.station import Stationing
from linemap.io.cells.table import Loaded
from linemap.io.design.pi_list import PiList, read_pi_list
from linemap.io.design.poles import read_poles
from linemap.io.design.structures import read_structures
from linemap.io.source.read import read_source
from linemap.io.survey.shots import read_shots
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.job.job import create_job
from linemap.store.database import Database, open_job
from linemap.units import LengthUnit

LINE = "Brindle Gap - Amber Sill 115 kV"
FACTOR = 0.999217


@pytest.fixture(scope="module")
def montana() -> Projection:
    return Projection.from_text("EPSG:6515")


@pytest.fixture(scope="module")
def messy(demo_files: Path) -> Path:
    return demo_files / "messy"


@pytest.fixture(scope="module")
def structures(messy: Path, montana: Projection) -> Loaded[Structures]:
    table = read_source(messy / "structure_list_revB.xlsx").tables[0]
    return read_structures(table, projection=montana, line_default=LINE)


@pytest.fixture(scope="module")
def clean(demo_files: Path, montana: Projection) -> Structures:
    table = read_source(demo_files / "structures_revB.csv").tables[0]
    return read_structures(table, projection=montana, line_default=LINE).value


@pytest.fixture(scope="module")
def pi_list(messy: Path, montana: Projection) -> Loaded[PiList]:
    table = read_source(messy / "pi_list.csv").tables[0]
    return read_pi_list(table, projection=montana, line_default=LINE, combined_factor=FACTOR)


def test_the_messy_list_gives_121_structures_and_lists_nine_rows(structures: Loaded[Structures]) -> None:
    assert len(structures.value) == structures.rows_used == 121
    assert len(structures.rows_left_out) == 9
    assert structures.rows_in == 130
    reasons = Counter(p.reason for p in structures.problems if p.severity is Severity.LEFT_OUT)
    assert reasons == {
        "stands above the headings and is not read": 2,
        "the headings again": 2,
        "a title or remark, not a row of the list": 2,
        "a total, not a row of the list": 1,
        "struck through on the sheet": 1,
        "marked as deleted in the list": 1,
    }


def test_every_number_turned_into_a_date_is_restored_and_flagged(structures: Loaded[Structures]) -> None:
    restored = [p for p in structures.problems if p.reason.startswith("restored from date as ")]
    numbers = structures.value.number.tolist()
    dates = [number for number in numbers if int(number.split("/")[0]) <= 12]
    assert len(restored) == len(dates) == 65
    assert all(problem.severity is Severity.NOTED and problem.row for problem in restored)
    assert [problem.reason.split(":")[0].rpartition(" ")[2] for problem in restored] == dates


def test_hidden_rows_are_read_and_doubts_are_questions(structures: Loaded[Structures]) -> None:
    words = [str(problem) for problem in structures.problems]
    for part in (
        "2 rows are hidden by a filter on the sheet and are read",
        "may be 62°10'30\" L (packed) or 62°06'11\" L (decimal)",
        "it fits the structure in the row before",
        "latitude and longitude among grid coordinates; read as WGS 84",
    ):
        assert any(part in each for each in words), part


def compute(loaded: Structures, pi_list: PiList, montana: Projection) -> Figures:
    line = Line(
        name=LINE,
        crs=montana.text,
        unit=montana.unit,
        centreline=pi_list.centrelines[LINE],
        combined_factor=FACTOR,
        stationing=Stationing.from_pairs(0.0, [(each.back, each.ahead) for each in pi_list.equations]),
    )
    return figures([line], loaded, projection=montana)


def test_its_figures_equal_those_of_the_clean_list(
    structures: Loaded[Structures], clean: Structures, pi_list: Loaded[PiList], montana: Projection
) -> None:
    found = compute(structures.value, pi_list.value, montana)
    wanted = compute(clean, pi_list.value, montana)
    assert found.structures.number.tolist() == wanted.structures.number.tolist()
    assert found.structures.pole_count.tolist() == wanted.structures.pole_count.tolist()
    assert found.structures.section_break.tolist() == wanted.structures.section_break.tolist()
    # two rows came as degrees with ten decimals, 0.00002 ft; the generator's own projection adds 0.0005
    for name in ("station", "true_distance", "offset", "ahead_span", "ruling_span"):
        assert getattr(found, name) == pytest.approx(getattr(wanted, name), abs=0.002, nan_ok=True), name
    for name in ("deflection_deg", "arm_azimuth_deg"):
        assert getattr(found, name) == pytest.approx(getattr(wanted, name), abs=1e-6, nan_ok=True), name
    assert np.nanmax(np.abs(found.poles - wanted.poles)) < 0.002


def test_the_pi_list_gives_vertices_and_both_equations(pi_list: Loaded[PiList]) -> None:
    assert len(pi_list.value.centrelines[LINE].easting) == 11
    assert [(each.line, each.back, each.ahead) for each in pi_list.value.equations] == [
        (LINE, 47000.0, 47384.5),
        (LINE, 95384.5, 95323.75),
    ]
    assert [(problem.row, problem.column) for problem in pi_list.problems] == [
        (2, "Dist Ah"),
        (5, "Brg Ah"),
        (8, "Delta"),
    ]
    words = [problem.reason for problem in pi_list.problems]
    assert "distances are ground" in words[0]
    assert '4" apart' in words[1]
    assert "the coordinates say the first" in words[2]


def test_the_messy_schedule_gives_the_same_poles(messy: Path, demo_files: Path) -> None:
    found, wanted = (
        {
            (pole.structure, pole.letter): (round(pole.length_ft or 0.0, 2), pole.pole_class)
            for pole in read_poles(read_source(path).tables[0], unit=LengthUnit.FOOT).value
        }
        for path in (messy / "pole_schedule_messy.xlsx", demo_files / "pole_schedule.xlsx")
    )
    assert len(wanted) == 249
    assert found == wanted


def test_118_lines_give_111_pole_shots_and_seven_for_a_person(messy: Path, montana: Projection) -> None:
    loaded = read_shots(read_source(messy / "shots_raw.txt").tables[0], projection=montana)
    poles = {shot.row for shot in loaded.value if shot.item == "pole"}
    listed = {problem.row for problem in loaded.problems}
    assert len(loaded.value) == loaded.rows_in == 118
    assert len(poles) == 111
    assert listed == set(range(1, 119)) - poles
    assert len(listed) == 7


@pytest.fixture
def job(tmp_path: Path) -> Iterator[Database]:
    path = str(tmp_path / "north.linemap")
    create_job(path, {"crs": "EPSG:6515", "line": LINE, "combined_factor": str(FACTOR)}, now=NOW)
    with open_job(path) as database:
        yield database


NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)


def test_all_messy_files_load_into_a_job_and_exchanged_rows_are_told(job: Database, messy: Path) -> None:
    report = load_files(job, LoadRequest(paths=tuple(sorted(messy.iterdir()))), now=NOW)
    assert [(file.kind, file.rows_used) for file in report.files] == [
        ("centreline", 13),
        ("structures", 121),
        ("poles", 135),
        ("shots", 118),
    ]
    shots = report.files[-1]
    (told,) = [problem for problem in shots.problems if "exchanged" in problem.reason]
    assert "9 of 118 shots (rows 1, 2, 3, 4, 5, 6, 7, 8, 9) lie" in told.reason
    assert told.severity is Severity.NOTED
