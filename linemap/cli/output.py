"""`linemap export`, `print`, `redmarks`, `stakeout` and `marks`: what a job gives to take along."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from linemap.answers.marks import PanelMarkedPole, PanelMarks
from linemap.cli.choice import Choice, choosing
from linemap.cli.terminal import (
    OUT,
    AsOfOption,
    JobArgument,
    JsonOption,
    KnownByOption,
    date_option,
    known_words,
    say,
    say_json,
    viewed,
    when_of,
)
from linemap.domain.record.person import Audience
from linemap.errors import InputRefused
from linemap.report import SHEETS, ExportFormat, Paper, Sheet

if TYPE_CHECKING:
    from linemap.service.view.view import JobView


@choosing
def export_command(
    job: JobArgument,
    form: Annotated[ExportFormat, typer.Argument(metavar="FORMAT", help=", ".join(ExportFormat))],
    out: Annotated[Path, typer.Option(help="file to write")],
    audience: Annotated[Audience, typer.Option("--for", help="who will read it")] = Audience.CREW,
    *,
    choice: Choice,
) -> None:
    """Write the job as one file: a page that opens without a network, or a table.

    Nests, cultural sites, gate codes and owners are in it for the owner only; for the public it names no
    people, gates or parcels either, and holds no remarks.

    Example: linemap export linemap-demo/demo.linemap snapshot --out north.html
    """
    from linemap.service.export import check_suffix, export_job

    check_suffix(form, out)
    with viewed(job, "writing", choice.when) as (_, view):
        size = export_job(view, form, out, audience=audience, chosen=choice.chosen)
    OUT.print(f"{out}: {size:,} bytes{_at(view)}")


def _at(view: JobView) -> str:
    return f", {view.when.words}" if view.when.words else ""


def _check_suffix(out: Path, what: str, *suffixes: str) -> None:
    if out.suffix.lower() not in suffixes:
        reason = f"{what} are written as {' or '.join(suffixes)}"
        raise InputRefused.at("--out", str(out), reason, f"name it like {out.with_suffix('.pdf').name}")


@choosing
def print_command(
    job: JobArgument,
    sheet: Annotated[Sheet, typer.Argument(help=", ".join(SHEETS))],
    out: Annotated[Path, typer.Option(help="file to write, .pdf")],
    paper: Annotated[Paper, typer.Option(help="cards are half of it")] = "letter",
    *,
    choice: Choice,
) -> None:
    """Print cards, tables or lists to take along, with revision, data date and cautions on every page.

    Example: linemap print linemap-demo/demo.linemap card --out cards.pdf --mile 9
    """
    from linemap.io.output.write import write_bytes
    from linemap.service.people.redact import redact_view
    from linemap.service.sheets.sheets import sheet_pdf

    _check_suffix(out, "sheets", ".pdf")
    with viewed(job, "printing", choice.when) as (database, whole):
        view = redact_view(whole, Audience.CREW)
        content = sheet_pdf(database, view, sheet, chosen=choice.chosen, paper=paper)
    write_bytes(content, out)
    OUT.print(f"{out}: {sheet}, as of {view.as_of}{known_words(view.when.known_by)}")
    OUT.print("Made as a crew may see the job. The stamped drawing governs.")


@choosing
def redmarks_command(
    job: JobArgument,
    out: Annotated[Path, typer.Option(help="file to write, .xlsx or .pdf")],
    paper: Annotated[Paper, typer.Option(help="of the PDF")] = "letter",
    *,
    choice: Choice,
) -> None:
    """Write each structure's design, as-set and difference, with cause, decision and the shots used.

    Example: linemap redmarks linemap-demo/demo.linemap --out north.pdf --paper a4
    """
    from linemap.io.output.write import write_bytes
    from linemap.report.red_marks import red_marks_xlsx
    from linemap.report.red_marks_pdf import red_marks_pdf
    from linemap.service.sheets.sheets import rows_of
    from linemap.service.survey.red_marks import red_marks

    _check_suffix(out, "red marks", ".xlsx", ".pdf")
    with viewed(job, "writing", choice.when) as (database, view):
        sheet = red_marks(database, view, rows=rows_of(view, choice.chosen))
    content = red_marks_pdf(sheet, paper=paper) if out.suffix.lower() == ".pdf" else red_marks_xlsx(sheet)
    write_bytes(content, out)
    OUT.print(f"{out}: {len(sheet.structures)} structures; {sheet.counts}{_at(view)}")
    OUT.print("A licensed surveyor decides; nothing here is a clearance to work.")


def package_command(
    job: JobArgument,
    out: Annotated[Path, typer.Option(help="folder to write to, or a .zip file")],
    paper: Annotated[Paper, typer.Option(help="of the PDF")] = "letter",
    as_of: AsOfOption = "",
    known_by: KnownByOption = "",
) -> None:
    """Write the as-set package that a licensed surveyor examines and may sign: workbook, paper, digests.

    Example: linemap package linemap-demo/demo.linemap --out north-as-set.zip --paper a4
    """
    from linemap.io.output.write import write_bytes
    from linemap.service.survey.package import package_files, package_zip

    with viewed(job, "writing", when_of(as_of, known_by)) as (database, view):
        files = package_files(database, view, paper=paper)
    if out.suffix.lower() == ".zip":
        write_bytes(package_zip(files), out)
        OUT.print(f"{out}: {', '.join(files)}{_at(view)}")
    else:
        out.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            write_bytes(content, out / name)
            OUT.print(f"{out / name}{_at(view)}")
    OUT.print("A licensed surveyor examines it, decides and signs; until then it is a working paper.")


_PLAN = "(as declared, else 25 ft)"


@choosing
def stakeout_command(
    job: JobArgument,
    out: Annotated[Path, typer.Option(help="point file to write (.csv or .txt)")],
    table: Annotated[Path | None, typer.Option(help="staking table to write (.xlsx or .csv)")] = None,
    along: Annotated[
        str | None, typer.Option(help=f"offset stakes back and ahead of each pole {_PLAN}")
    ] = None,
    arm: Annotated[str | None, typer.Option(help=f"offset stakes outside of the outer poles {_PLAN}")] = None,
    order: Annotated[str, typer.Option(help="pnezd or penzd")] = "pnezd",
    compass_on: Annotated[str, typer.Option(help="day to give magnetic bearings for (YYYY-MM-DD)")] = "",
    as_json: JsonOption = False,
    *,
    choice: Choice,
) -> None:
    """Write design centres, poles, offset stakes and anchor hubs for the controller.

    Structures that keep not one stake back and one ahead outside the holes are named, with what survives:
    from these a frame is taped before it is tamped.

    Example: linemap stakeout linemap-demo/demo.linemap --out stakes.csv
    --table staking.xlsx --structures 9/2
    """
    from linemap.domain.staking.stakeout import StakePlan
    from linemap.service.sheets.sheets import rows_of
    from linemap.service.survey.stakeout import unguarded_words, withheld_stakes, write_point_file
    from linemap.service.survey.staking_table import write_staking_table

    day = date_option(compass_on, "--compass-on")
    with viewed(job, "writing", choice.when) as (_, view):
        plan = StakePlan.read(along, arm, view.stake_plan)
        rows = rows_of(view, choice.chosen)
        count = write_point_file(view, out, order=order, rows=rows, plan=plan)
        if table is not None:
            write_staking_table(view, table, rows=rows, plan=plan, compass_on=day)
        withheld = withheld_stakes(view, rows)
        lost = unguarded_words(view, rows, plan)
    said = [*((each.structure, each.words) for each in withheld), *lost]
    if as_json:
        look_at = [{"structure": structure, "words": words} for structure, words in said]
        say_json({"file": str(out), "points": count, "look_at": look_at})
        return
    OUT.print(f"{out}: {count} points{_at(view)}")
    for structure, words in said:
        OUT.print(f"{structure} {words}")
    OUT.print("Hubs are named so that none passes for a pole. The stamped drawing governs.")


_Found = list[str] | None


def marks_command(
    job: JobArgument,
    structure: Annotated[str, typer.Argument(metavar="STRUCTURE", help="number, like 6/4")],
    line: Annotated[str, typer.Option(help="name of its line, when the job has several")] = "",
    measured: Annotated[_Found, typer.Option(metavar="A=75.4", help="length measured on a pole")] = None,
    depth: Annotated[_Found, typer.Option(metavar="A=10.2", help="depth as dug, along the pole")] = None,
    brand: Annotated[_Found, typer.Option(metavar="A=4.2", help="height of a brand above the ground")] = None,
    spacing: Annotated[float | None, typer.Option(help="distance between the poles as measured")] = None,
    arm_elevation: Annotated[float | None, typer.Option(help="design elevation of the arm bolts")] = None,
    as_of: AsOfOption = "",
    known_by: KnownByOption = "",
    as_json: JsonOption = False,
) -> None:
    """List depth, drops from the top and heights from the butt of each pole, from the framing table.

    Example: linemap marks linemap-demo/demo.linemap 6/4 --measured A=75.4 --spacing 12.4
    """
    from linemap.service.view.marks import AsFound, marks_of

    found = AsFound(
        lengths=_by_pole(measured, "--measured"),
        depths=_by_pole(depth, "--depth"),
        brands=_by_pole(brand, "--brand"),
        spacing=spacing,
        arm_elevation=arm_elevation,
    )
    with viewed(job, "computing", when_of(as_of, known_by)) as (_, view):
        marks = marks_of(view, line, structure, found=found)
    if as_json:
        say_json(marks)
        return
    if view.when.words:
        say(view.when.words)
    _print_marks(marks, view.figures.called(view.row(line, structure)))


def _print_marks(marks: PanelMarks, called: Mapping[str, str]) -> None:
    say(f"{marks.line} {marks.number}, type {marks.type or 'not given'}")
    say(f"spacing {marks.spacing_text}; drawings {', '.join(marks.drawings) or 'none named'}")
    for pole in marks.poles:
        _print_pole(pole, called[pole.letter])
    say("")
    for words in marks.sentences:
        say(words)
    for words in marks.unavailable:
        say(f"not available: {words}")
    if marks.bundle:
        say(f"bundle: {', '.join(marks.bundle)}")
    for words in marks.material:
        say(words)
    say(marks.caution)


def _print_pole(pole: PanelMarkedPole, name: str) -> None:
    """Print the marks of a pole in columns that are never broken: half a length reads as another one."""
    title = f"Pole {name}: {pole.length_text}, {pole.depth_text} deep"
    say("")
    OUT.print(title)
    rows: list[tuple[str, ...]] = [("", "from the top", "", "from the butt", "", "drawing")]
    cells = ("name", "drop_wood", "drop_text", "butt_wood", "butt_text", "drawing")
    rows += [tuple(str(getattr(mark, cell)) for cell in cells) for mark in pole.marks]
    for name, drop, drop_decimal, butt, butt_decimal, drawing in rows:
        text = f"  {name:<17}{drop:>13}{drop_decimal:>10}{butt:>15}{butt_decimal:>10}  {drawing}"
        OUT.print(text.rstrip(), no_wrap=True, soft_wrap=True)


def _by_pole(given: _Found, option: str) -> dict[str, float]:
    """Read options like A=75.4 as pole as written -> length."""
    found: dict[str, float] = {}
    for text in given or ():
        pole, _, value = text.partition("=")
        try:
            found[pole.strip()] = float(value)
        except ValueError:
            remedy = "write it like A=75.4, in the job's unit"
            raise InputRefused.at(option, text, "is no pole with a length", remedy) from None
    return found
