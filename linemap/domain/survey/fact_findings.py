"""What plumb and level readings give to look at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import partial

from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.fact import RecordedFact
from linemap.domain.survey.plumb import ArmLevel
from linemap.domain.survey.shot_match import finding_at
from linemap.domain.survey.verdict import Verdict


def reading_findings(
    figures: Figures,
    facts: Mapping[tuple[str, str], Iterable[RecordedFact]],
    tolerances: Tolerances,
) -> Iterator[Finding]:
    """Find the poles that are not plumb and the arms that are not level by the newest reading of each.

    Parameters
    ----------
    figures : Figures
    facts : mapping of (line, structure) to facts
        In the order recorded; structures that are not there are passed over.
    tolerances : Tolerances

    Yields
    ------
    Finding
        "out of plumb" and "arm not level"; less than wrong where the reading cannot tell.
    """
    rows = figures.rows_by_key()
    for key, recorded in facts.items():
        if key not in rows:
            continue
        newest = {(fact.what, fact.pole): fact for fact in recorded}
        for fact in newest.values():
            found = _reading_finding(figures, rows[key], fact, tolerances)
            if found is not None:
                yield found


def _reading_finding(
    figures: Figures, row: int, fact: RecordedFact, tolerances: Tolerances
) -> Finding | None:
    judged = fact.judged(figures.line_of(row).unit, tolerances)
    if judged is None or judged.verdict not in (Verdict.FAIL, Verdict.CANNOT_TELL):
        return None
    outside = judged.verdict is Verdict.FAIL
    about = partial(
        finding_at,
        figures,
        row,
        part=fact.pole,
        weight=None if outside else Severity.UNSURE,
        outside=outside,
        limit=judged.tolerance.inches,
    )
    if isinstance(judged, ArmLevel):
        return about(code="arm not level", inches=judged.inches, slope_deg=judged.slope_deg, limit_unit="in")
    return about(
        code="out of plumb",
        pole=fact.pole,
        along=judged.along,
        across=judged.across,
        sweep=judged.sweep,
        limit_unit="in per 10 ft",
    )
