"""`linemap backup` and `restore`: copies of the job to keep, and a job made of one."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from linemap.cli.terminal import OUT, JobArgument, JsonOption, busy, now, opened, say_json


def backup_command(
    job: JobArgument,
    to: Annotated[Path, typer.Option("--to", help="new file to write, best on another disk")],
    as_json: JsonOption = False,
) -> None:
    """Write a copy of the job as it stands, while it is served; phones keep what they sent until then.

    The copy is brought back with linemap restore, so that phones see it and send again what it lacks. Of a
    PostgreSQL job it is a dump, made by the server's own pg_dump.

    Example: linemap backup linemap-demo/demo.linemap --to demo-copy.linemap
    """
    from linemap.service.record.keeping import back_up

    with busy("copying"), opened(job) as database:
        made, verified = back_up(database, to, now=now())
    sound = verified is None or not (verified.broken or verified.change_broken)
    if as_json:
        say_json({**asdict(made), "verified": None if verified is None else sound})
    else:
        OUT.print(f"{to}: {made.size:,} bytes, SHA-256 {made.sha256}")
        OUT.print(f"holds the record up to event {made.event_seq:,}, hash {made.event_hash or '(none)'}")
        if not sound:
            OUT.print("the record in it does not follow from itself; see: linemap log JOB verify")
    if not sound:
        raise typer.Exit(1)


def restore_command(
    copy: Annotated[Path, typer.Argument(metavar="COPY", help="file that linemap backup wrote")],
    to: Annotated[str, typer.Option("--to", help="new job file, or postgresql:// URL of an empty database")],
    as_json: JsonOption = False,
) -> None:
    """Make a job of a copy that was kept. Phones notice, and send again what they sent since.

    Example: linemap restore demo-copy.linemap --to demo-again.linemap
    """
    from linemap.service.record.keeping import bring_back

    with busy("bringing back"):
        head = bring_back(copy, to)
    if as_json:
        say_json({"event_seq": head.seq, "event_hash": head.link})
    else:
        OUT.print(f"{to}: the record up to event {head.seq:,}, hash {head.link or '(none)'}")
        OUT.print("Serve it where the phones expect it: each sends again what it has and this job lacks.")
