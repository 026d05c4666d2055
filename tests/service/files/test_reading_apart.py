"""Files of strangers: read in children as they are read here, and refused with words whatever they hold."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import geopandas
import pytest
import shapely
from dose import examples
from mutants import Original, job_of, originals, outcomes

from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.source.parcel import packed, unpacked
from linemap.io.source.sandbox import Cancelled
from linemap.service.files.file_page import files_answer
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.reading import FileRead, ReaderContext, Said, read_file, read_files
from linemap.service.files.review import load_files
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
DECLARED = ReaderContext(projection=Projection.from_text("EPSG:6515"), line_default="North", settings={})
SAID = Said()
WELL = {"read", "loaded", "refused"}


def test_every_demo_file_is_read_in_a_child_as_it_is_here(demo_files: Path) -> None:
    paths = sorted(path for path in demo_files.rglob("*.*") if path.is_file())
    told: list[tuple[int, int]] = []
    apart = read_files(
        paths, SAID, DECLARED, (), now=NOW, progress=lambda done, all_: told.append((done, all_))
    )
    sizes = sum(path.stat().st_size for path in paths)
    assert told[-1] == (sizes, sizes)
    for path, found in zip(paths, apart, strict=True):
        here = read_file(path, SAID, DECLARED, (), now=NOW)
        # values without `==` (arrays, shapes) are compared by what they are packed to, once they travelled
        assert packed(found) == packed(unpacked(packed(here), homes=[FileRead.__module__])), path.name
    assert sum(found.loaded is not None for found in apart) > 20


def test_the_page_of_files_tells_how_each_kept_file_is_read(
    demo_database: Database, demo_view: JobView
) -> None:
    files = files_answer(demo_database, demo_view).files
    assert len(files) > 20
    assert [file.name for file in files if not file.read_as] == []


def test_what_dies_is_the_refusal_of_its_own_file(demo_files: Path, tmp_path: Path) -> None:
    import os

    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    gone, folder = tmp_path / "gone.csv", tmp_path / "folder.csv"
    folder.mkdir()
    well = demo_files / "facts.csv"
    found = read_files([gone, well, pipe, folder], SAID, DECLARED, (), now=NOW)
    assert [each.name for each in found] == ["gone.csv", "facts.csv", "pipe.csv", "folder.csv"]
    reasons = [[problem.reason for problem in each.refused] for each in found]
    assert reasons == [
        ["there is no such file"],
        [],
        ["this is a device or a pipe, not a file"],
        ["this is a folder, not a file"],
    ]


def test_reading_many_files_can_be_cancelled(demo_files: Path) -> None:
    paths = [demo_files / "framing_records.csv"] * 40
    with pytest.raises(Cancelled):
        read_files(paths, SAID, DECLARED, (), now=NOW, cancelled=lambda: True)


@pytest.fixture(scope="module")
def known(demo_files: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Original]:
    return originals(demo_files, tmp_path_factory.mktemp("maps"))


@pytest.fixture
def job(known: list[Original], tmp_path: Path) -> Iterator[Database]:
    with open_job(job_of(known, tmp_path)) as database:
        yield database


def load(job: Database, path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")
    load_files(job, LoadRequest(paths=(path,)), now=NOW)


def test_equations_out_of_order_are_refused_by_their_file(
    job: Database, demo_files: Path, tmp_path: Path
) -> None:
    head, first, second, *_ = (demo_files / "equations.csv").read_text(encoding="utf-8").splitlines()
    with pytest.raises(InputRefused, match=r"equations\.csv.*equation 2 .* does not follow") as refused:
        load(job, tmp_path / "equations.csv", f"{head}\n{second}\n{first}\n")
    assert refused.value.problems[0].remedy
    load(job, tmp_path / "equations.csv", f"{head}\n{first}\n{second}\n")


@pytest.mark.parametrize("count", ["9223372036854775808", "1e18", "1000000001"])
def test_a_count_that_no_list_holds_is_refused_by_its_row(job: Database, tmp_path: Path, count: str) -> None:
    with pytest.raises(InputRefused, match=r"receipts\.csv, row 2.*no whole count"):
        load(
            job,
            tmp_path / "receipts.csv",
            f"item,structure,qty received,received on\n70-2 pole,1/1,{count},2026-05-01\n",
        )


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (lambda text: text.replace('"False_Easting",', '"False_Easting",1e400'), "s.shp"),
        (lambda text: text.replace("44.25", "4425"), "PROJ"),
        (lambda _: 'COMPD_CS["a",PROJCS["b"],VERT_CS["c"]]', "s.shp"),
        (lambda text: text[: len(text) // 2], "s.shp"),
    ],
)
def test_a_damaged_reference_is_refused_in_one_message(
    job: Database, tmp_path: Path, damage: Callable[[str], str], words: str
) -> None:
    points = shapely.points([2250000.0, 2250948.7], [900000.0, 900499.4])
    frame = geopandas.GeoDataFrame({"structure": ["1/1", "1/2"]}, geometry=points, crs="EPSG:6515")
    frame.to_file(tmp_path / "s.shp", engine="pyogrio")
    reference = tmp_path / "s.prj"
    reference.write_text(damage(reference.read_text()))
    with pytest.raises(InputRefused, match=words):
        load_files(job, LoadRequest(paths=(tmp_path / "s.shp",)), now=NOW)


@pytest.mark.fuzz
def test_damaged_files_of_every_kind_and_format_are_loaded_or_refused(
    job: Database, known: list[Original], tmp_path: Path
) -> None:
    folder = tmp_path / "mutants"
    folder.mkdir()
    count = examples(5_000)
    found = [
        outcome
        for first in range(0, count, 500)
        for outcome in outcomes(range(first, min(first + 500, count)), known, job, folder, loaded=4)
    ]
    became = Counter(outcome.what for outcome in found)
    wrong = [(each.seed, each.what, each.words) for each in found if each.what not in WELL]
    assert not wrong
    assert min(became["read"], became["refused"]) > count // 10
    assert became["loaded"] > count // 50
    assert max(each.seconds for each in found) < 10.0
    assert max(each.grown_bytes for each in found) < 1 << 30
