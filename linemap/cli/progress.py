"""`linemap progress`: where the job stands and when it will be done."""

from __future__ import annotations

from typing import Annotated

import orjson
import typer

from linemap.answers.progress import Period, Progress
from linemap.cli.terminal import OUT, JobArgument, JsonOption, busy, date_option, now, opened, say, say_json

_AS_OF = "what had happened by the end of this day (YYYY-MM-DD)"
_KNOWN_BY = "and was known by the end of this day"
_DAILY = "the report of this day instead: quantities by crew with their structures"


def progress_command(
    job: JobArgument,
    as_of: Annotated[str, typer.Option(help=_AS_OF)] = "",
    known_by: Annotated[str, typer.Option(help=_KNOWN_BY)] = "",
    line: Annotated[str, typer.Option(help="of this line alone")] = "",
    daily: Annotated[str, typer.Option(help=_DAILY)] = "",
    as_json: JsonOption = False,
) -> None:
    """Count what is done, compare it with the plan, and forecast the rest with its holds.

    Example: linemap progress linemap-demo/demo.linemap --as-of 2026-05-15
    """
    from linemap.service.progress.progress_page import period_answer, progress_answer
    from linemap.service.view.build import build_view

    day, known = date_option(as_of, "--as-of"), date_option(known_by, "--known-by")
    of_day = date_option(daily, "--daily")
    with busy("counting"), opened(job) as database:
        view = build_view(database, today=now().date())
        found: Period | Progress
        if of_day is not None:
            found = period_answer(view, first=of_day, known_by=known)
        else:
            found = progress_answer(view, as_of=day, known_by=known, line=line)
    if as_json:
        body = orjson.loads(orjson.dumps(found))
        say_json({name: part for name, part in body.items() if name != "charts"})
    elif isinstance(found, Period):
        _print_period(found)
    else:
        _print_progress(found)


def _print_progress(found: Progress) -> None:
    from rich.table import Table

    known = f", as known by {found.known_by}" if found.known_by else ""
    say(f"{found.name}, as of {found.as_of_text}{known}")
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
    say(found.plan_text)
    for words in (*found.forecast, *found.windows):
        say(words)
    say("")
    for section in found.sections:
        say(section.sentence)
    holes = [f"{found.mile_word} {row.mile}: {', '.join(row.holes)}" for row in found.miles if row.holes]
    if holes:
        say(f"passed by: {'; '.join(holes)}")
    for words in found.taken:
        say(f"taken: {words}")
    say(found.caution)


def _print_period(found: Period) -> None:
    known = f", as known by {found.known_by}" if found.known_by else ""
    say(f"{found.name}, {found.first}{known}")
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
