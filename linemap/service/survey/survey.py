"""The surveyor's exception table, and recording one thing observed at a structure with what it changes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from linemap.answers.survey import CheckedStructure, FactChanges, SurveyedStructure
from linemap.domain.causes.cause import Cause
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.ledger import Surface
from linemap.domain.finding.phrase import listed_poles, pole_names
from linemap.domain.survey.fact import RecordedFact, What, unneeded
from linemap.domain.survey.verdict import Verdict
from linemap.errors import InputRefused
from linemap.kinds.registry import FACTS
from linemap.service.view.columns import station_texts
from linemap.service.view.held import held_words
from linemap.service.view.structure import entry_of
from linemap.service.view.surveyed import conclusion_words, reading_at, residuals_at, second_evidence_words
from linemap.service.view.view import JobView
from linemap.store.database import Database
from linemap.store.lists import add_records


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What needs the surveyor."""

    #: Explanations of the exceptions, what costs most first.
    causes: tuple[Cause, ...]
    #: One a structure, in line order; then what is said of lines, files and structures in no list.
    rows: list[CheckedStructure]


def check_job(view: JobView, *, everything: bool = False) -> Checked:
    """Return the causes, and one row for every surveyed structure that needs the surveyor.

    `everything` lists the surveyed structures that passed without a finding too.
    """
    causes = ordered_causes(view)
    rows = [
        CheckedStructure(**vars(row), cause=_cause_words(view, row.line, row.structure))
        for row in rows_of_view(view, everything=everything)
    ]
    rows += [CheckedStructure(**vars(row), cause="") for row in rows_beside(view, "check")]
    return Checked(causes=causes, rows=rows)


def _cause_words(view: JobView, line: str, number: str) -> str:
    return next((cause.words for cause in view.causes_at(view.row_of[line, number])), "")


def ordered_causes(view: JobView) -> tuple[Cause, ...]:
    """Return the causes, what costs most if left first; equal ones in line order.

    What accepting would change says what it waits for while verdicts wait for a declaration.
    """
    waits = view.declaration.withholding
    causes = sorted(view.causes, key=lambda cause: cause.cost_rank)
    if not waits:
        return tuple(causes)
    once = f", once declared: {', '.join(waits)}"
    return tuple(
        cause if cause.correction is None else replace(cause, would_change=f"{cause.would_change}{once}")
        for cause in causes
    )


def rows_of_view(view: JobView, *, everything: bool, surface: Surface = "check") -> list[SurveyedStructure]:
    """Return the structures of a computed job that need the surveyor, as a surface shows them."""
    checks = view.checks
    surveyed = np.array([verdict != Verdict.NOT_SURVEYED for verdict in checks.verdict], dtype=np.bool_)
    passed = np.array([verdict == Verdict.PASS for verdict in checks.verdict], dtype=np.bool_)
    noted = np.zeros(len(passed), dtype=np.bool_)
    noted[view.ledger.rows_on(surface)] = True
    noted[[*_rows_with_causes(view)]] = True
    wanted = (surveyed | noted) if everything else ((surveyed & ~passed) | noted)
    stations = station_texts(view.figures)
    return [_row(view, int(row), str(stations[row]), surface) for row in np.flatnonzero(wanted)]


#: What only a structure has.
_OF_STRUCTURES = (
    "station", "verdict", "rotation", "along", "across", "spacing", "second_evidence", "held",
)  # fmt: skip


def rows_beside(view: JobView, surface: Surface) -> list[SurveyedStructure]:
    """Return what a surface shows of lines, files and structures in no list, one row for each place."""
    found: dict[tuple[str, str], list[Finding]] = {}
    for each in view.ledger.beside(surface):
        found.setdefault((each.line, each.structure), []).append(each)
    return [
        SurveyedStructure(
            line=line,
            structure=structure,
            reversed=False,
            probability=None,
            findings=[finding.words for finding in group],
            ledger=[entry_of(finding, view.workflow) for finding in group],
            **dict.fromkeys(_OF_STRUCTURES, ""),
        )
        for (line, structure), group in found.items()
    ]


def _rows_with_causes(view: JobView) -> set[int]:
    return {view.row_of[key] for cause in view.causes for key in view.keys_of(cause)}


def _row(view: JobView, row: int, station: str, surface: Surface) -> SurveyedStructure:
    checks = view.checks
    line, number = view.key(row)
    texts = {
        each.name: f"{each.value:+.2f} ± {each.sigma:.2f}{each.sign}" for each in residuals_at(view, row)
    }
    probability = float(checks.probability_in_tolerance[row])
    found = view.ledger.on(surface, row)
    return SurveyedStructure(
        line=line,
        structure=number,
        station=station,
        verdict=str(checks.verdict[row]),
        reversed=bool(checks.reversed[row]),
        **{name: texts.get(name, "") for name in ("rotation", "along", "across", "spacing")},
        probability=None if np.isnan(probability) else round(probability, 4),
        findings=[finding.words for finding in found],
        ledger=[entry_of(finding, view.workflow) for finding in found],
        second_evidence=second_evidence_words(view, row),
        held=held_words(view, row),
    )


#: A device's clock may be so much ahead of the job's.
_CLOCK = dt.timedelta(minutes=10)


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """What a person saw or measured, as given."""

    #: "" = the job's only line.
    line: str = ""
    structure: str
    what: What
    #: Fields of `RecordedFact` that this kind of fact needs, by name.
    values: Mapping[str, Any] = field(default_factory=dict)
    who: str
    #: When it was seen, with its time zone.
    at: dt.datetime
    note: str = ""


def record_fact(
    database: Database, view: JobView, seen: Observation, *, now: dt.datetime
) -> tuple[RecordedFact, bool]:
    """Record a fact for good; return it, and False when the very same one was recorded before.

    Raises
    ------
    NotFound
        If the job has no such structure.
    InputRefused
        If nobody is named, the moment lies ahead, the structure has no such pole, something the fact needs is
        missing, something it does not take is given, or the reading is impossible. Nothing is recorded then.
    """
    row = view.row(seen.line, seen.structure)
    _check(view, row, seen, now=now)
    try:
        fact = _fact(view, row, seen)
        reading_at(view, row, fact)
    except ValueError as error:
        raise InputRefused.at("what", seen.what, str(error), "look at the reading again") from None
    with database.writing() as connection:
        return fact, add_records(connection, FACTS, [fact]) == 1


def _check(view: JobView, row: int, seen: Observation, *, now: dt.datetime) -> None:
    if not seen.who.strip():
        raise InputRefused.at("who", seen.who, "names nobody", "say who saw it")
    if seen.at > now + _CLOCK:
        raise InputRefused.at(
            "at", seen.at.isoformat(), "lies ahead of the job's clock", "give the time it was seen"
        )
    for name, value in seen.values.items():
        if value not in (None, "") and name in unneeded(seen.what):
            raise InputRefused.at(name, str(value), f"does not belong to {seen.what}", "leave it out")
    letters, called = view.figures.letters_of(row), view.figures.called(row)
    pole = str(seen.values.get("pole") or "")
    if pole and pole not in letters:
        raise InputRefused.at(
            "pole", pole, f"is no pole of {seen.structure}", f"use one of {listed_poles(letters, called)}"
        )


def _fact(view: JobView, row: int, seen: Observation) -> RecordedFact:
    line, number = view.key(row)
    given = {name: value for name, value in seen.values.items() if value not in (None, "")}
    zone = seen.at.strftime("%z") or "+0000"
    clock = f"seen {seen.at:%H:%M} (UTC{zone[:3]}:{zone[3:5]})"
    return RecordedFact(
        line=line,
        structure=number,
        what=seen.what,
        who=" ".join(seen.who.split()),
        on=seen.at.date(),
        note=", ".join(part for part in (" ".join(seen.note.split()), clock) if part),
        **given,
    )


def fact_changes(before: JobView, after: JobView, fact: RecordedFact) -> FactChanges:
    """Say what a recorded fact changes at its structure."""
    row = after.row(fact.line, fact.structure)
    if fact.on > after.as_of:
        words = (
            f"the job is shown as of {after.as_of.isoformat()}: what was seen later is kept and not counted"
        )
        return FactChanges(counted=False, changes=[words])
    judged = reading_at(after, row, fact)
    if judged is not None:
        name = pole_names(fact.pole, after.figures.called(row)) if fact.pole else "arm"
        return FactChanges(counted=True, changes=[f"{name}: {judged.words}", _position_words(after, row)])
    was = conclusion_words(before, before.row(fact.line, fact.structure)) or "none"
    now = conclusion_words(after, row) or "none"
    evidence = f"second evidence: {now}" + (", as before" if was == now else f"; before: {was}")
    return FactChanges(counted=True, changes=[evidence, _position_words(after, row)])


def _position_words(view: JobView, row: int) -> str:
    turned = f", {view.figures.outer_poles(row)} the other way round" if view.checks.reversed[row] else ""
    return f"the verdict on positions stays with the shots: {view.checks.verdict[row]}{turned}"
