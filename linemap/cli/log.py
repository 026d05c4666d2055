"""`linemap log`: the record itself, whether it is as it was recorded, and written to a file."""

from __future__ import annotations

from dataclasses import asdict
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from linemap.cli.terminal import OUT, JobArgument, JsonOption, busy, opened, say_json
from linemap.errors import InputRefused

if TYPE_CHECKING:
    from linemap.service.record.keeping import Witnessed
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
    noted: Annotated[
        str, typer.Option(help="newest hash noted earlier, or several; each must be in it")
    ] = "",
    phones: Annotated[bool, typer.Option("--phones", help="and the hashes that phones saw")] = False,
    as_json: JsonOption = False,
) -> None:
    """Check the chains of hashes over all that decides, or write the events with their hashes.

    Each hash is the SHA-256 of the hash before it and the event as JSON with sorted names, without blanks, in
    UTF-8: an exported file can be checked by anyone. Accepted changes are a chain of their own, and so are
    the seals of holds and their releases, facts, decisions, photos, files, lists, people, claims and
    briefings: the first of each kind that is not as it was recorded is named. Note the newest hashes outside
    the job: whoever can write the whole database can compute new chains, but not ones that end in the hashes
    you noted.

    Example: linemap log linemap-demo/demo.linemap verify
    """
    if action is Action.EXPORT:
        _export(job, out)
        return
    with busy("verifying"):
        found = _verify(job, noted)
        seen = _seen_by_phones(job) if phones else ()
    if as_json:
        saw = [{**asdict(each.seen), "lost": each.lost} for each in seen]
        say_json({**_plain(found), **({"phones": saw} if phones else {})})
    else:
        for words in (*_verdict_words(found), *(each.words for each in seen)):
            OUT.print(words)
    if not found.holds or any(each.lost for each in seen):
        raise typer.Exit(1)


def _verify(job: str, noted: str) -> Verified:
    from linemap.service.record.log import verify_export, verify_record

    if Path(job).suffix == _EXPORT_SUFFIX:
        return verify_export(Path(job), noted=noted)
    with opened(job) as database:
        return verify_record(database, noted=noted)


def _seen_by_phones(job: str) -> tuple[Witnessed, ...]:
    from linemap.service.record.keeping import witnessed

    if Path(job).suffix == _EXPORT_SUFFIX:
        raise InputRefused.at("--phones", job, "an exported file holds nothing of phones", "name the job")
    with opened(job) as database:
        return witnessed(database)


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
    breaks = {name: getattr(found, name) for name in ("broken", "change_broken", "seal_broken")}
    plain = {name: None if at is None else at._asdict() for name, at in breaks.items()}
    return {**asdict(found), **plain, "altered": [each._asdict() for each in found.altered]}


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
    if found.change_broken is not None:
        at = found.change_broken
        words.append(f"changed: accepted change {at.id or 'without identifier'}, number {at.seq}")
    elif found.change_count:
        head = found.change_head
        words.append(f"{found.change_count:,} accepted changes follow from each other; newest hash {head}")
    words += _sealed_words(found)
    if found.noted_found is False:
        words.append("the noted hash is not in this record")
    elif found.noted_found:
        words.append("the noted hash is in this record")
    return words


_UNSEALED = {"added": "not entered through linemap", "changed": "which can no longer be read"}


def _sealed_words(found: Verified) -> list[str]:
    """Say what became of the rest of what decides: holds, facts, files, photos, people and so on."""
    words = []
    if found.seal_broken is not None:
        at = found.seal_broken
        words.append(f"changed: seal of {at.id or 'nothing'}, number {at.seq}")
    elif found.seal_count:
        words.append(f"{found.seal_count:,} seals follow from each other; newest hash {found.seal_head}")
    for each in found.altered:
        how = f"not as seal {each.seal} has it" if each.seal else _UNSEALED[each.how]
        words.append(f"{each.how}: {each.noun} {each.name or 'without a name'}, {how}")
    if found.sealed_since:
        words.append(f"sealed {found.sealed_since}; what was changed before that cannot be told")
    return words
