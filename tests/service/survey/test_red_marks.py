"""The as-set table against the check, the key and the shots it is made from."""

from __future__ import annotations

import datetime as dt
import re
import shutil
import uuid
from pathlib import Path

import pytest

from linemap.report.red_marks import MarkedStructure, MarkSheet
from linemap.service.survey.red_marks import red_marks
from linemap.service.survey.survey_page import Asked, decide
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job


@pytest.fixture(scope="module")
def sheet(demo_database: Database, demo_view: JobView) -> MarkSheet:
    return red_marks(demo_database, demo_view)


def by_number(sheet: MarkSheet) -> dict[str, MarkedStructure]:
    return {each.number: each for each in sheet.structures}


def test_every_structure_is_there_and_unsurveyed_ones_say_so(sheet: MarkSheet, demo_view: JobView) -> None:
    assert [each.number for each in sheet.structures] == demo_view.figures.structures.number.tolist()
    unsurveyed = [each for each in sheet.structures if each.verdict == "not surveyed"]
    assert len(unsurveyed) == 68
    assert f"{len(unsurveyed)} not surveyed" in sheet.counts
    for each in unsurveyed:
        assert {pole.measured for pole in each.poles} == {"not shot"}
        assert all(pole.set_north == pole.ahead == pole.sigma == "" for pole in each.poles)
        assert each.residuals == ()


def test_chosen_structures_are_as_in_the_whole_with_their_own_shots(
    sheet: MarkSheet, demo_database: Database, demo_view: JobView
) -> None:
    rows = [demo_view.row("", number) for number in ("3/3", "3/5")]
    part = red_marks(demo_database, demo_view, rows)
    assert part.structures == (by_number(sheet)["3/3"], by_number(sheet)["3/5"])
    assert part.counts.endswith(f"; 2 chosen of {len(sheet.structures)}")
    assert sum(int(count) for count in re.findall(r"(\d+) [a-z]", part.counts.split(";")[0])) == 2
    assert part.shots == tuple(shot for shot in sheet.shots if shot.structure in {"3/3", "3/5"})
    assert len(part.shots) >= 4
    assert (part.decisions, part.corrections) == (sheet.decisions, sheet.corrections)


def test_a_mean_says_how_many_shots_it_is_of(sheet: MarkSheet, demo_view: JobView) -> None:
    """3/3 has pole A twice, 0.05 ft apart; 3/5 has pole B twice, 6.2 ft apart."""
    twice, conflict = by_number(sheet)["3/3"], by_number(sheet)["3/5"]
    assert [pole.measured for pole in twice.poles] == ["mean of 2 shots", "1 shot"]
    shots = [shot for shot in sheet.shots if (shot.structure, shot.pole) == ("3/3", "A")]
    mean = sum(float(shot.north) for shot in shots) / len(shots)
    assert len(shots) == 2
    assert float(twice.poles[0].set_north) == pytest.approx(mean, abs=6e-4)
    assert conflict.poles[1].measured == "2 shots, not used"
    assert conflict.poles[1].set_north == ""
    for each in sheet.structures:
        for pole in each.poles:
            assert bool(pole.set_north) == (pole.measured in ("1 shot", "mean of 2 shots"))


def test_differences_are_in_the_structures_frame(sheet: MarkSheet) -> None:
    """4/2 was built on the 10-ft right offset hub, 9/4 on the one 25 ft ahead."""
    right, ahead = by_number(sheet)["4/2"], by_number(sheet)["9/4"]
    assert [float(pole.right) for pole in right.poles] == pytest.approx([10.0, 10.0], abs=0.1)
    assert [float(pole.ahead) for pole in right.poles] == pytest.approx([0.0, 0.0], abs=0.1)
    assert [float(pole.ahead) for pole in ahead.poles] == pytest.approx([25.0, 25.0], abs=0.1)
    assert dict(right.residuals)["across"] == "+9.98 ± 0.03 ft"
    assert right.marked
    assert "offset stake" in right.cause


def test_source_names_file_and_rows_and_the_day(sheet: MarkSheet) -> None:
    each = by_number(sheet)["7/1"]
    assert (each.source, each.surveyed_on) == ("shots_2026-04-29.csv rows 1, 2", "2026-04-29")
    assert by_number(sheet)["20/1"].source == ""
    pattern = re.compile(r"[^;]+ rows? \d+(, \d+)*")
    sources = [part for found in sheet.structures if found.source for part in found.source.split("; ")]
    assert all(pattern.fullmatch(part) for part in sources)


def test_head_tells_job_revision_version_and_datum(sheet: MarkSheet, demo_view: JobView) -> None:
    (line,) = sheet.lines
    assert "Brindle Gap ahead to Amber Sill" in line
    assert "structures Rev C" in line
    assert (sheet.data_version, sheet.data_date) == (demo_view.data_version, "2026-05-15")
    assert "EPSG:6515" in sheet.declared
    assert "Treat every wire as energized" in sheet.caution


def test_an_accepted_cause_is_told_with_who_decided_and_shots_stay(demo_job: Path, tmp_path: Path) -> None:
    with open_job(shutil.copy(demo_job, tmp_path / "demo.linemap")) as database:
        view = build_view(database, today=dt.date(2026, 5, 16))
        before = red_marks(database, view)
        cause = next(cause for cause in view.causes if cause.code == "foot definition")
        asked = Asked(
            id=str(uuid.uuid4()),
            cause=cause.code,
            subject=cause.subject,
            line=cause.line,
            answer="accepted",
            who="P. Chief",
            note="US feet",
        )
        decide(database, view, asked, at=dt.datetime(2026, 5, 16, 15, tzinfo=dt.UTC))
        after = red_marks(database, build_view(database, today=dt.date(2026, 5, 16)))
    each = by_number(after)["7/1"]
    assert (each.verdict, each.marked) == ("pass", False)
    assert each.decision == "foot definition accepted: US feet"
    assert each.decided_by == "P. Chief, 2026-05-16"
    assert abs(float(each.poles[0].ahead)) < 0.1
    was = [(shot.point, shot.north, shot.east) for shot in before.shots]
    assert [(shot.point, shot.north, shot.east) for shot in after.shots] == was
    for pole in each.poles:
        assert abs(float(pole.correction_east)) > 4.0
        assert float(pole.observed_east) + float(pole.correction_east) == pytest.approx(float(pole.set_east))
    (shot, *_) = [
        shot for shot in after.shots if (shot.structure, shot.file) == ("7/1", "shots_2026-04-29.csv")
    ]
    assert (shot.corrected_north, shot.corrected_east) == (each.poles[0].set_north, each.poles[0].set_east)
    assert each.held == "by control: 2 check-ins, largest residual 0.02 ft"
    assert len(after.corrections) == len(after.decisions) == 1
    assert by_number(after)["8/2"] == by_number(before)["8/2"]
