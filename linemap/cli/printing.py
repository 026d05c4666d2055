"""`linemap print`: the sheets of a job as PDF."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from linemap.cli.terminal import OUT, JobArgument, busy, date_option, now, opened
from linemap.domain.record.person import Audience
from linemap.errors import InputRefused, Problem
from linemap.report.forms import SHEETS, Paper, Sheet

__all__ = ["print_command"]

_AS_OF = "of report and wall: what had happened by the end of this day (YYYY-MM-DD)"


def print_command(
    job: JobArgument,
    sheet: Annotated[Sheet, typer.Argument(help=", ".join(SHEETS))],
    out: Annotated[Path, typer.Option(help="file to write, .pdf")],
    paper: Annotated[Paper, typer.Option(help="cards are half of it")] = "letter",
    structures: Annotated[
        list[str] | None, typer.Option(help="only these; may be given several times")
    ] = None,
    line: Annotated[str, typer.Option(help="on this line")] = "",
    mile: Annotated[int | None, typer.Option(help="of this mile, as numbers name it")] = None,
    crew: Annotated[str, typer.Option(help="where this crew has recorded anything")] = "",
    as_of: Annotated[str, typer.Option(help=_AS_OF)] = "",
    known_by: Annotated[str, typer.Option(help="and was known by the end of this day")] = "",
) -> None:
    """Print cards, tables or lists to take along, with revision, data date and cautions on every page.

    Example: linemap print linemap-demo/demo.linemap card --out cards.pdf --mile 9
    """
    from linemap.io.output.write import write_bytes
    from linemap.service.people.redact import redact_view
    from linemap.service.sheets.sheets import Chosen, sheet_pdf
    from linemap.service.view.build import build_view

    if out.suffix.lower() != ".pdf":
        raise InputRefused(
            Problem(
                file="",
                column="--out",
                value=str(out),
                reason="sheets are written as .pdf",
                remedy=f"name it like {out.with_suffix('.pdf').name}",
            )
        )
    chosen = Chosen(
        structures=tuple(structures or ()),
        line=line,
        mile=mile,
        crew=crew,
        as_of=date_option(as_of, "--as-of"),
        known_by=date_option(known_by, "--known-by"),
    )
    with busy("printing"), opened(job) as database:
        view = redact_view(build_view(database, today=now().date()), Audience.CREW)
        content = sheet_pdf(database, view, sheet, chosen=chosen, paper=paper)
    write_bytes(content, out)
    OUT.print(f"{out}: {sheet}, as of {view.as_of}", markup=False, highlight=False)
    OUT.print("Made as a crew may see the job. The stamped drawing governs.")
