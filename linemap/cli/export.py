"""`linemap export`: the job as one file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from linemap.cli.terminal import OUT, JobArgument, busy, now
from linemap.service.export import ExportFormat, export_job
from linemap.service.job import open_job

__all__ = ["export_command"]


def export_command(
    job: JobArgument,
    form: Annotated[ExportFormat, typer.Argument(metavar="FORMAT", help="snapshot, csv, geojson or gpkg")],
    out: Annotated[Path, typer.Option(help="file to write")],
) -> None:
    """Write the job as one file: a page that opens without a network, or a table.

    Example: linemap export north.linemap snapshot --out north.html
    """
    with busy("writing"), open_job(job) as database:
        size = export_job(database, form, out, today=now().date())
    OUT.print(f"{out}: {size:,} bytes", markup=False)
