"""`linemap log`: check that the record of the field was not changed, or write it to one file."""

from __future__ import annotations

from dataclasses import asdict
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from linemap.cli.terminal import OUT, JobArgument, JsonOption, busy, opened, say_json
from linemap.errors import InputRefused

if TYPE_CHECKING:
    from linemap.service.record.log import Verified

_EXPORT_SUFFIX = ".jsonl"


class Action(StrEnum):
    """What to do with the record."""

    VERIFY = "verify"
    EXPORT = "export"


def log_command(
    job: Annotated[
        str,
        typer.Argument(
            metavar="JOB", help="job file, postgresql:// URL, or an exported FILE.jsonl to verify"
        ),
    ],
    action: Annotated[Action, typer.Argument(help="verify or export")],
    out: Annotated[Path | None, typer.Option(help="file to write, NAME.jsonl; for export")] = None,
    noted: Annotated[str, typer.Option(help="newest hash noted earlier; it must stand in the record")] = "",
    as_json: JsonOption = False,
) -> None:
    """Check the chain of hashes over all events, or write the events with their hashes.

    Each hash is the SHA-256 of the hash before it and the event as JSON with sorted names, without blanks, in
    UTF-8: an exported file can be checked by anyone. Note the newest hash outside the job: whoever can write
    the whole database can compute a new chain, but not one that ends in the hash you noted.

    Example: linemap log linemap-demo/demo.linemap verify
    """
    if action is Action.EXPORT:
        _export(job, out)
        return
    with busy("verifying"):
        found = _verify(job, noted)
    if as_json:
        say_json(_plain(found))
    else:
        for words in _verdict_words(found):
            OUT.print(words)
    if found.broken is not None or found.noted_found is False:
        raise typer.Exit(1)


def _verify(job: str, noted: str) -> Verified:
    from linemap.service.record.log import verify_export, verify_record

    if Path(job).suffix == _EXPORT_SUFFIX:
        return verify_export(Path(job), noted=noted)
    with opened(job) as database:
        return verify_record(database, noted=noted)


def _export(job: JobArgument, out: Path | None) -> None:
    from linemap.service.record.log import export_record

    if out is None or out.suffix != _EXPORT_SUFFIX:
        raise InputRefused.at(
            "--out", str(out or ""), "an export needs a file to write", "name it like record.jsonl"
        )
    with busy("writing"), opened(job) as database:
        count = export_record(database, out)
    OUT.print(f"{out}: {count:,} events")


def _plain(found: Verified) -> dict[str, object]:
    broken = None if found.broken is None else found.broken._asdict()
    return {**{name: value for name, value in asdict(found).items() if name != "broken"}, "broken": broken}


def _verdict_words(found: Verified) -> list[str]:
    words = []
    if found.broken is not None:
        at = found.broken
        words.append(
            f"changed: event {at.id or 'without identifier'}, number {at.seq}, row {at.row} of an export"
        )
        words.append(f"the {found.count:,} events before it are as they were recorded")
    else:
        words.append(f"{found.count:,} events follow from each other; newest hash {found.head or '(none)'}")
    if found.noted_found is False:
        words.append("the noted hash is not in this record")
    elif found.noted_found:
        words.append("the noted hash is in this record")
    return words
