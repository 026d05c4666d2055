"""`linemap export`: the job as one file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from linemap.cli.terminal import OUT, JobArgument, busy, now, opened
from linemap.domain.record.person import Audience
from linemap.report.forms import ExportFormat

__all__ = ["export_command"]


def export_command(
    job: JobArgument,
    form: Annotated[ExportFormat, typer.Argument(metavar="FORMAT", help="snapshot, csv, geojson or gpkg")],
    out: Annotated[Path, typer.Option(help="file to write")],
    audience: Annotated[Audience, typer.Option("--for", help="who will read it")] = Audience.CREW,
) -> None:
    """Write the job as one file: a page that opens without a network, or a table.

    Nests, cultural sites, gate codes and owners are in it for the owner only; for the public it names no
    people, gates or parcels either, and holds no remarks.

    Example: linemap export linemap-demo/demo.linemap snapshot --out north.html
    """
    from linemap.service.export import export_job

    with busy("writing"), opened(job) as database:
        size = export_job(database, form, out, today=now().date(), audience=audience)
    OUT.print(f"{out}: {size:,} bytes", markup=False)
