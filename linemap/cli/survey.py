"""`linemap check` and `linemap decide`: what needs the surveyor, its causes, and the answers to them."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated

import typer

from linemap.answers.survey import Decided, SettledCause, Survey, SurveyCause
from linemap.cli.case import print_cases
from linemap.cli.terminal import (
    OUT,
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
    from linemap.domain.causes.cause import Answer
    from linemap.service.view.view import JobView
    from linemap.store.database import Database


_RESIDUALS = ("rotation", "along", "across", "spacing")


def check_command(
    job: JobArgument,
    as_json: JsonOption = False,
    everything: Annotated[bool, typer.Option("--all", help="list every surveyed structure")] = False,
    as_of: AsOfOption = "",
    known_by: KnownByOption = "",
) -> None:
    """List what the survey's exceptions come from, and every structure that needs the surveyor.

    Example: linemap check linemap-demo/demo.linemap
    """
    from linemap.service.survey.survey import check_job
    from linemap.service.view.cases import open_cases

    with viewed(job, "checking", when_of(as_of, known_by)) as (_, view):
        found = check_job(view, everything=everything)
        cases = open_cases(view)
    if as_json:
        say_json(found.rows)
        return
    if view.when.words:
        say(view.when.words)
    for cause in found.causes:
        say("")
        say(f"{cause.subject}: {cause.words}")
        say(f"ask for {cause.asks_for}", indent=9)
        say(f"{cause.moment}; accepting: {cause.would_change}", indent=9)
    rows = found.rows
    for row in rows:
        say("")
        place = f"{row.structure:<8} {row.station:<12} {row.verdict}"
        say(place if row.station else f"{row.line} {row.structure}".strip() or "files")
        residuals = ", ".join(f"{name} {value}" for name in _RESIDUALS if (value := getattr(row, name)))
        for words in filter(None, (residuals, row.second_evidence, *row.findings)):
            say(words, indent=9)
    if cases:
        say("")
        print_cases(cases)
    listed = sum(bool(row.station) for row in rows)
    OUT.print(
        f"{listed} structures listed. A licensed surveyor decides; nothing here is a clearance to work."
    )


class Verb(StrEnum):
    """What a person may answer."""

    ACCEPT = "accept"
    REJECT = "reject"
    NEEDS_EVIDENCE = "needs-evidence"
    WITHDRAW = "withdraw"


_ANSWERS: Mapping[Verb, Answer] = MappingProxyType(
    {
        Verb.ACCEPT: "accepted",
        Verb.REJECT: "rejected",
        Verb.NEEDS_EVIDENCE: "needs evidence",
        Verb.WITHDRAW: "withdrawn",
    }
)


def decide_command(
    job: JobArgument,
    verb: Annotated[Verb | None, typer.Argument(metavar="[ANSWER]", help="none = list the causes")] = None,
    cause: Annotated[
        str, typer.Argument(metavar="[CAUSE]", help='name in the list, or its subject like "structure 4/2"')
    ] = "",
    by: Annotated[str, typer.Option(help="who decides")] = "",
    note: Annotated[str, typer.Option(help="why; the second evidence, where one is needed")] = "",
    as_json: JsonOption = False,
) -> None:
    """List causes with their numbers, or accept, reject, needs-evidence, withdraw one.

    Example: linemap decide linemap-demo/demo.linemap accept "file shots_2026-04-02.csv"
    --by "P. Chief" --note "exported as P,E,N,Z,D"
    """
    from linemap.service.survey.survey_page import survey_answer

    with viewed(job, "checking") as (database, view):
        if verb is not None:
            decided = _decide(database, view, _ANSWERS[verb], cause, by=by, note=note)
    if verb is not None:
        _print_change(decided, as_json=as_json)
    elif as_json:
        say_json(_numbered(survey_answer(view)))
    else:
        _print_list(survey_answer(view))


def _entries(page: Survey) -> list[tuple[int, SurveyCause | SettledCause]]:
    """Give numbers to the causes, then to the answers that stand for causes no longer found."""
    return list(enumerate([*page.causes, *page.settled], start=1))


def _code(entry: SurveyCause | SettledCause) -> str:
    return entry.code if isinstance(entry, SurveyCause) else entry.cause


def _numbered(page: Survey) -> list[dict[str, object]]:
    return [{"number": number, **vars(each), "cause": _code(each)} for number, each in _entries(page)]


def _decide(
    database: Database, before: JobView, answer: Answer, cause: str, *, by: str, note: str
) -> Decided:
    from linemap.service.survey.survey_page import Asked, decide, survey_answer, verdict_changes
    from linemap.service.view.build import build_view

    chosen = _chosen(survey_answer(before), cause)
    asked = Asked(
        id=str(uuid.uuid4()),
        cause=_code(chosen),
        subject=chosen.subject,
        line=chosen.line,
        answer=answer,
        who=by,
        note=note,
    )
    decide(database, before, asked, at=now())
    after = build_view(database, today=now())
    changes = verdict_changes(before, after)
    return Decided(answer=answer, cause=asked.cause, subject=asked.subject, who=by.strip(), **vars(changes))


def _chosen(page: Survey, cause: str) -> SurveyCause | SettledCause:
    wanted = cause.strip().casefold()
    entries = _entries(page)
    by_number = next((each for number, each in entries if wanted == str(number)), None)
    if by_number is not None:
        _refuse_moved(page, by_number, cause)
        return by_number
    found = [each for _, each in entries if wanted in (each.id, each.subject.casefold())]
    if len(found) == 1:
        return found[0]
    fault = "fits several causes" if found else "is no cause of this job"
    raise InputRefused.at("CAUSE", cause, fault, "give the name or the subject that linemap decide JOB lists")


def _refuse_moved(page: Survey, chosen: SurveyCause | SettledCause, cause: str) -> None:
    """Refuse a number once something is decided: every decision may move the numbers, and none is undone."""
    if page.history:
        raise InputRefused.at(
            "CAUSE",
            cause,
            "is a number, and numbers move with every decision",
            f"give the name of the cause; the number now stands for {chosen.id}, {chosen.subject}",
        )


def _print_list(page: Survey) -> None:
    for number, each in _entries(page):
        stands = each.decision
        state = f"{stands.answer} by {stands.who}, {stands.at[:10]}" if stands else "open"
        say(f"{number:>3}  {each.id}  {_code(each)}, {each.subject}: {state}")
        if stands and stands.note:
            say(stands.note, indent=5)
        if each.words:
            say(each.words, indent=5)
        if isinstance(each, SurveyCause):
            say(f"ask for {each.asks_for}", indent=5)
            say(f"{each.moment}; accepting: {each.would_change}", indent=5)
    say("A licensed surveyor decides; nothing here is a clearance to work.")


def _print_change(decided: Decided, *, as_json: bool) -> None:
    if as_json:
        say_json(decided)
        return
    say(f"{decided.answer} by {decided.who}: {decided.cause}, {decided.subject}")
    counts = [f"{name} {count} -> {decided.after[name]}" for name, count in decided.before.items()]
    say(", ".join(counts), indent=5)
    for each in decided.changed:
        say(f"{each.structure}: {each.before} -> {each.after}", indent=5)
    if not decided.changed:
        say("no verdict changed", indent=5)
