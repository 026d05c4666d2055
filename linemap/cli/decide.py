"""`linemap decide`: list the causes of the survey's exceptions, and answer one of them by name."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated, Any

import typer

from linemap.cli.terminal import OUT, JobArgument, JsonOption, busy, now, say
from linemap.domain.causes.decision import Answer
from linemap.errors import InputRefused, Problem
from linemap.service.job.job import open_job
from linemap.service.survey.survey_page import Asked, decide, survey_payload, verdict_changes
from linemap.service.view.build import build_view
from linemap.store.database import Database

__all__ = ["decide_command"]


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
        str, typer.Argument(metavar="[CAUSE]", help='number in the list, or its subject like "structure 4/2"')
    ] = "",
    by: Annotated[str, typer.Option(help="who decides")] = "",
    note: Annotated[str, typer.Option(help="why; the second evidence, where one is needed")] = "",
    as_json: JsonOption = False,
) -> None:
    """List causes with their numbers, or accept, reject, needs-evidence, withdraw one.

    Example: linemap decide north.linemap accept "file shots_2026-04-29.csv" --by "P. Chief" --note "US feet"
    """
    with busy("checking"), open_job(job) as database:
        if verb is None:
            page = survey_payload(build_view(database, today=now().date()))
            told = None
        else:
            told = _decide(database, _ANSWERS[verb], cause, by=by, note=note)
    if told is not None:
        _print_change(told, as_json=as_json)
    elif as_json:
        OUT.print_json(json.dumps(_entries(page)))
    else:
        _print_list(page)


def _entries(page: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Give numbers to the causes, then to the answers that stand for causes no longer found."""
    found = [{**cause, "cause": cause["code"]} for cause in page["causes"]]
    return [{"number": number, **each} for number, each in enumerate([*found, *page["settled"]], start=1)]


def _decide(database: Database, answer: Answer, cause: str, *, by: str, note: str) -> dict[str, Any]:
    before = build_view(database, today=now().date())
    chosen = _chosen(_entries(survey_payload(before)), cause)
    asked = Asked(
        id=str(uuid.uuid4()),
        cause=chosen["cause"],
        subject=chosen["subject"],
        line=chosen["line"],
        answer=answer,
        who=by,
        note=note,
    )
    decide(database, before, asked, at=now())
    after = build_view(database, today=now().date())
    about = {"answer": answer, "cause": asked.cause, "subject": asked.subject, "who": by.strip()}
    return {**about, **verdict_changes(before, after)}


def _chosen(entries: list[dict[str, Any]], cause: str) -> dict[str, Any]:
    wanted = cause.strip().casefold()
    found = [each for each in entries if wanted in (str(each["number"]), each["subject"].casefold())]
    if len(found) == 1:
        return found[0]
    fault = "fits several causes" if found else "is no cause of this job"
    raise InputRefused(
        Problem(
            file="",
            column="CAUSE",
            value=cause,
            reason=fault,
            remedy="give the number or the subject that linemap decide JOB lists",
        )
    )


def _print_list(page: Mapping[str, Any]) -> None:
    for each in _entries(page):
        stands = each["decision"]
        state = f"{stands['answer']} by {stands['who']}, {stands['at'][:10]}" if stands else "open"
        say(f"{each['number']:>3}  {each['cause']}, {each['subject']}: {state}")
        if stands and stands["note"]:
            say(stands["note"], indent=5)
        if each["words"]:
            say(each["words"], indent=5)
        if "asks_for" in each:
            say(f"ask for {each['asks_for']}", indent=5)
            say(f"{each['moment']}; accepting: {each['would_change']}", indent=5)
    say("A licensed surveyor decides; nothing here is a clearance to work.")


def _print_change(told: Mapping[str, Any], *, as_json: bool) -> None:
    if as_json:
        OUT.print_json(json.dumps(told))
        return
    say(f"{told['answer']} by {told['who']}: {told['cause']}, {told['subject']}")
    counts = [f"{name} {count} -> {told['after'][name]}" for name, count in told["before"].items()]
    say(", ".join(counts), indent=5)
    for each in told["changed"]:
        say(f"{each['structure']}: {each['before']} -> {each['after']}", indent=5)
    if not told["changed"]:
        say("no verdict changed", indent=5)
