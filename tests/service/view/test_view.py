"""The invented line as a job: counts, holds, verdicts and revisions against its written key."""

from __future__ import annotations

import datetime as dt
import shutil
from collections import Counter
from pathlib import Path

import pytest

from linemap.errors import NotFound
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job
from linemap.store.job import change_settings
from linemap.store.structures import load_changes

Key = dict[str, list[dict[str, str]]]


def test_recorded_steps_fold_to_the_counts_of_the_key(demo_view: JobView, key: Key) -> None:
    done = Counter(step for status in demo_view.statuses.values() for step in status.done)
    for row in key["counts"]:
        if row["step"] != "surveyed":
            assert done[row["step"]] == int(row["structures_done"]), row["step"]


def test_every_structure_has_the_steps_of_the_key(demo_view: JobView, key: Key) -> None:
    line = demo_view.figures.lines[0].name
    for row in key["status"]:
        status = demo_view.statuses[line, row["structure"]]
        expected = {step for step, done in row.items() if done == "1" and step != "surveyed"}
        assert set(status.done) == expected, row["structure"]


def test_surveyed_structures_are_counted_from_shots(demo_view: JobView, key: Key) -> None:
    surveyed = sum(str(verdict) != "not surveyed" for verdict in demo_view.checks.verdict)
    (row,) = (row for row in key["counts"] if row["step"] == "surveyed")
    # the shots of 2/5 carry the label 2/4 until a person relabels them
    assert surveyed == int(row["structures_done"]) - 1


def test_a_late_framed_does_not_undo_set(demo_view: JobView) -> None:
    assert demo_view.stage_at(demo_view.key(demo_view.row("", "12/3"))) == "set"


def test_holds_in_force_are_shown_at_their_structures_only(demo_view: JobView) -> None:
    held = {demo_view.key(row)[1] for row in demo_view.holds_by_row}
    assert {
        "7/3",
        "7/4",
        "9/2",
        "11/4",
        "11/5",
        "11/6",
        "13/2",
        "14/2",
        "14/1",
        "14/3",
        "21/3",
        "6/4",
    } <= held
    # released for history
    assert "4/5" not in held


def test_revision_c_changes_exactly_three_structures(demo_view: JobView, demo_database: Database) -> None:
    line = demo_view.figures.lines[0].name
    with demo_database.reading() as connection:
        found = [recorded for recorded in load_changes(connection, line) if recorded.label == "C"]
    assert {recorded.change.number for recorded in found} == {"15/2", "9/2", "20/6"}
    assert [recorded.change.words for recorded in found if recorded.change.change == "moved"] == [
        "moved 8.00 ft"
    ]


def test_a_structure_that_is_not_there_is_not_found(demo_view: JobView) -> None:
    with pytest.raises(NotFound, match="no structure 99/9"):
        demo_view.row("", "99/9")


def test_a_moment_is_the_day_it_is_where_the_job_lies(demo_job: Path, tmp_path: Path) -> None:
    """19:30 on 27 May at the line is 28 May by a server's clock in UTC."""
    evening = dt.datetime(2026, 5, 28, 1, 30, tzinfo=dt.UTC)
    with open_job(str(shutil.copy(demo_job, tmp_path / "zone.linemap"))) as database:
        with database.writing() as connection:
            change_settings(connection, {"data_date": None})
        view = build_view(database, today=evening)
        assert (view.zone, view.as_of) == ("America/Denver", dt.date(2026, 5, 27))
        assert view.moment(evening) == dt.datetime.combine(view.as_of, dt.time(19, 30))
        assert view.moment(evening + dt.timedelta(days=1)) == dt.date(2026, 5, 27)
        with database.writing() as connection:
            change_settings(connection, {"time_zone": "Asia/Tokyo"})
        declared = build_view(database, today=evening)
        assert (declared.zone, declared.as_of) == ("Asia/Tokyo", dt.date(2026, 5, 28))
