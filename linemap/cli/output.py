"""`linemap export`, `print`, `redmarks` and `stakeout`: a job written out as files and paper."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from linemap.cli.terminal import OUT, JobArgument, busy, date_option, now, opened
from linemap.domain.record.person import Audience
from linemap.errors import InputRefused, Problem
from linemap.report import SHEETS, ExportFormat, Paper, Sheet

if TYPE_CHECKING:
    from linemap.domain.staking.stakeout import StakePlan


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


def stakeout_command(
    job: JobArgument,
    out: Annotated[Path, typer.Option(help="point file to write (.csv or .txt)")],
    table: Annotated[Path | None, typer.Option(help="staking table to write (.xlsx or .csv)")] = None,
    structures: Annotated[
        list[str] | None, typer.Option(help="only these; may be given several times")
    ] = None,
    along: Annotated[str, typer.Option(help="offset stakes back and ahead of each pole")] = "25",
    arm: Annotated[str, typer.Option(help="offset stakes outside of the outer poles")] = "25",
    order: Annotated[str, typer.Option(help="pnezd or penzd")] = "pnezd",
    compass_on: Annotated[str, typer.Option(help="day to give magnetic bearings for (YYYY-MM-DD)")] = "",
) -> None:
    """Write design centres, poles, offset stakes and anchor hubs for the controller.

    Example: linemap stakeout linemap-demo/demo.linemap --out stakes.csv
    --table staking.xlsx --structures 9/2
    """
    from linemap.service.survey.stakeout import write_point_file, write_staking_table
    from linemap.service.view.build import build_view

    plan = _plan(along, arm)
    day = date_option(compass_on, "--compass-on")
    with busy("writing"), opened(job) as database:
        view = build_view(database, today=now().date())
        rows = [view.row("", number) for number in structures] if structures else None
        count = write_point_file(view, out, order=order, rows=rows, plan=plan)
        if table is not None:
            write_staking_table(view, table, rows=rows, plan=plan, compass_on=day)
    OUT.print(f"{out}: {count} points", markup=False, highlight=False)
    OUT.print("Hubs are named so that none passes for a pole. The stamped drawing governs.")


def _plan(along: str, arm: str) -> StakePlan:
    from linemap.domain.staking.stakeout import StakePlan

    try:
        return StakePlan(pole_along=_distances(along), pole_arm=_distances(arm))
    except ValueError as error:
        raise InputRefused(
            Problem(
                file="",
                column="--along, --arm",
                value=f"{along}; {arm}",
                reason=str(error),
                remedy="write distances like 10,25",
            )
        ) from None


def _distances(text: str) -> tuple[float, ...]:
    return tuple(float(part) for part in text.replace(" ", "").split(",") if part)
