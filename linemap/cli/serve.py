"""`linemap serve`: the map of a job, for browsers here or a crew; `linemap demo`: an invented line."""

from __future__ import annotations

import ipaddress
import os
import ssl
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from linemap.cli.terminal import ERR, OUT, JobArgument, busy, date_option, now, opened
from linemap.errors import InputRefused, Problem

if TYPE_CHECKING:
    from fastapi import FastAPI

    from linemap.settings import Settings
    from linemap.web.start import StartOrJob

_TWO_WAYS = "give --tls-cert and --tls-key, or put a proxy that speaks HTTPS in front and give --behind-proxy"


def serve_command(
    job: JobArgument,
    host: Annotated[str, typer.Option(help="address to listen on; 0.0.0.0 for all")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=1, max=65535)] = 8765,
    tls_cert: Annotated[Path | None, typer.Option(help="certificate (PEM, with its chain)")] = None,
    tls_key: Annotated[Path | None, typer.Option(help="key of the certificate (PEM)")] = None,
    behind_proxy: Annotated[
        bool, typer.Option("--behind-proxy", help="a proxy on this machine speaks HTTPS with browsers")
    ] = False,
    workers: Annotated[int, typer.Option(min=1, max=64, help="processes that answer")] = 1,
    tile_url: Annotated[str, typer.Option(help="background tiles, {z}/{x}/{y}; none by default")] = "",
    tile_attribution: Annotated[str, typer.Option(help="credit of the tile source")] = "",
    as_of: Annotated[str, typer.Option(help="show the job as of this day (YYYY-MM-DD)")] = "",
) -> None:
    """Serve the map of a job: to this machine, or with people and HTTPS to a crew.

    Example: linemap serve linemap-demo/demo.linemap --as-of 2026-05-15
    """
    from linemap.settings import Settings

    tls = _tls(tls_cert, tls_key)
    reachable = behind_proxy or not _is_this_machine(host)
    if reachable:
        _check_reachable(job, host, https=tls is not None or behind_proxy)
    settings = Settings(
        job=job,
        as_of=date_option(as_of, "--as-of"),
        tile_url=tile_url,
        tile_attribution=tile_attribution,
        network=reachable,
        https=tls is not None or behind_proxy,
    )
    serve(settings, host=host, port=port, tls=tls, behind_proxy=behind_proxy, workers=workers)


def serve(
    settings: Settings,
    *,
    host: str,
    port: int,
    tls: tuple[Path, Path] | None = None,
    behind_proxy: bool = False,
    workers: int = 1,
) -> None:
    """Serve a job until stopped.

    Parameters
    ----------
    settings : Settings
        Its `network` must be set for any host but this machine.
    host : str
        Address to listen on.
    port : int
    tls : tuple of two paths, optional
        Certificate and key.
    behind_proxy : bool
        Believe a proxy on this machine when it says where a request came from.
    workers : int
        Processes; each answers by itself, the database keeps them together.

    Raises
    ------
    InputRefused
        If `host` is not this machine and the settings are not for a network.
    """
    import uvicorn

    if not settings.network and not _is_this_machine(host):
        reason = "without people and HTTPS a job is served to this machine only"
        raise InputRefused.at("--host", host, reason, "use 127.0.0.1")
    application = _application(settings, alone=workers == 1)
    ERR.print(f"serving {settings.job} on {'https' if tls else 'http'}://{host}:{port}/")
    if workers > 1:
        application.state.database.close()  # type: ignore[union-attr]
        os.environ.update(_as_environment(settings))
    certificate, key = tls or (None, None)
    uvicorn.run(
        "linemap.web.app:app_from_environment" if workers > 1 else application,
        factory=workers > 1,
        workers=workers if workers > 1 else None,
        host=host,
        port=port,
        ssl_certfile=certificate,
        ssl_keyfile=key,
        proxy_headers=behind_proxy,
        server_header=False,
        log_level="warning",
    )


def _application(settings: Settings, *, alone: bool) -> FastAPI | StartOrJob:
    """Return the application of a job; at a free path NAME.linemap, or of a folder, the one that makes it."""
    from linemap.web.app import create_app
    from linemap.web.start import StartOrJob

    place = Path(settings.job)
    free = place.suffix == ".linemap" and not place.exists() and place.parent.is_dir()
    if "://" in settings.job or settings.network or not alone or not (free or place.is_dir()):
        return create_app(settings)
    what = "a folder" if place.is_dir() else "no job yet"
    ERR.print(f"{place} is {what}: a job is made on the page")
    return StartOrJob(settings)


def _as_environment(settings: Settings) -> dict[str, str]:
    """Return settings as the variables that `Settings` reads in each worker."""
    given = settings.model_dump(mode="json", exclude_defaults=True)
    return {f"LINEMAP_{name.upper()}": str(value) for name, value in given.items()}


def _is_this_machine(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _check_reachable(job: str, host: str, *, https: bool) -> None:
    """Refuse to let others in before the job knows people and before what they send is hidden on the way."""
    from linemap.service.people.people import has_people

    problems = []
    if not https:
        reason = "passwords and places would travel unencrypted to other machines"
        problems.append(Problem(file="", column="--host", value=host, reason=reason, remedy=_TWO_WAYS))
    with opened(job) as database:
        if not has_people(database):
            remedy = f"add the first: linemap user {job} add NAME --role manager --password"
            reason = "the job has no people, so anybody could do anything"
            problems.append(Problem(file="", column="--host", value=host, reason=reason, remedy=remedy))
    if problems:
        raise InputRefused(problems)


def _tls(certificate: Path | None, key: Path | None) -> tuple[Path, Path] | None:
    if certificate is None and key is None:
        return None
    if certificate is None or key is None:
        missing = "--tls-key" if key is None else "--tls-cert"
        raise InputRefused.at(missing, "", "certificate and key go together", "give both files")
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(certificate, key)
    except (OSError, ssl.SSLError) as error:
        reason = f"certificate and key cannot be used: {error}"
        raise InputRefused.at(
            "--tls-cert", str(certificate), reason, "give two PEM files that belong together"
        ) from error
    return certificate, key


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
    OUT.print(f"{'built' if built.fresh else 'found'} {built.job}")
    if build_only:
        return
    OUT.print(
        f"open http://{host}:{port}/ and look first at\n"
        f"  #structure=5/5   a three-pole frame set square to the wrong tangent\n"
        f"  #structure=2/3   poles A and B the other way round\n"
        f"  #structure=14/2  held until 15 August\n"
        "stop with Ctrl-C",
    )
    serve(Settings(job=str(built.job)), host=host, port=port)
