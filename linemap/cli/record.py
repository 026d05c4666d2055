"""`linemap progress` and `next`: what the record says, and where a crew may go."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import orjson
import typer

from linemap.answers.progress import CrewChecks, Period, Progress
from linemap.cli.case import print_cases
from linemap.cli.closeout import print_closeout
from linemap.cli.terminal import (
    OUT,
    AsOfOption,
    JobArgument,
    JsonOption,
    KnownByOption,
    date_option,
    known_words,
    now,
    say,
    say_json,
    viewed,
    when_of,
)

if TYPE_CHECKING:
    from linemap.answers.crew import NextAnswer
    from linemap.service.crew.crew import Fix

_DAILY = "the report of this day instead: quantities by crew with their structures"
_CLOSEOUT = "what the records hold and lack instead: by section, or by mile"


def progress_command(
    job: JobArgument,
    as_of: AsOfOption = "",
    known_by: KnownByOption = "",
    line: Annotated[str, typer.Option(help="of this line alone")] = "",
    daily: Annotated[str, typer.Option(help=_DAILY)] = "",
    closeout: Annotated[str, typer.Option(help=_CLOSEOUT)] = "",
    out: Annotated[
        Path | None, typer.Option(help="file for that matrix with all names, .csv or .xlsx")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Count what is done, compare it with the plan, and forecast the rest with its holds.

    Example: linemap progress linemap-demo/demo.linemap --as-of 2026-05-15
    """
    from linemap.service.progress.progress_page import period_answer, progress_answer

    if closeout or out:
        print_closeout(
            job, when_of(as_of, known_by), line=line, by=closeout or "section", out=out, as_json=as_json
        )
        return
    of_day = date_option(daily, "--daily")
    with viewed(job, "counting", when_of(as_of, known_by)) as (_, view):
        found = progress_answer(view, line=line) if of_day is None else period_answer(view, first=of_day)
    if as_json:
        body = orjson.loads(orjson.dumps(found))
        say_json({name: part for name, part in body.items() if name != "charts"})
    elif isinstance(found, Period):
        _print_period(found)
    else:
        _print_progress(found)


def _print_progress(found: Progress) -> None:
    from rich.table import Table

    say(f"{found.name}, as of {found.as_of_text}{known_words(found.known_by)}")
    table = Table("step", "done", "of", "by count", "by weight", box=None)
    for count in found.counts:
        table.add_row(
            count.words,
            str(count.done),
            str(count.of),
            count.percent_text,
            count.weighted_text,
        )
    OUT.print(table)
    for count in found.counts:
        if count.claimed_list:
            claimed = len(count.claimed_list)
            say(
                f"claimed, not verified: {claimed} of {count.done} {count.words} "
                f"(asked for: {count.evidence_text})"
            )
        if count.noted_list:
            names = ", ".join(place.number for place in count.noted_list)
            say(f"in a note alone, which proves nothing: {names}", indent=2)
    say(f"physical progress by type and step weight: {found.physical_text}")
    say(f"weights of steps: {found.weights_text}", indent=2)
    say(found.plan_text)
    for words in (*found.forecast, *found.windows):
        say(words)
    if found.cases:
        say("")
        print_cases(found.cases)
    say("")
    for section in found.sections:
        say(section.sentence)
    holes = [f"{found.mile_word} {row.mile}: {', '.join(row.holes)}" for row in found.miles if row.holes]
    if holes:
        say(f"passed by: {'; '.join(holes)}")
    _print_crew_checks(found.crew_checks)
    for words in found.taken:
        say(f"taken: {words}")
    say(found.caution)


def _print_crew_checks(found: CrewChecks) -> None:
    for count in found.newest:
        say(f"{count.words} (no survey): {', '.join(place.number for place in count.list)}")
    for shown in found.precision:
        whose = " ".join(filter(None, (shown.crew, shown.person)))
        say(f"{whose}, by {shown.method}, beside the survey: {shown.few_text}")
        say(
            f"turned {shown.rotation_text}; spacing {shown.spacing_text}; a pole {shown.poles_text}", indent=2
        )


def _print_period(found: Period) -> None:
    say(f"{found.name}, {found.first}{known_words(found.known_by)}")
    if not found.quantities:
        say("nothing is recorded as done")
    for one in found.quantities:
        names = ", ".join(entry.number for entry in one.list)
        say(f"{one.crew}: {one.count} {one.words} ({names}), {one.to_date} to date")
    for words in (*found.rework, *found.repeats):
        say(words)
    for note in found.notes:
        say(f"{note.number} {note.words}")
    if found.came_late:
        say(f"{found.came_late} records of the day came in after it")
    say(found.not_recorded)


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
    as_of: AsOfOption = "",
    known_by: KnownByOption = "",
    most: Annotated[int, typer.Option(min=1, help="workable structures listed at most")] = 10,
    as_json: JsonOption = False,
) -> None:
    """List where a crew may go next by the records, nearest by travel first, and why not elsewhere.

    Example: linemap next linemap-demo/demo.linemap --crew Heron --from 13/4
    """
    from linemap.service.crew.crew import NextRequest, next_answer
    from linemap.service.job.declared_steps import read_workflow

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
    with viewed(job, "looking", when_of(as_of, known_by)) as (_, view):
        found = next_answer(view, request, now=now())
    if as_json:
        say_json(found.body())
    else:
        _print_next(found)


def _print_next(found: NextAnswer) -> None:
    known = f", {found.when}" if found.when else ""
    say(f"{found.for_}, {found.step}, {found.from_}, records of {found.as_of}{known}")
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
