"""The bench for shots: what a person says of them, which goes before whatever was read.

Shots are assigned to a structure, a pole and an item, or set aside with a reason. Each is a `Decision` with a
correction, only ever added, and taken back by withdrawing it.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from linemap.answers import shots as answer
from linemap.domain.causes.cause import Decision, standing
from linemap.domain.finding.finding import token
from linemap.domain.survey.open_shots import Deed
from linemap.errors import Conflict, InputRefused, NotFound
from linemap.service.survey.alike import alike_answer, read_pattern
from linemap.service.survey.chosen_shot import ChosenShot, in_job, target
from linemap.service.survey.survey_page import verdict_changes
from linemap.service.view.decided import shot_decisions
from linemap.service.view.view import JobView
from linemap.store.database import Database
from linemap.store.survey import add_decision, load_decisions
from linemap.store.versions import load_data_version

ASSIGNED, SET_ASIDE, READ_ALIKE = "shots assigned", "shots set aside", "shots read by pattern"
#: Longest subject that names every row.
_SUBJECT = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOfShots:
    """What a person says of shots, or takes back."""

    #: UUID made where it is decided; sending it twice is still once.
    id: str
    what: Deed
    shots: tuple[ChosenShot, ...] = ()
    #: Instead of shots: how those that are assigned are described (`Pattern`), later ones too; "" = none.
    pattern: str = ""
    #: Only of this file; "" = of all.
    file: str = ""
    #: Identifiers of the decisions that are taken back.
    decisions: tuple[str, ...] = ()
    who: str
    #: Why; whoever sets shots aside says it.
    note: str = ""


def decide_shots(
    database: Database, view: JobView, asked: AskedOfShots, *, at: dt.datetime
) -> tuple[list[Decision], bool]:
    """Record what a person says of shots, all of it or nothing.

    `view` is the job as the person saw it.

    Returns
    -------
    list of Decision, bool
        One for the shots of a file that become the same; False when they were recorded before.

    Raises
    ------
    NotFound
        If the job has no such shot, structure or decision that stands.
    Conflict
        If the id is taken, a shot is set aside, or the job changed meanwhile.
    InputRefused
        If the name is blank, no reason is given for setting aside, nothing is chosen, or a structure or pole
        is named where the item has none, or none where it has one, or one the structure does not have.
    """
    with database.writing() as connection:
        there = load_decisions(connection)
        decisions = _decisions(view, asked, there, at=at)
        if _recorded(decisions, there):
            return decisions, False
        _check_not_set_aside(view, asked)
        _check_reads(view, asked)
        if load_data_version(connection) != view.data_version:
            raise Conflict("the job changed while you decided; look at the shots again, then decide")
        for decision in decisions:
            add_decision(connection, decision)
    return decisions, True


def _decisions(
    view: JobView, asked: AskedOfShots, there: Iterable[Decision], *, at: dt.datetime
) -> list[Decision]:
    if not asked.who.strip():
        raise InputRefused.at("who", asked.who, "names nobody", "say who decides")
    if asked.what == "take back":
        known = {each.id: each for each in there if each.cause in {ASSIGNED, SET_ASIDE, READ_ALIKE}}
        matters = [_withdrawn(known, each) for each in dict.fromkeys(asked.decisions)]
    elif asked.what == "assign" and asked.pattern:
        matters = [_read_alike(asked)]
    else:
        matters = _matters(view, asked)
    if not matters:
        raise InputRefused.at("shots", "", "names no shot and no decision", "choose at least one")
    return [
        Decision(
            # the first has the id that was sent, so that another request under it is found out
            id=asked.id if k == 0 else str(uuid.uuid5(uuid.UUID(asked.id), str(k))),
            who=asked.who.strip(),
            at=at,
            note=asked.note.strip(),
            **matter,
        )
        for k, matter in enumerate(matters)
    ]


def shots_changed(before: JobView, after: JobView, decisions: Iterable[Decision]) -> answer.ShotsChanged:
    """Say what was decided about shots, and each structure whose verdict it changed."""
    decided = [*decisions]
    return answer.ShotsChanged(
        decisions=[each.id for each in decided],
        words=[
            f"{'taken back: ' if each.answer == 'withdrawn' else ''}{each.cause}, {each.subject}"
            for each in decided
        ],
        **vars(verdict_changes(before, after)),
    )


def _matters(view: JobView, asked: AskedOfShots) -> list[dict[str, Any]]:
    if asked.what == "set aside" and not asked.note.strip():
        raise InputRefused.at("note", "", "gives no reason", "say why the shots are not to be used")
    chosen = [
        (_in_order(_correction(view, asked.what, shot, told=several)), shot.row)
        for shot, several in in_job(view, asked.shots)
    ]
    return [
        {
            "cause": SET_ASIDE if asked.what == "set aside" else ASSIGNED,
            "subject": _subject(rows, correction["file"], correction.get("points", ())),
            "answer": "accepted",
            # as the database gives it back
            "correction": {
                name: [*value] if isinstance(value, tuple) else value
                for name, value in {**correction, "rows": rows}.items()
            },
        }
        for matter, group in groupby(sorted(chosen), key=lambda each: each[0])
        for correction, rows in ((dict(matter), [row for _, row in group]),)
    ]


def _correction(view: JobView, what: Deed, shot: ChosenShot, *, told: bool) -> dict[str, Any]:
    """Return the correction of one shot without its row; with its point where that has to be `told`."""
    found = {"kind": "drop", "file": shot.file} if what == "set aside" else target(view, shot)
    return {**found, "points": (shot.point,)} if told else {**found}


def _read_alike(asked: AskedOfShots) -> dict[str, Any]:
    pattern = read_pattern(asked.pattern)
    of_file = {"file": asked.file} if asked.file else {}
    return {
        "cause": READ_ALIKE,
        "subject": pattern.text + (f" in {asked.file}" if asked.file else ""),
        "answer": "accepted",
        "correction": {"kind": "pattern", "pattern": str(pattern), **of_file},
    }


def _check_reads(view: JobView, asked: AskedOfShots) -> None:
    if asked.what == "assign" and asked.pattern:
        found = alike_answer(view, read_pattern(asked.pattern), file=asked.file).shots
        if not found:
            raise InputRefused.at(
                "pattern", asked.pattern, "reads no shot that nothing else reads", "look at the descriptions"
            )


def _in_order(correction: Mapping[str, Any]) -> tuple[tuple[str, Any], ...]:
    return tuple(sorted(correction.items()))


def _subject(rows: Sequence[int], file: str, points: Sequence[str] = ()) -> str:
    """Name rows of a file; of many the first ones, and a name for all of them; points where several have one.

    >>> _subject([7], "may.csv"), _subject([7, 8, 12], "may.csv")
    ('row 7 of may.csv', 'rows 7, 8, 12 of may.csv')
    """
    named = ", ".join(map(str, rows))
    if len(named) > _SUBJECT:
        named = f"{', '.join(map(str, rows[:8]))} and {len(rows) - 8} more ({token(named)})"
    told = f", point {', '.join(points)}" if points else ""
    return f"row{'s' * (len(rows) > 1)} {named} of {file}{told}"


def _withdrawn(known: Mapping[str, Decision], identifier: str) -> dict[str, Any]:
    decision = known.get(identifier)
    if decision is None:
        raise NotFound(f"nothing was decided about shots under {identifier}; look at the list of shots again")
    matter = {name: getattr(decision, name) for name in ("cause", "subject", "line")}
    return {**matter, "answer": "withdrawn"}


def _recorded(decisions: Sequence[Decision], there: Iterable[Decision]) -> bool:
    """Tell whether all of it is recorded; an id of something else, and taking back nothing, are refused."""
    known = {each.id: each for each in there}
    if all(each.id in known and _said(each) == _said(known[each.id]) for each in decisions):
        return True
    first = known.get(decisions[0].id)
    if first is not None:
        raise Conflict(
            f'{first.id} is recorded as "{first.cause} {first.answer}: {first.subject}"; '
            "give the new decision an identifier of its own"
        )
    stands = standing(known.values())
    for each in decisions:
        if each.answer == "withdrawn" and each.key not in stands:
            raise NotFound(f"nothing stands for {each.cause}, {each.subject}: there is nothing to take back")
    return False


def _said(decision: Decision) -> tuple[Any, ...]:
    return (*decision.key, decision.answer, decision.who, decision.note, dict(decision.correction))


def _check_not_set_aside(view: JobView, asked: AskedOfShots) -> None:
    aside = shot_decisions(view, "drop")
    for shot, _ in in_job(view, asked.shots):
        decision = aside.get((shot.file, shot.row, shot.point))
        if decision is not None:
            raise Conflict(
                f"row {shot.row} of {shot.file} is set aside by {decision.who} on {decision.at:%Y-%m-%d}; "
                "take that back first"
            )
