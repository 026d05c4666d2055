"""`linemap next`: where a crew may go next by the records."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated

import typer

from linemap.cli.terminal import JobArgument, JsonOption, busy, date_option, now, opened, say, say_json

if TYPE_CHECKING:
    from linemap.answers.crew import NextAnswer
    from linemap.service.crew.crew import Fix

_PLACE = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*,\s*([+-]?\d+(?:\.\d+)?)\s*")


def read_start(text: str) -> tuple[str, Fix | None]:
    """Read where a crew starts: a structure number, or longitude and latitude.

    >>> read_start("13/4")
    ('13/4', None)
    >>> read_start("-108.37717,46.71312")
    ('', Fix(longitude=-108.37717, latitude=46.71312, accuracy_m=None))
    """
    from linemap.service.crew.crew import Fix

    match = _PLACE.fullmatch(text)
    if match is None:
        return text.strip(), None
    return "", Fix(longitude=float(match[1]), latitude=float(match[2]))


def next_command(
    job: JobArgument,
    crew: Annotated[str, typer.Option(help="name of the crew, as it records")],
    start: Annotated[
        str,
        typer.Option("--from", help="structure, or LON,LAT; by default the crew's last record"),
    ] = "",
    line: Annotated[str, typer.Option(help="line; all by default")] = "",
    step: Annotated[str, typer.Option(help="step; by default the one the crew has done most")] = "",
    workflow: Annotated[str, typer.Option(help="look at it framed on ground, or framed aloft")] = "",
    as_of: Annotated[str, typer.Option(help="day the records are shown for (YYYY-MM-DD)")] = "",
    most: Annotated[int, typer.Option(min=1, help="workable structures listed at most")] = 10,
    as_json: JsonOption = False,
) -> None:
    """List where a crew may go next by the records, nearest by travel first, and why not elsewhere.

    Example: linemap next linemap-demo/demo.linemap --crew Heron --from 13/4
    """
    from linemap.service.crew.crew import NextRequest, next_answer
    from linemap.service.job.declared import read_workflow
    from linemap.service.view.build import build_view

    structure, fix = read_start(start)
    request = NextRequest(
        crew=crew,
        line=line,
        structure=structure,
        fix=fix,
        step=step,
        workflow=read_workflow(workflow) if workflow else None,
        limit=None if as_json else most,
    )
    with busy("looking"), opened(job) as database:
        view = build_view(database, today=now().date(), as_of=date_option(as_of, "--as-of"))
        found = next_answer(view, request, now=now())
    if as_json:
        say_json(found.body())
    else:
        _print(found)


def _print(found: NextAnswer) -> None:
    say(f"{found.for_}, {found.step}, {found.from_}, records of {found.as_of}")
    say(f"workable by the records: {found.workable_count}, nearest by {found.ordered_by} first")
    for row in found.workable:
        say("")
        way = " ".join(filter(None, (row.distance_text, row.bearing_text)))
        say(f"{row.number:<8} {row.station_text:<12} {way}")
        say(row.travel_text, indent=9)
        for words in row.why:
            say(words, indent=9)
        for words in row.conditions:
            say(f"condition: {words}", indent=9)
    say("")
    say(f"not workable by the records: {len(found.refused)}; done: {found.done_count}")
    for refused in found.refused:
        say(refused.sentence, indent=2)
    say("")
    say(found.caution)
