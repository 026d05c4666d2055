"""`linemap compute`: files in, one table out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from linemap.cli.terminal import ERR, busy, date_option

_CATENARY = (
    "tension over weight per length, like '4500 ft: sag table 3'; adds the weight span, by the ground "
    "elevations at the centres: attachments of one height are taken"
)


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
    catenary_constant: Annotated[str, typer.Option(help=_CATENARY)] = "",
    tolerances: Annotated[Path | None, typer.Option(help="tolerances with their sources")] = None,
    as_of_date: Annotated[str, typer.Option(help="ignore shots dated after this day (YYYY-MM-DD)")] = "",
    shot_order: Annotated[str, typer.Option(help="column order without a header: pnezd or penzd")] = "pnezd",
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
