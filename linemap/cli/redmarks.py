"""`linemap redmarks`: the as-set table with red marks, as a workbook or as sheets of paper."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from linemap.cli.terminal import OUT, JobArgument, busy, now, opened
from linemap.errors import InputRefused, Problem
from linemap.report.forms import Paper

__all__ = ["redmarks_command"]


def redmarks_command(
    job: JobArgument,
    out: Annotated[Path, typer.Option(help="file to write, .xlsx or .pdf")],
    paper: Annotated[Paper, typer.Option(help="of the PDF")] = "letter",
) -> None:
    """Write every structure's design, as-set and difference, with cause, decision and the shots used.

    Example: linemap redmarks linemap-demo/demo.linemap --out north.pdf --paper a4
    """
    from linemap.io.output.write import write_bytes
    from linemap.report.red_marks import red_marks_xlsx
    from linemap.report.red_marks_pdf import red_marks_pdf
    from linemap.service.survey.red_marks import red_marks
    from linemap.service.view.build import build_view

    suffix = out.suffix.lower()
    if suffix not in {".xlsx", ".pdf"}:
        raise InputRefused(
            Problem(
                file="",
                column="--out",
                value=str(out),
                reason="red marks are written as .xlsx or .pdf",
                remedy=f"name it like {out.with_suffix('.pdf').name}",
            )
        )
    with busy("writing"), opened(job) as database:
        sheet = red_marks(database, build_view(database, today=now().date()))
    content = red_marks_xlsx(sheet) if suffix == ".xlsx" else red_marks_pdf(sheet, paper=paper)
    write_bytes(content, out)
    OUT.print(f"{out}: {len(sheet.structures)} structures; {sheet.counts}", markup=False, highlight=False)
    OUT.print("A licensed surveyor decides; nothing here is a clearance to work.")
