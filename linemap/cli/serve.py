"""`linemap serve`: the map of a job, for browsers on this machine."""

from __future__ import annotations

from typing import Annotated

import typer
import uvicorn

from linemap.cli.terminal import ERR, JobArgument, date_option
from linemap.errors import InputRefused, Problem
from linemap.settings import Settings
from linemap.web.app import create_app

__all__ = ["serve", "serve_command"]

_THIS_MACHINE = ("127.0.0.1", "localhost", "::1")


def serve_command(
    job: JobArgument,
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
        as_of=date_option(as_of, "--as-of"),
        tile_url=tile_url,
        tile_attribution=tile_attribution,
    )
    serve(settings, host=host, port=port)


def serve(settings: Settings, *, host: str, port: int) -> None:
    """Serve a job until stopped.

    Raises
    ------
    InputRefused
        If `host` is not this machine: there is no sign-in yet.
    """
    if host not in _THIS_MACHINE:
        raise InputRefused(
            Problem(
                file="",
                column="--host",
                value=host,
                reason="this version has no sign-in, so it serves this machine only",
                remedy="use 127.0.0.1",
            )
        )
    application = create_app(settings)
    ERR.print(f"serving {settings.job} on http://{host}:{port}/", markup=False)
    uvicorn.run(application, host=host, port=port, log_level="warning")
