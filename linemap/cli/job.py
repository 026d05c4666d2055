"""`linemap compute`: figures of files at once. `new`, `declare`, `load`: a job, and how it is judged."""

from __future__ import annotations

import getpass
import inspect
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from linemap.cli.terminal import (
    ERR,
    OUT,
    JobArgument,
    JsonOption,
    busy,
    date_option,
    now,
    opened,
    say_json,
    show_refusal,
)
from linemap.domain.kind.kind import Code as Kind
from linemap.errors import Severity
from linemap.io.cells.dates import DateOrder

if TYPE_CHECKING:
    from linemap.service.files.load_report import LoadedFile, LoadReport
    from linemap.service.job.setting import Setting

_COLUMN = "which column holds a field: easting=X, easting=3, with a unit easting=X[ftUS]; repeatable"
_REMEMBER = "keep what is said about the columns for the next file of the same headings"
_CATENARY = "tension over weight per length, like '4500 ft: sag table 3'"
_WEIGHT = "adds the weight span, by the ground elevations at the centres: attachments of one height are taken"
_CRS = "projected CRS of all grid coordinates, like EPSG:6515"
_START = "station of the route start"
_POLE_A = "side of pole A looking ahead: left or right"
_SHOT_ORDER = "column order without a header: pnezd or penzd"
_MOST_NOTES = 40


def compute_command(
    centreline: Annotated[Path, typer.Option(help="route lines or PI list")],
    structures: Annotated[Path, typer.Option(help="structure list")],
    crs: Annotated[str, typer.Option(help=_CRS)],
    out: Annotated[Path, typer.Option(help="result: .csv .xlsx .geojson .gpkg .parquet")],
    shots: Annotated[list[Path] | None, typer.Option(help="survey shots; may be given several times")] = None,
    start_station: Annotated[str, typer.Option(help=_START)] = "0+00",
    equations: Annotated[Path | None, typer.Option(help="station equations")] = None,
    combined_factor: Annotated[
        str, typer.Option(help="grid = ground x factor; a number, or auto from scale and elevations")
    ] = "",
    pole_a: Annotated[str, typer.Option(help=_POLE_A)] = "left",
    catenary_constant: Annotated[str, typer.Option(help=f"{_CATENARY}; {_WEIGHT}")] = "",
    tolerances: Annotated[Path | None, typer.Option(help="tolerances with their sources")] = None,
    as_of_date: Annotated[str, typer.Option(help="ignore shots dated after this day (YYYY-MM-DD)")] = "",
    shot_order: Annotated[str, typer.Option(help=_SHOT_ORDER)] = "pnezd",
) -> None:
    """Compute stations, spans, deflections, design poles and the orientation check in one go.

    Example: linemap compute --crs EPSG:6515 --combined-factor 0.999217
    --centreline linemap-demo/files/centreline.csv --structures linemap-demo/files/structures_revC.csv
    --equations linemap-demo/files/equations.csv --shots linemap-demo/files/shots_2026-05-13.csv
    --out result.csv
    """
    from linemap.service.compute import ComputeRequest, compute

    request = ComputeRequest(
        centreline=centreline,
        structures=structures,
        shots=tuple(shots or ()),
        crs=crs,
        start_station=start_station,
        equations=equations,
        combined_factor=combined_factor,
        pole_a=pole_a,
        tolerances=tolerances,
        catenary_constant=catenary_constant,
        as_of_date=date_option(as_of_date, "--as-of-date"),
        shot_order=shot_order,
        out=out,
    )
    with busy("computing"):
        computed = compute(request)
    for problem in computed.problems:
        ERR.print(f"{problem.severity}: {problem}")
    for finding in computed.ledger.everything():
        ERR.print(f"finding: {finding}")
    ERR.print(f"{computed.structure_count} structures written to {out}")


def new_command(job: JobArgument, **given: str) -> None:
    """Make an empty job.

    Example: linemap new north.linemap --crs EPSG:6515 --combined-factor 0.999217 --ahead-end "Amber Sill"
    """
    from linemap.service.job.job import create_job

    create_job(job, given, now=now(), who=getpass.getuser())
    OUT.print(f"made {job}; next: linemap load {job} CENTRELINE STRUCTURES ...")


def options_of_new() -> list[inspect.Parameter]:
    """Return the options of `linemap new`, as the registry of what a job declares says them."""
    from linemap.service.job.registry import SETTINGS

    return [_option(each, needed=each.name == "crs") for each in SETTINGS.values() if each.when_made]


def declare_command(
    job: JobArgument,
    by: Annotated[str, typer.Option(help="name of who declares it")] = "",
    **given: str | list[str],
) -> None:
    """Declare what verdicts wait for and how work is judged; print all that is declared now.

    What is not named stays, 'not declared' takes back; without an option nothing is changed.

    Example: linemap declare linemap-demo/demo.linemap --base-point none --source "control sheet 2026-02-09"
    --tolerance "anchor_lead=0.5 ft: specification 7.3" --evidence "set=every pole, photo: specification 9.1"
    """
    from linemap.service.job.job import declare

    texts = {name: text for name, text in given.items() if text}
    with opened(job) as database:
        declared = declare(
            database, texts, now=now(), who=by or getpass.getuser(), source=str(texts.get("source", ""))
        )
    OUT.print(f"declared: {declared.coordinates.words}")
    if declared.coordinates.missing:
        OUT.print(f"verdicts wait for: {', '.join(declared.coordinates.missing)}")
    for words in (*declared.rules, *declared.others):
        OUT.print(f"  {words}")


def options_of_declare() -> list[inspect.Parameter]:
    """Return the options of `linemap declare`, as the registry of what a job declares says them."""
    from linemap.service.job.registry import SETTINGS

    return [_option(each) for each in SETTINGS.values()]


def _option(setting: Setting, *, needed: bool = False) -> inspect.Parameter:
    """Return the parameter of a command that takes what a setting says."""
    unit = f", in {setting.unit}" if setting.unit else ""
    words = f"{setting.means}{unit}; like '{setting.example}'"
    kind: Any = Annotated[str, typer.Option(setting.option, help=words)]
    if setting.parts is not None:
        taking = typer.Option(setting.option, metavar="NAME=VALUE: SOURCE", help=f"{words}; repeatable")
        kind = Annotated[list[str] | None, taking]
    default = inspect.Parameter.empty if needed else None if setting.parts is not None else ""
    return inspect.Parameter(setting.name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=kind)


def more_of_load() -> str:
    """Return what a new file of each list does and its columns, as they are declared."""
    from linemap.domain.kind.compare import does_of
    from linemap.io.cells.meaning import columns_in_words
    from linemap.kinds.registry import DECLARED

    lists = (f"{code}: {does_of(kind)}. {columns_in_words(kind)}" for code, kind in DECLARED.items())
    return "Columns of lists with some of their headings; others are understood too.\n\n" + "\n\n".join(lists)


def load_command(
    job: JobArgument,
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="files to load, in any order")],
    kind: Annotated[
        Kind | None, typer.Option("--as", help="what the files are, when it cannot be told")
    ] = None,
    label: Annotated[str, typer.Option(help="revision label, like B")] = "",
    shot_order: Annotated[str, typer.Option(help=_SHOT_ORDER)] = "pnezd",
    column: Annotated[list[str] | None, typer.Option(metavar="FIELD=HEADING", help=_COLUMN)] = None,
    date_order: Annotated[
        DateOrder | None,
        typer.Option(help="how 5/6 is meant: mdy or dmy; also for numbers turned into dates"),
    ] = None,
    remember: Annotated[bool, typer.Option("--remember", help=_REMEMBER)] = False,
    by: Annotated[str, typer.Option(help="name of who confirms the columns")] = "",
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="show what would be loaded, store nothing")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Load files into a job: all of them, or none.

    Example: linemap load north.linemap linemap-demo/files/centreline.csv linemap-demo/files/equations.csv
    linemap-demo/files/structures_revB.csv linemap-demo/files/shots_2026-05-13.csv
    """
    from linemap.io.cells.shape import read_column_option
    from linemap.service.files.load import load_files
    from linemap.service.files.load_report import LoadRequest

    columns = [read_column_option(text) for text in column or ()]
    request = LoadRequest(
        paths=tuple(files),
        kind=kind,
        label=label,
        shot_order=shot_order,
        columns={name: heading for name, heading, _ in columns},
        units={name: unit for name, _, unit in columns if unit},
        date_order=date_order,
        remember=remember,
        said_by=by or getpass.getuser(),
        dry_run=dry_run,
        loaded_by=getpass.getuser(),
    )
    with busy("loading"), opened(job) as database:
        report = load_files(database, request, now=now())
    _print_load(report, as_json=as_json)
    if report.refused:
        show_refusal([problem for problem in report.problems if problem.severity is Severity.REFUSED])
        raise typer.Exit(2)


def _print_load(report: LoadReport, *, as_json: bool) -> None:
    if as_json:
        say_json(report.as_dict())
        return
    for loaded in report.files:
        _print_file(loaded)
    OUT.print("nothing stored (dry run)" if report.dry_run else f"data version {report.data_version}")


def _print_file(loaded: LoadedFile) -> None:
    kind = loaded.kind or "not recognised"
    OUT.print(f"{loaded.name}: {kind}, {loaded.rows_used} of {loaded.rows_in} rows used")
    OUT.print(f"  read as: {loaded.understood}")
    for field, heading in loaded.mapping.items():
        OUT.print(f"  {field} from {heading}")
    for column in loaded.unread:
        OUT.print(f"  not read: {column}")
    for words in loaded.evidence:
        OUT.print(f"  {words}")
    for words in loaded.changes:
        OUT.print(f"  changed: {words}")
    notes = [problem for problem in loaded.problems if problem.severity is Severity.NOTED]
    unlisted = set(map(id, notes[_MOST_NOTES:]))
    for problem in loaded.problems:
        if id(problem) not in unlisted:
            OUT.print(f"  {problem.severity}: {problem}")
    if unlisted:
        OUT.print(f"  noted: and {len(unlisted):,} more; --json lists them all")
