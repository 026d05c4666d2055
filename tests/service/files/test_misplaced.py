"""Lists and lines that lie elsewhere: one refusal with the distance, the likely reason and what to say."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import geopandas
import numpy as np
import pytest
import shapely

from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.service.compute import ComputeRequest, compute
from linemap.service.files.load_report import LoadReport, LoadRequest
from linemap.service.files.review import load_files
from linemap.service.job.job import create_job
from linemap.store.database import Database, open_job
from linemap.store.structures import load_structures
from linemap.units import LengthUnit

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
MONTANA = Projection.from_text("EPSG:6515")
FACTOR = 0.9992
VERTICES = np.array([[2_250_000.0, 900_000.0], [2_262_000.0, 915_000.0], [2_270_000.0, 932_000.0]])
SHARES = np.linspace(0.02, 0.98, 13)
CENTRES = np.concatenate([a + SHARES[:, None] * (b - a) for a, b in pairwise(VERTICES)])
FOOT_M, SURVEY_M = LengthUnit.FOOT.metres, LengthUnit.US_SURVEY_FOOT.metres


def centreline(points: np.ndarray) -> str:
    return "PI,N,E\n" + "".join(f"PI-{n},{y:.4f},{x:.4f}\n" for n, (x, y) in enumerate(points))


def structures(points: np.ndarray) -> str:
    return "Str,North,East\n" + "".join(f"1/{n},{y:.4f},{x:.4f}\n" for n, (x, y) in enumerate(points, 1))


def shots(points: np.ndarray) -> str:
    return "".join(f"{n},{y:.4f},{x:.4f},4000,STR 1/{n} A\n" for n, (x, y) in enumerate(points, 1))


def zone(code: str, points: np.ndarray) -> np.ndarray:
    lon, lat = MONTANA.to_lonlat(points[:, 0], points[:, 1])
    return np.column_stack(Projection.from_text(code).from_lonlat(lon, lat))


def exchanged(points: np.ndarray) -> np.ndarray:
    return points[:, ::-1]


def metres(points: np.ndarray) -> np.ndarray:
    return points * FOOT_M


def survey_feet(points: np.ndarray) -> np.ndarray:
    return points * (FOOT_M / SURVEY_M)


def ground(points: np.ndarray) -> np.ndarray:
    return points / FACTOR


def ground_in_survey_feet(points: np.ndarray) -> np.ndarray:
    return ground(survey_feet(points))


def utm(points: np.ndarray) -> np.ndarray:
    return zone("EPSG:32612", points)


def next_zone(points: np.ndarray) -> np.ndarray:
    return zone("EPSG:32613", points)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job with a line and its structures, not to be changed."""
    path = tmp_path_factory.mktemp("made") / "north.linemap"
    rules = {"crs": "EPSG:6515", "line": "North", "combined_factor": str(FACTOR), "base_point": "none"}
    create_job(str(path), rules, now=NOW)
    with open_job(path) as database:
        load(database, path.parent, c=centreline(VERTICES), s=structures(CENTRES))
    return path


@pytest.fixture
def job(made: Path, tmp_path: Path) -> Iterator[Database]:
    with open_job(shutil.copy(made, tmp_path / "north.linemap")) as database:
        yield database


def load(job: Database, folder: Path, *, said: dict[str, object] | None = None, **files: str) -> LoadReport:
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    paths = tuple(folder / f"{name}.csv" for name in files)
    return load_files(job, LoadRequest(paths=paths, **(said or {})), now=NOW)  # type: ignore[arg-type]


CASES = [
    (exchanged, "northing and easting exchanged", '--column "easting=N'),
    (metres, "in the metre", "[m]"),
    (survey_feet, "in the US survey foot", "[ftUS]"),
    (ground, "ground coordinates, scaled", "these times 0.9992"),
    (ground_in_survey_feet, "ground coordinates, scaled in the US survey foot", "ask for grid coordinates"),
    (utm, "UTM zone 12N", "--crs-of-file EPSG:"),
    (next_zone, "UTM zone 13N", "--crs-of-file EPSG:"),
]


@pytest.mark.parametrize(("turned", "words", "remedy"), CASES)
@pytest.mark.parametrize("write", [structures, centreline])
def test_a_list_that_lies_elsewhere_is_refused_with_its_one_cause(
    job: Database,
    tmp_path: Path,
    turned: Callable[[np.ndarray], np.ndarray],
    words: str,
    remedy: str,
    write: Callable[[np.ndarray], str],
) -> None:
    text = write(turned(CENTRES if write is structures else VERTICES))
    with pytest.raises(InputRefused) as refused:
        load(job, tmp_path, wrong=text)
    (problem,) = refused.value.problems
    assert "half of them lie" in problem.reason
    assert f"{words}" in problem.reason
    assert remedy in problem.remedy
    with job.reading() as connection:
        assert load_structures(connection).easting[0] == pytest.approx(CENTRES[0, 0], abs=1e-3)


@pytest.mark.parametrize(("turned", "words"), [(metres, "in the metre"), (next_zone, "UTM zone 13N")])
def test_shots_of_another_unit_or_zone_are_refused_with_it(
    job: Database, tmp_path: Path, turned: Callable[[np.ndarray], np.ndarray], words: str
) -> None:
    with pytest.raises(
        InputRefused,
        match=f"26 shots: half of them lie .* km or more from the structures they name; .*{words}.* half lie",
    ):
        load(job, tmp_path, day=shots(turned(CENTRES)))


def test_shots_moved_alike_by_a_base_typed_in_wrong_are_told_by_how_much(
    job: Database, tmp_path: Path
) -> None:
    with pytest.raises(InputRefused) as refused:
        load(job, tmp_path, day=shots(CENTRES + np.array([200_000.0, 0.0])))
    (problem,) = refused.value.problems
    assert "all moved alike, dN +0.0, dE +200,000.0 ft, half lie within 0.00 ft" in problem.reason


@pytest.mark.parametrize("code", ["EPSG:32001", "EPSG:32002", "EPSG:26712"])
def test_nad27_is_named_with_what_its_step_is_good_for_and_no_ballpark_one_is_offered(
    job: Database, tmp_path: Path, code: str
) -> None:
    with pytest.raises(InputRefused) as refused:
        load(job, tmp_path, day=shots(zone(code, CENTRES)))
    (problem,) = refused.value.problems
    names = {"EPSG:32001": "Montana North", "EPSG:32002": "Montana Central", "EPSG:26712": "UTM zone 12N"}
    assert f"in NAD27 / {names[code]} ({code})" in problem.reason
    assert "by a step between the datums known here within" in problem.reason
    assert problem.remedy.startswith("if so, ask for an export in EPSG:6515: PROJ's grid")


def test_a_list_scaled_about_a_pi_is_told_about_which(job: Database, tmp_path: Path) -> None:
    about = VERTICES[0] + (CENTRES[13:] - VERTICES[0]) / FACTOR
    with pytest.raises(InputRefused) as refused:
        load(job, tmp_path, wrong=structures(about))
    (problem,) = refused.value.problems
    assert "ground coordinates, scaled about PI-0 of North" in problem.reason
    assert "these times 0.9992 about PI-0 of North" in problem.remedy


def test_exchanged_shots_are_asked_about_and_kept(job: Database, tmp_path: Path) -> None:
    report = load(job, tmp_path, day=shots(exchanged(CENTRES)))
    (problem,) = [each for each in report.problems if "exchanged" in each.reason]
    assert problem.severity is Severity.NOTED


@pytest.mark.parametrize(
    ("turned", "said"),
    [
        (exchanged, {"columns": {"easting": "North", "northing": "East"}}),
        (
            metres,
            {
                "columns": {"easting": "East", "northing": "North"},
                "units": dict.fromkeys(("easting", "northing"), "m"),
            },
        ),
        (
            survey_feet,
            {
                "columns": {"easting": "East", "northing": "North"},
                "units": dict.fromkeys(("easting", "northing"), "ftUS"),
            },
        ),
        (next_zone, {"crs_of_file": "EPSG:32613"}),
    ],
)
def test_what_the_refusal_says_brings_the_list_home(
    job: Database, tmp_path: Path, turned: Callable[[np.ndarray], np.ndarray], said: dict[str, object]
) -> None:
    load(job, tmp_path, said={"kind": "structures", **said}, right=structures(turned(CENTRES)))
    with job.reading() as connection:
        found = load_structures(connection)
    assert np.column_stack([found.easting, found.northing]) == pytest.approx(CENTRES, abs=2e-3)


def test_a_person_may_say_that_a_list_is_right_as_it_stands(job: Database, tmp_path: Path) -> None:
    report = load(job, tmp_path, said={"crs_of_file": "job"}, beside=structures(survey_feet(CENTRES)))
    assert "coordinates taken in the reference of the job, as said" in report.files[0].understood
    assert report.files[0].evidence[0] == "coordinates: taken in the job's reference, as said"


def test_a_list_far_off_without_a_reason_says_the_distance(job: Database, tmp_path: Path) -> None:
    with pytest.raises(
        InputRefused, match=r"26 structures: half of them lie 302 km or more from the line; check"
    ):
        load(job, tmp_path, far=structures(CENTRES + np.array([1e6, 0.0])))


def test_structures_set_off_from_the_line_are_no_other_foot(job: Database, tmp_path: Path) -> None:
    beside = CENTRES + np.array([3.0, -3.0])
    (file,) = load(job, tmp_path, beside=structures(beside)).files
    assert file.rows_used == len(beside)


def shapefile(folder: Path, points: np.ndarray, crs: str) -> Path:
    frame = geopandas.GeoDataFrame(
        {"structure": [f"1/{n}" for n in range(1, len(points) + 1)]}, geometry=shapely.points(points), crs=crs
    )
    path = folder / "list.shp"
    frame.to_file(path)
    return path


@pytest.mark.parametrize("declared", ["EPSG:32612", "EPSG:4326"])
def test_a_wrong_prj_is_refused_with_the_word_that_overrides_it(
    job: Database, tmp_path: Path, declared: str
) -> None:
    path = shapefile(tmp_path, CENTRES, declared)
    with pytest.raises(InputRefused) as refused:
        load_files(job, LoadRequest(paths=(path,)), now=NOW)
    (problem,) = refused.value.problems
    assert "--crs-of-file job" in problem.remedy
    report = load_files(job, LoadRequest(paths=(path,), crs_of_file="job"), now=NOW)
    assert report.files[0].rows_used == len(CENTRES)
    assert "as said, not the EPSG:" in report.files[0].evidence[0]


def test_a_reference_that_is_none_is_refused(job: Database, tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="--crs-of-file"):
        load(job, tmp_path, said={"crs_of_file": "EPSG:1"}, s=structures(CENTRES))


def test_context_far_away_is_asked_about_and_taken(job: Database, tmp_path: Path) -> None:
    report = load(job, tmp_path, c="layer,name,N,E\nroads,A,900000,9250000\n")
    (problem,) = report.problems
    assert "every feature lies" in problem.reason
    assert problem.severity is Severity.NOTED


def test_structures_of_a_line_without_a_centreline_are_refused_for_that(
    job: Database, tmp_path: Path
) -> None:
    south = structures(CENTRES + np.array([1e6, 0.0])).replace("1/", "South,1/").replace("Str", "Line,Str", 1)
    with pytest.raises(InputRefused, match=r"South.*no centreline"):
        load(job, tmp_path, south=south)


def test_a_reference_of_degrees_is_no_reference_of_grid_columns(job: Database, tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="--crs-of-file"):
        load(job, tmp_path, said={"crs_of_file": "EPSG:4326"}, list=structures(CENTRES))


def test_compute_says_the_one_cause_before_its_findings(tmp_path: Path) -> None:
    (tmp_path / "line.csv").write_text(centreline(VERTICES), encoding="utf-8")
    for name, points in {"right": CENTRES, "wrong": ground_in_survey_feet(CENTRES)}.items():
        (tmp_path / f"{name}.csv").write_text(structures(points), encoding="utf-8")
        request = ComputeRequest(
            centreline=tmp_path / "line.csv",
            structures=tmp_path / f"{name}.csv",
            crs="EPSG:6515",
            combined_factor=str(FACTOR),
            out=tmp_path / "out.csv",
        )
        said = [problem for problem in compute(request).problems if "half of them lie" in problem.reason]
        assert len(said) == (name == "wrong")
    assert "ground coordinates, scaled in the US survey foot" in said[0].reason
    assert said[0].severity is Severity.NOTED
