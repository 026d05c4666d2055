"""`linemap cases` and `linemap move`: what was recorded against something, and records at the wrong place."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import typer

from linemap.cli.terminal import (
    AsOfOption,
    JobArgument,
    JsonOption,
    KnownByOption,
    now,
    say,
    say_json,
    viewed,
    when_of,
)
from linemap.errors import InputRefused

if TYPE_CHECKING:
    from linemap.answers.case import CaseEntry


def cases_command(
    job: JobArgument,
    case: Annotated[str, typer.Argument(metavar="[CASE]", help="its name in the list")] = "",
    answer: Annotated[str, typer.Option(help="what is answered; it stays open")] = "",
    close: Annotated[str, typer.Option(help="the evidence that closes it")] = "",
    reopen: Annotated[str, typer.Option(help="why it is open again")] = "",
    by: Annotated[str, typer.Option(help="who answers")] = "",
    everything: Annotated[bool, typer.Option("--all", help="list the closed ones too")] = False,
    as_of: AsOfOption = "",
    known_by: KnownByOption = "",
    as_json: JsonOption = False,
) -> None:
    """List what was recorded against a hold, a ticket, a limit, the order of the work or the list; answer it.

    Example: linemap cases linemap-demo/demo.linemap
    """
    from linemap.domain.record.person import Person
    from linemap.service.record.cases import act_on_case, case_list

    said = [(act, text) for act, text in (("answer", answer), ("close", close), ("reopen", reopen)) if text]
    if len(said) > 1 or bool(case) != bool(said):
        reason = "a case is answered, closed or opened again, one of these, and named"
        remedy = 'write: linemap cases JOB CASE --close "evidence" --by NAME'
        raise InputRefused.at("CASE", case, reason, remedy)
    with viewed(job, "looking", when_of(as_of, known_by)) as (database, view):
        if said:
            act, text = said[0]
            done = act_on_case(database, view, case, act, text=text, by=by, now=now())
        else:
            found = case_list(view, Person.at_the_machine(), state="all" if everything else "open")
    if said:
        say(done)
    elif as_json:
        say_json(found.cases)
    else:
        print_cases(found.cases)
        say(found.caution)


def print_cases(cases: Iterable[CaseEntry]) -> None:
    """Print cases with who answers each, and what was answered."""
    entries = list(cases)
    say(f"open cases: {sum(each.state != 'closed' for each in entries)}")
    for each in entries:
        say("")
        say(f"{each.number:<8} {each.id}  {each.state}, answered by {each.asked}")
        say(each.words, indent=9)
        for act in each.acts:
            say(f"{act.when[:10]} {act.who}: {act.words}", indent=9)


def move_command(
    job: JobArgument,
    structure: Annotated[str, typer.Argument(help="where it was recorded")],
    record: Annotated[str, typer.Argument(metavar="[RECORD]", help="none = list the records there")] = "",
    to: Annotated[str, typer.Option(help="structure it belongs to")] = "",
    pole: Annotated[str, typer.Option(help="pole it is of there; by default as recorded")] = "",
    line: Annotated[str, typer.Option(help="line, where the job has several")] = "",
    to_line: Annotated[str, typer.Option(help="line it belongs to; the same by default")] = "",
    why: Annotated[str, typer.Option(help="why")] = "",
    by: Annotated[str, typer.Option(help="who moves it")] = "",
    back: Annotated[bool, typer.Option("--back", help="take its last move back")] = False,
) -> None:
    """Move a record with its photos and readings to the structure or pole it belongs to, or list records.

    Example: linemap move linemap-demo/demo.linemap 9/2
    """
    from linemap.service.record.cases import Move, move_record, records_at

    with viewed(job, "looking") as (database, view):
        if record:
            asked = Move(record=record, to=to, pole=pole, line=to_line, why=why, by=by, back=back)
            said = [move_record(database, view, line, structure, asked, now=now())]
        else:
            said = records_at(view, line, structure)
    for words in said:
        say(words)
