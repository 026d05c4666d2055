"""What `linemap progress --closeout` prints and writes: steps and checks by section, with all names."""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast, get_args

import orjson

from linemap.cli.terminal import OUT, say, say_json, viewed
from linemap.domain.kind.when import When
from linemap.errors import InputRefused


def print_closeout(job: str, when: When, *, line: str, by: str, out: Path | None, as_json: bool) -> None:
    """Print the matrix, or write it with all names; `by` is section or mile."""
    from linemap.io.output.write import write_table
    from linemap.service.progress.closeout import By, closeout_columns, closeout_of

    if by not in get_args(By):
        raise InputRefused.at("--closeout", by, "is no column of the matrix", "write section or mile")
    if out is not None and out.suffix.lower() not in (".csv", ".xlsx"):
        raise InputRefused.at("--out", str(out), "the matrix is written as .csv or .xlsx", "name it so")
    with viewed(job, "counting", when) as (_, view):
        found = closeout_of(view, line=line, by=cast("By", by))
        source = view.source
    if out is not None:
        write_table(closeout_columns(found), out, source=source, title="records")
        say(f"{out}: records by {by}, as of {found.as_of}")
    elif as_json:
        say_json(orjson.loads(orjson.dumps(found)))
    else:
        _print(found)


def _print(found: Any) -> None:
    say(f"{found.name}, as of {found.as_of}")
    say(found.words)
    for index, column in enumerate(found.columns):
        say("")
        OUT.print(column, style="bold")
        for row in found.rows:
            cell = row.cells[index]
            lacking = ", ".join(place.number for place in cell.missing_list)
            say(f"{row.words}: {cell.text}" + (f"; lacking: {lacking}" if lacking else ""), indent=2)
    say(found.caution)
