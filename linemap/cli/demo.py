"""`linemap demo`: an invented line, built and served."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from linemap.cli.serve import serve
from linemap.cli.terminal import OUT, busy, now

__all__ = ["demo_command"]


def demo_command(
    folder: Annotated[Path, typer.Option(help="where the invented line is built")] = Path("linemap-demo"),
    port: Annotated[int, typer.Option(min=1, max=65535)] = 8765,
    host: Annotated[str, typer.Option(help="address to listen on; this machine only")] = "127.0.0.1",
    build_only: Annotated[bool, typer.Option("--build-only", help="build the job and stop")] = False,
) -> None:
    """Build an invented line in a folder and serve its map.

    Example: linemap demo --build-only
    """
    from linemap.service.demo import build_demo
    from linemap.settings import Settings

    with busy("building the invented line"):
        built = build_demo(folder, now=now())
    OUT.print(f"{'built' if built.fresh else 'found'} {built.job}", markup=False)
    if build_only:
        return
    OUT.print(
        f"open http://{host}:{port}/ and look first at\n"
        f"  #structure=5/5   a three-pole frame set square to the wrong tangent\n"
        f"  #structure=2/3   poles A and B the other way round\n"
        f"  #structure=14/2  held until 15 August\n"
        "stop with Ctrl-C",
        markup=False,
    )
    serve(Settings(job=str(built.job)), host=host, port=port)
