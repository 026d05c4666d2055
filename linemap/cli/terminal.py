"""What all commands share: where they print, how long work shows, how dates and the clock are read."""

from __future__ import annotations

import datetime as dt
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import orjson
import typer
from rich.console import Console

from linemap.errors import InputRefused, Problem

if TYPE_CHECKING:
    from linemap.domain.kind.when import When
    from linemap.service.view.view import JobView
    from linemap.store.database import Database

#: Standard output, for answers.
OUT = Console(soft_wrap=True, markup=False, highlight=False, emoji=False)
#: Standard error, for findings, refusals and progress.
ERR = Console(stderr=True, soft_wrap=True, markup=False, highlight=False, emoji=False)

JobArgument = Annotated[
    str, typer.Argument(metavar="JOB", help="job file (NAME.linemap) or postgresql:// URL")
]
AsOfOption = Annotated[
    str, typer.Option("--as-of", help="what had happened by the end of this day (YYYY-MM-DD), and was true")
]
KnownByOption = Annotated[str, typer.Option("--known-by", help="and was known by the end of this day")]
JsonOption = Annotated[bool, typer.Option("--json", help="print JSON instead of a table")]

_MOST_SHOWN = 20


@contextmanager
def busy(words: str) -> Iterator[None]:
    """Show that long work goes on, on a terminal only."""
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn())
    with Progress(*columns, console=ERR, transient=True, disable=not ERR.is_terminal) as progress:
        progress.add_task(words, total=None)
        yield


@contextmanager
def opened(job: str, *, shows: bool = False) -> Iterator[Database]:
    """Open a job; when that brought it up to date, say once what became of its records.

    A command that `shows` the job says what is not loaded or declared yet, and does what can be done.
    """
    from linemap.store.database import open_job

    with open_job(job) as database:
        if database.upgraded_from:
            # computes the whole job, for something that happens once in its life
            from linemap.service.progress.progress_words import upgrade_words

            for words in upgrade_words(database, today=now()):
                ERR.print(words)
        if shows:
            from linemap.service.job.job import waiting_now

            with database.reading() as connection:
                for each in waiting_now(connection):
                    ERR.print(each.words)
        yield database


@contextmanager
def viewed(job: str, words: str, when: When | None = None) -> Iterator[tuple[Database, JobView]]:
    """Open a job and compute it, now or at another time, while `words` say what goes on."""
    from linemap.domain.kind.when import NOW
    from linemap.service.view.build import build_view

    with busy(words), opened(job, shows=True) as database:
        yield database, build_view(database, today=now(), when=when or NOW)


def show_refusal(problems: Sequence[Problem]) -> None:
    """Print the problems of a refusal, the first twenty in full."""
    for problem in problems[:_MOST_SHOWN]:
        ERR.print(f"refused: {problem}")
    if len(problems) > _MOST_SHOWN:
        ERR.print(f"… and {len(problems) - _MOST_SHOWN} more problems")


def say(words: str, *, indent: int = 0) -> None:
    """Print words as they are, indented; on a terminal wrapped to its width under the indent."""
    margin = " " * indent
    if OUT.is_terminal:
        words = textwrap.fill(words, OUT.width, initial_indent=margin, subsequent_indent=margin)
    else:
        words = margin + words
    OUT.print(words)


def say_json(answer: object) -> None:
    """Print what the service answers as JSON, indented."""
    OUT.print_json(orjson.dumps(answer).decode())


def date_option(text: str, option: str) -> dt.date | None:
    """Read a date option; "" gives None.

    Raises
    ------
    InputRefused
        If it is no date.

    >>> date_option("2026-05-15", "--as-of")
    datetime.date(2026, 5, 15)
    """
    if not text:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputRefused.at(option, text, "is no date", "write it like 2026-05-15") from None


def when_of(as_of: str, known_by: str) -> When:
    """Read the options that ask for another time."""
    from linemap.domain.kind.when import When

    return When(as_of=date_option(as_of, "--as-of"), known_by=date_option(known_by, "--known-by"))


def known_words(known_by: object) -> str:
    """Say behind a day what was known by when: a day or its text; nothing = all that ever came in."""
    return f", as known by {known_by}" if known_by else ""


def now() -> dt.datetime:
    """Return the machine's time with its zone; the one clock of the commands."""
    return dt.datetime.now().astimezone()
