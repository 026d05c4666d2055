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
    AsOfOption,
    JobArgument,
    KnownByOption,
    busy,
    date_option,
    now,
    opened,
    when_of,
)

if TYPE_CHECKING:
    from linemap.service.job.setting import Setting

_CATENARY = "tension over weight per length, like '4500 ft: sag table 3'"
_WEIGHT = "adds the weight span, by the ground elevations at the centres: attachments of one height are taken"
_CRS = "projected CRS of all grid coordinates, like EPSG:6515"
_START = "station of the route start"
_POLE_A = "side of pole A looking ahead: left or right"
_SHOT_ORDER = "column order without a header: pnezd or penzd"
_PATTERN = (
    "how the crew describes a shot in its own way, like 'BRK <structure> N<pole> = top'; <number> is any "
    "other number, a pole is meant where nothing is said; may be given several times"
)


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
    pattern: Annotated[list[str] | None, typer.Option(help=_PATTERN)] = None,
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
        patterns=tuple(pattern or ()),
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
    true_from: Annotated[str, typer.Option(help="day from which it is true (YYYY-MM-DD); today")] = "",
    as_of: AsOfOption = "",
    known_by: KnownByOption = "",
    preview: Annotated[
        bool, typer.Option("--preview", help="declare nothing; show how --numbering and --pole-words read")
    ] = False,
    **given: str | list[str],
) -> None:
    """Declare what verdicts wait for and how work is judged; print all that is declared now.

    What is not named stays, 'not declared' takes back; without an option nothing is changed, and as of
    another day nothing can be.

    Example: linemap declare linemap-demo/demo.linemap --base-point none --source "control sheet 2026-02-09"
    --tolerance "anchor_lead=0.5 ft: specification 7.3" --evidence "set=every pole, photo: specification 9.1"
    """
    from linemap.service.job.job import declare
    from linemap.service.job.registry import SETTINGS

    texts = {name: text for name, text in given.items() if text}
    source = str(texts.get("source", ""))
    others = [SETTINGS[name].noun for name in texts if name != "source"]
    if others and "coordinates" not in others:
        texts.pop("source", None)  # it is the document of these, not of the coordinates
    when = when_of(as_of, known_by)
    if preview:
        _preview_naming(job, str(given.get("numbering") or ""), str(given.get("pole_words") or ""))
        return
    with opened(job) as database:
        declared = declare(
            database,
            texts,
            now=now(),
            who=by or getpass.getuser(),
            source=source,
            true_from=date_option(true_from, "--true-from"),
            when=when,
        )
    if when.words:
        OUT.print(when.words)
    OUT.print(f"declared: {declared.coordinates.words}")
    if declared.coordinates.missing:
        OUT.print(f"verdicts wait for: {', '.join(declared.coordinates.missing)}")
    for words in (*declared.rules, *declared.others):
        OUT.print(f"  {words}")


def _preview_naming(job: str, numbering: str, pole_words: str) -> None:
    from linemap.service.job.naming_now import preview_naming

    with opened(job) as database, database.reading() as connection:
        found = preview_naming(connection, numbering=numbering, pole_words=pole_words)
    for each in found.numbers:
        read = each.read or "not built as this numbering says"
        poles = ", ".join(f"{each.number} {word}" for word in each.poles)
        OUT.print(f"{each.number}: {read}; place {each.place} by number; poles {poles}", highlight=False)
    for words in found.unclear:
        OUT.print(f"to look at: {words}", highlight=False)
    OUT.print("nothing declared (preview)")


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
