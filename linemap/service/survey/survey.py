"""The surveyor's exception table: what was surveyed and needs a person."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from linemap.answers.survey import CheckedStructure, SurveyedStructure
from linemap.domain.causes.cause import Cause
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.ledger import Surface
from linemap.domain.survey.verdict import Verdict
from linemap.service.view.build import build_view
from linemap.service.view.columns import station_texts
from linemap.service.view.structure import entry_of
from linemap.service.view.surveyed import residuals_at, second_evidence_words
from linemap.service.view.view import JobView
from linemap.store.database import Database


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What needs the surveyor."""

    #: Explanations of the exceptions, what costs most first.
    causes: tuple[Cause, ...]
    #: One a structure, in line order; then what is said of lines, files and structures in no list.
    rows: list[CheckedStructure]


def check_job(database: Database, *, today: dt.date, everything: bool = False) -> Checked:
    """Return the causes, and one row for every surveyed structure that needs the surveyor.

    `everything` lists the surveyed structures that passed without a finding too.
    """
    view = build_view(database, today=today)
    causes = tuple(sorted(view.causes, key=lambda cause: cause.cost_rank))
    rows = [
        CheckedStructure(**vars(row), cause=_cause_words(view, row.line, row.structure))
        for row in rows_of_view(view, everything=everything)
    ]
    rows += [CheckedStructure(**vars(row), cause="") for row in rows_beside(view, "check")]
    return Checked(causes=causes, rows=rows)


def _cause_words(view: JobView, line: str, number: str) -> str:
    return next((cause.words for cause in view.causes_at(view.row_of[line, number])), "")


def rows_of_view(view: JobView, *, everything: bool, surface: Surface = "check") -> list[SurveyedStructure]:
    """Return the structures of a computed job that need the surveyor, as a surface shows them."""
    checks = view.checks
    surveyed = np.array([verdict != Verdict.NOT_SURVEYED for verdict in checks.verdict])
    passed = np.array([verdict == Verdict.PASS for verdict in checks.verdict])
    noted = np.zeros(len(passed), dtype=np.bool_)
    noted[view.ledger.rows_on(surface)] = True
    noted[[*_rows_with_causes(view)]] = True
    wanted = (surveyed | noted) if everything else ((surveyed & ~passed) | noted)
    stations = station_texts(view.figures)
    return [_row(view, int(row), str(stations[row]), surface) for row in np.flatnonzero(wanted)]


def rows_beside(view: JobView, surface: Surface) -> list[SurveyedStructure]:
    """Return what a surface shows of lines, files and structures in no list, one row for each place."""
    found: dict[tuple[str, str], list[Finding]] = {}
    for each in view.ledger.beside(surface):
        found.setdefault((each.line, each.structure), []).append(each)
    return [
        SurveyedStructure(
            line=line,
            structure=structure,
            verdict=str(Verdict.NOT_SURVEYED),
            reversed=False,
            probability=None,
            findings=[finding.words for finding in group],
            ledger=[entry_of(finding, view.workflow) for finding in group],
            **dict.fromkeys(("station", "rotation", "along", "across", "spacing", "second_evidence"), ""),
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
    )
