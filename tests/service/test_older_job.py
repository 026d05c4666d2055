"""A job of version 0.1.0 shows what 0.1.0 showed: figures, verdicts, counts."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path

from linemap.domain.record.person import Audience
from linemap.service.export import ExportFormat, export_job
from linemap.service.job.job import open_job
from linemap.service.progress.progress import progress_of
from linemap.service.view.build import build_view

DAY = dt.date(2026, 5, 16)


def test_figures_and_verdicts(older_job: str, older_structures: list[dict[str, str]], tmp_path: Path) -> None:
    with open_job(older_job) as database:
        export_job(database, ExportFormat.CSV, tmp_path / "now.csv", today=DAY, audience=Audience.OWNER)
    with (tmp_path / "now.csv").open(encoding="utf-8-sig", newline="") as written:
        now = list(csv.DictReader(written))
    assert [{name: row[name] for name in older_structures[0]} for row in now] == older_structures


def test_counts(older_job: str) -> None:
    with open_job(older_job) as database:
        counts = progress_of(build_view(database, today=DAY), as_of=dt.date(2026, 5, 15)).counts
    assert [(count.step, len(count.done), count.of) for count in counts] == [
        ("staked", 121, 121),
        ("spotted", 88, 121),
        ("dug", 71, 121),
        ("framed", 66, 121),
        ("set", 59, 121),
        ("guyed", 5, 13),
        ("grounded", 54, 121),
        ("blocks hung", 52, 121),
        ("surveyed", 53, 121),
        ("inspected", 38, 121),
    ]
