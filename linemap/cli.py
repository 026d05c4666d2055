"""The commands. The only module that prints.

Exit codes: 0 done, 2 input refused (the message names file, row, value and what to do), 1 failure.
"""

from __future__ import annotations

import datetime as dt
import getpass
import json
import os
import sys
import traceback
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, NoReturn

import typer
import uvicorn
from rich.console import Console
from rich.padding import Padding
from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

from linemap import __version__
from linemap.errors import InputRefused, LinemapError, Problem, Severity
from linemap.io.table import Kind
from linemap.service.compute import ComputeRequest, compute
from linemap.service.demo import build_demo
from linemap.service.export import ExportFormat, export_job
from linemap.service.job import JobRules, create_job, open_job
from linemap.service.load import LoadReport, LoadRequest, load_files
from linemap.service.survey import check_rows
from linemap.settings import Settings
from linemap.web.app import create_app

__all__ = ["app", "main"]

app = typer.Typer(
    name="linemap",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Stationing, A/B orientation and framing status of wood H-frame lines.",
)
_out = Console()
_err = Console(stderr=True, highlight=False, soft_wrap=True)

_Job = Annotated[str, typer.Argument(metavar="JOB", help="job file (NAME.linemap) or postgresql:// URL")]
_RESIDUALS = ("rotation", "along", "across", "spacing")
_Json = Annotated[bool, typer.Option("--json", help="print JSON instead of a table")]


def main() -> None:
    """Run the command line; every refusal is one clear message and exit code 2, never a traceback."""
    try:
        app(standalone_mode=False)
    except typer.Exit as stop:
        sys.exit(stop.exit_code)
    except typer.Abort:
        _err.print("stopped")
        sys.exit(1)
    except InputRefused as refusal:
        _refuse(refusal.problems)
    except LinemapError as refusal:
        _refuse([Problem(file="", reason=str(refusal))])
    except Exception as failure:
        _fail(failure)


def _refuse(problems: Sequence[Problem]) -> NoReturn:
    for problem in problems[:20]:
        _err.print(f"refused: {problem}", markup=False)
    if len(problems) > 20:
        _err.print(f"… and {len(problems) - 20} more problems")
    sys.exit(2)


def _fail(failure: Exception) -> NoReturn:
    """Say in one line what failed; usage errors are input, everything else is a failure of ours."""
    shown = getattr(failure, "format_message", None)
    if shown is not None:
        _err.print(f"refused: {shown()} (see --help)", markup=False)
        sys.exit(2)
    if os.environ.get("LINEMAP_DEBUG"):
        traceback.print_exc()
    _err.print(f"failed: {type(failure).__name__}: {failure}; set LINEMAP_DEBUG=1 to see where", markup=False)
    sys.exit(1)


@contextmanager
def _busy(words: str) -> Iterator[None]:
    """Show that long work goes on, on a terminal only."""
    columns = (SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn())
    with Progress(*columns, console=_err, transient=True, disable=not _err.is_terminal) as progress:
        progress.add_task(words, total=None)
        yield


@app.callback(invoke_without_command=True)
def _version(
    version: Annotated[bool, typer.Option("--version", help="print the version and stop")] = False,
) -> None:
    if version:
        _out.print(f"linemap {__version__}")
        raise typer.Exit


@app.command("compute")
def compute_command(
    centreline: Annotated[Path, typer.Option(help="route lines or PI list")],
    structures: Annotated[Path, typer.Option(help="structure list")],
    crs: Annotated[str, typer.Option(help="projected CRS of all grid coordinates, like EPSG:6515")],
    out: Annotated[Path, typer.Option(help="result: .csv .xlsx .geojson .gpkg .parquet")],
    shots: Annotated[list[Path] | None, typer.Option(help="survey shots; may be given several times")] = None,
    start_station: Annotated[str, typer.Option(help="station of the route start")] = "0+00",
    equations: Annotated[Path | None, typer.Option(help="station equations")] = None,
    combined_factor: Annotated[
        str, typer.Option(help="grid = ground x factor; a number, or auto from scale and elevations")
    ] = "",
    pole_a: Annotated[str, typer.Option(help="side of pole A looking ahead: left or right")] = "left",
    tolerances: Annotated[Path | None, typer.Option(help="tolerances with their sources")] = None,
    as_of_date: Annotated[str, typer.Option(help="ignore shots dated after this day (YYYY-MM-DD)")] = "",
    shot_order: Annotated[str, typer.Option(help="column order without a header: pnezd or penzd")] = "pnezd",
) -> None:
    """Compute stations, spans, deflections, design poles and the orientation check in one go.

    Example: linemap compute --centreline pi.csv --structures list.csv --shots may13.csv --crs EPSG:6515
    --combined-factor 0.999217 --out result.csv
    """
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
        as_of_date=_date(as_of_date, "--as-of-date"),
        shot_order=shot_order,
        out=out,
    )
    with _busy("computing"):
        computed = compute(request)
    for problem in computed.problems:
        _err.print(f"{problem.severity}: {problem}", markup=False)
    for finding in computed.findings:
        _err.print(f"finding: {finding}", markup=False)
    _err.print(f"{computed.structure_count} structures written to {out}", markup=False)


@app.command("new")
def new_command(
    job: _Job,
    crs: Annotated[str, typer.Option(help="projected CRS of all grid coordinates, like EPSG:6515")],
    name: Annotated[str, typer.Option(help="name of the job; the file's name by default")] = "",
    line: Annotated[str, typer.Option(help="name of the line when the files name none")] = "",
    back_end: Annotated[str, typer.Option(help="name of the back end")] = "",
    ahead_end: Annotated[str, typer.Option(help="name of the ahead end")] = "",
    combined_factor: Annotated[str, typer.Option(help="grid = ground x factor")] = "",
    start_station: Annotated[str, typer.Option(help="station of the route start")] = "0+00",
    pole_a: Annotated[str, typer.Option(help="side of pole A looking ahead: left or right")] = "left",
    data_date: Annotated[str, typer.Option(help="day the job is shown for (YYYY-MM-DD)")] = "",
) -> None:
    """Make an empty job.

    Example: linemap new north.linemap --crs EPSG:6515 --combined-factor 0.999217 --ahead-end "Amber Sill"
    """
    rules = JobRules(
        name=name,
        crs=crs,
        line=line,
        back_end=back_end,
        ahead_end=ahead_end,
        combined_factor=combined_factor,
        start_station=start_station,
        pole_a=pole_a,
        data_date=_date(data_date, "--data-date"),
    )
    create_job(job, rules, now=_now())
    _out.print(f"made {job}; next: linemap load {job} CENTRELINE STRUCTURES ...", markup=False)


@app.command("load")
def load_command(
    job: _Job,
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="files to load, in any order")],
    kind: Annotated[
        Kind | None, typer.Option("--as", help="what the files are, when it cannot be told")
    ] = None,
    label: Annotated[str, typer.Option(help="revision label, like B")] = "",
    shot_order: Annotated[str, typer.Option(help="column order without a header: pnezd or penzd")] = "pnezd",
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="show what would be loaded, store nothing")
    ] = False,
    as_json: _Json = False,
) -> None:
    """Load files into a job: all of them, or none.

    Example: linemap load north.linemap centreline.csv structures_revB.csv shots_2026-05-13.csv
    """
    request = LoadRequest(
        paths=tuple(files),
        kind=kind,
        label=label,
        shot_order=shot_order,
        dry_run=dry_run,
        loaded_by=getpass.getuser(),
    )
    with _busy("loading"):
        report = load_files(open_job(job), request, now=_now())
    _print_load(report, as_json=as_json)
    if report.refused:
        _refuse([problem for problem in report.problems if problem.severity is Severity.REFUSED])


def _print_load(report: LoadReport, *, as_json: bool) -> None:
    if as_json:
        _out.print_json(json.dumps(report.as_dict()))
        return
    for loaded in report.files:
        _out.print(f"{loaded.name}: {loaded.kind}, {loaded.rows_used} rows used", markup=False)
        _out.print(f"  read as: {loaded.understood}", markup=False)
        for field, heading in loaded.mapping.items():
            _out.print(f"  {field} from {heading}", markup=False)
        for words in loaded.changes:
            _out.print(f"  changed: {words}", markup=False)
        for problem in loaded.problems:
            _out.print(f"  {problem.severity}: {problem}", markup=False)
    _out.print("nothing stored (dry run)" if report.dry_run else f"data version {report.data_version}")


@app.command("check")
def check_command(
    job: _Job,
    as_json: _Json = False,
    everything: Annotated[bool, typer.Option("--all", help="list every surveyed structure")] = False,
) -> None:
    """List the surveyed structures that need the surveyor: not passed, reversed, or with findings.

    Example: linemap check north.linemap
    """
    with _busy("checking"):
        rows = check_rows(open_job(job), today=_now().date(), everything=everything)
    if as_json:
        _out.print_json(json.dumps(rows))
        return
    for row in rows:
        _out.print(
            f"{row['structure']:<8} {row['station']:<12} {row['verdict']}", markup=False, highlight=False
        )
        residuals = ", ".join(f"{name} {row[name]}" for name in _RESIDUALS if row[name])
        for words in (residuals, *row["findings"]):
            if words:
                _out.print(Padding(words, (0, 0, 0, 9)), markup=False, highlight=False)
    _out.print(
        f"{len(rows)} structures listed. A licensed surveyor decides; nothing here is a clearance to work."
    )


@app.command("export")
def export_command(
    job: _Job,
    form: Annotated[ExportFormat, typer.Argument(metavar="FORMAT", help="snapshot, csv, geojson or gpkg")],
    out: Annotated[Path, typer.Option(help="file to write")],
) -> None:
    """Write the job as one file: a page that opens without a network, or a table.

    Example: linemap export north.linemap snapshot --out north.html
    """
    with _busy("writing"):
        size = export_job(open_job(job), form, out, today=_now().date())
    _out.print(f"{out}: {size:,} bytes", markup=False)


@app.command("serve")
def serve_command(
    job: _Job,
    host: Annotated[str, typer.Option(help="address to listen on; this machine only")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=1, max=65535)] = 8765,
    tile_url: Annotated[str, typer.Option(help="background tiles, {z}/{x}/{y}; none by default")] = "",
    tile_attribution: Annotated[str, typer.Option(help="credit of the tile source")] = "",
    as_of: Annotated[str, typer.Option(help="show the job as of this day (YYYY-MM-DD)")] = "",
) -> None:
    """Serve the map of a job to browsers on this machine.

    Example: linemap serve north.linemap --port 8765
    """
    settings = Settings(
        job=job,
        as_of=_date(as_of, "--as-of"),
        tile_url=tile_url,
        tile_attribution=tile_attribution,
    )
    _serve(settings, host=host, port=port)


@app.command("demo")
def demo_command(
    folder: Annotated[Path, typer.Option(help="where the invented line is built")] = Path("linemap-demo"),
    port: Annotated[int, typer.Option(min=1, max=65535)] = 8765,
    host: Annotated[str, typer.Option(help="address to listen on; this machine only")] = "127.0.0.1",
    build_only: Annotated[bool, typer.Option("--build-only", help="build the job and stop")] = False,
) -> None:
    """Build an invented line in a folder and serve its map.

    Example: linemap demo --folder /tmp/demo
    """
    with _busy("building the invented line"):
        built = build_demo(folder, now=_now())
    _out.print(f"{'built' if built.fresh else 'found'} {built.job}", markup=False)
    if build_only:
        return
    _out.print(
        f"open http://{host}:{port}/ and look first at\n"
        f"  #structure=5/5   a three-pole frame set square to the wrong tangent\n"
        f"  #structure=2/3   poles A and B the other way round\n"
        f"  #structure=14/2  held until 15 August\n"
        "stop with Ctrl-C",
        markup=False,
    )
    _serve(Settings(job=str(built.job)), host=host, port=port)


def _serve(settings: Settings, *, host: str, port: int) -> None:
    if host not in ("127.0.0.1", "localhost", "::1"):
        _refuse(
            [
                Problem(
                    file="",
                    column="--host",
                    value=host,
                    reason="this version has no sign-in, so it serves this machine only",
                    remedy="use 127.0.0.1",
                )
            ]
        )
    application = create_app(settings)
    _err.print(f"serving {settings.job} on http://{host}:{port}/", markup=False)
    uvicorn.run(application, host=host, port=port, log_level="warning")


def _date(text: str, option: str) -> dt.date | None:
    if not text:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        problem = Problem(
            file="", column=option, value=text, reason="is no date", remedy="write it like 2026-05-15"
        )
        raise InputRefused(problem) from None


def _now() -> dt.datetime:
    return dt.datetime.now().astimezone()
