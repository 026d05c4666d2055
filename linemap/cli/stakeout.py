"""`linemap stakeout`: a point file for the controller, and the staking table that goes with it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from linemap.cli.terminal import OUT, JobArgument, busy, date_option, now, opened
from linemap.errors import InputRefused, Problem

if TYPE_CHECKING:
    from linemap.domain.staking.stakeout import StakePlan

__all__ = ["stakeout_command"]


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
    from linemap.service.files.staking_file import write_staking_table
    from linemap.service.survey.stakeout import write_point_file
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
