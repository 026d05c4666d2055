"""What was surveyed, seen and measured at a structure, judged: second evidence, readings, anchors."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from linemap.answers import panel as answer
from linemap.domain.causes.cause import Cause
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.design.tolerance import Tolerance
from linemap.domain.finding.phrase import Called, pole_names
from linemap.domain.guying.anchor_check import AnchorCheck
from linemap.domain.survey.evidence import Conclusion, Decided, decide
from linemap.domain.survey.fact import SECOND_EVIDENCE, RecordedFact
from linemap.domain.survey.plumb import MEASURED, ArmLevel, Lean, judged_reading
from linemap.domain.survey.verdict import Verdict
from linemap.geometry.sexagesimal import format_dms
from linemap.service.view.view import JobView

#: Codes of the causes that find A and B exchanged.
_LABELS_OR_FRAME = frozenset({"reversed single", "faced back run", "tagged the other way round"})


class Residual(NamedTuple):
    """One residual of a frame against its design, with its standard uncertainty (nan = not known)."""

    name: str
    value: float
    sigma: float
    limit: Tolerance
    #: The unit as it follows a number: "°", " ft" or " m".
    sign: str


def off_line(words: PoleWords) -> str:
    """Name the residual of the middle one of three poles."""
    return f"middle pole off line {words.three[0]}-{words.three[2]}"


def residuals_at(view: JobView, row: int) -> list[Residual]:
    """Return the residuals that the shots of a structure give."""
    checks, limits, figures = view.checks, view.tolerances, view.figures
    angle = bool(figures.deflection_deg[row] or figures.structures.section_break[row])
    unit = f" {figures.line_of(row).unit.symbol}"
    along = limits.along_angle if angle else limits.along_tangent
    table = (
        ("rotation", checks.rotation_deg, checks.rotation_sigma_deg, limits.rotation_deg, "°"),
        ("along", checks.along, checks.along_sigma, along, unit),
        ("across", checks.across, checks.across_sigma, limits.across, unit),
        ("spacing", checks.spacing_error, checks.spacing_sigma, limits.spacing, unit),
        (
            off_line(view.naming.poles),
            checks.collinearity,
            checks.collinearity_sigma,
            limits.collinearity,
            unit,
        ),
    )
    return [
        Residual(name, float(values[row]), float(sigmas[row]), limit, sign)
        for name, values, sigmas, limit, sign in table
        if not math.isnan(values[row])
    ]


def verdict_words(view: JobView, row: int) -> str:
    """Return the verdict of a structure, and whether A and B are the other way round."""
    turned = f", {view.figures.outer_poles(row)} reversed" if view.checks.reversed[row] else ""
    return f"{view.checks.verdict[row]}{turned}"


def is_exception(view: JobView, row: int) -> bool:
    """Say whether the shots of a structure need a person: anything but a pass, or A and B exchanged."""
    fine = (Verdict.PASS, Verdict.NOT_SURVEYED)
    return view.checks.verdict[row] not in fine or bool(view.checks.reversed[row])


def verdict_counts(view: JobView, rows: Sequence[int] | None = None) -> dict[str, int]:
    """Return how many structures, of all or of `rows`, have each verdict; a verdict that none has is 0."""
    verdicts = view.checks.verdict if rows is None else view.checks.verdict[list(rows)]
    counts = Counter(str(verdict) for verdict in verdicts)
    return {str(verdict): counts[str(verdict)] for verdict in Verdict}


def decided_at(view: JobView, row: int) -> Decided | None:
    """Weigh the second evidence of a structure; None where nothing is exchanged and no fact is recorded.

    Each reason names who saw it and when.
    """
    turned = bool(view.checks.reversed[row])
    facts = [fact for fact in _facts(view, row) if fact.what in SECOND_EVIDENCE]
    if not turned and not facts:
        return None
    found = decide(
        facts,
        coordinates_reversed=turned,
        schedule=view.poles_by_structure.get(view.key(row), ()),
        last="C" if view.figures.structures.pole_count[row] >= 3 else "B",
        a_left=bool(view.figures.a_left[row]),
        called=view.figures.called(row),
    )
    signed = zip(found.reasons, facts, strict=True)
    return replace(found, reasons=tuple(f"{reason} ({_who_and_when(fact)})" for reason, fact in signed))


def _who_and_when(fact: RecordedFact) -> str:
    return ", ".join(part for part in (fact.who, fact.on.isoformat(), fact.note) if part)


def second_evidence_words(view: JobView, row: int) -> str:
    """Return the conclusion as one sentence, "" where nothing is exchanged and no fact is recorded."""
    said = conclusion_words(view, row)
    return f"second evidence: {said}" if said else ""


def conclusion_words(view: JobView, row: int) -> str:
    """Return the conclusion with its reason and what to ask for; "" where there is none."""
    decided = decided_at(view, row)
    if decided is None:
        return ""
    asked = f"; ask for {decided.asks_for}" if decided.asks_for else ""
    return f"{decided.conclusion} ({decided.words}){asked}"


def evidence_of_cause(view: JobView, cause: Cause) -> list[str]:
    """Return a cause's evidence, and what second evidence decides about its structures."""
    said = list(cause.evidence)
    if cause.code not in _LABELS_OR_FRAME:
        return said
    for key in view.keys_of(cause):
        decided = decided_at(view, view.row_of[key])
        if decided is not None and decided.conclusion in (Conclusion.LABELS, Conclusion.FRAME):
            said.append(f"second evidence at {key[1]}: {decided.conclusion} ({decided.words})")
            said += decided.reasons
    return said


def plumb_readings(view: JobView, row: int) -> list[answer.PanelReading]:
    """Return what plumb and level readings say, in the order recorded."""
    return [
        _reading(fact, judged, view.figures.called(row))
        for fact in _facts(view, row)
        if (judged := reading_at(view, row, fact)) is not None
    ]


def reading_at(view: JobView, row: int, fact: RecordedFact) -> Lean | ArmLevel | None:
    """Judge a plumb or level reading by the job's tolerances; None for any other fact.

    `ValueError`: the heights cannot be those of one pole, or the arm not be as long as its ends are apart in
    height.
    """
    return judged_reading(fact, view.figures.line_of(row).unit, view.tolerances)


def _facts(view: JobView, row: int) -> Iterator[RecordedFact]:
    yield from view.facts_by_structure.get(view.key(row), ())


def _reading(fact: RecordedFact, judged: Lean | ArmLevel, called: Called) -> answer.PanelReading:
    per = "per 10 ft" if isinstance(judged, Lean) else "end to end"
    return answer.PanelReading(
        what=pole_names(fact.pole, called) if isinstance(judged, Lean) else "arm",
        words=judged.words,
        verdict=str(judged.verdict),
        tolerance_text=f"± {judged.tolerance.value:g} in {per}",
        tolerance_source=judged.tolerance.source,
        sigma_text=MEASURED,
        seen=_who_and_when(fact),
    )


def anchors_at(view: JobView, row: int) -> list[answer.PanelAnchor]:
    """Return the scheduled guys of a structure with place, verdict and tolerances of their anchors."""
    limits = view.tolerances
    tolerance = f"{limits.anchor_direction_deg}, {limits.anchor_lead}"
    sources = dict.fromkeys((limits.anchor_direction_deg.source, limits.anchor_lead.source))
    return [
        answer.PanelAnchor(
            guy=check.required.guy.id,
            label=check.required.label,
            wanted=", ".join(_wanted(view, check)),
            verdict=str(check.verdict),
            words=[] if check.shot is None else list(check.words),
            tolerance_text=tolerance,
            tolerance_source="; ".join(sources),
        )
        for check in _of_row(view, row)
    ]


def guys_in_short(view: JobView, row: int) -> tuple[str, ...]:
    """Return the anchors of a structure in one sentence, and one more for each that was surveyed."""
    mine = _of_row(view, row)
    if not mine:
        return ()
    leads = "; ".join(f"{check.required.label} {_lead(view, check)}" for check in mine)
    seen = (
        f"{check.required.label}: {check.verdict}, {'; '.join(check.words)}"
        for check in mine
        if check.shot is not None
    )
    return (f"anchors: {leads}", *seen)


def _of_row(view: JobView, row: int) -> tuple[AnchorCheck, ...]:
    """Return the checks of one structure; they stand in line order."""
    first = bisect_left(view.anchor_checks, row, key=_row)
    return view.anchor_checks[first : bisect_right(view.anchor_checks, row, lo=first, key=_row)]


def _row(check: AnchorCheck) -> int:
    return check.required.row


def _lead(view: JobView, check: AnchorCheck) -> str:
    """Print the lead as scheduled; on sloping ground as the ground asks, where the anchor was surveyed."""
    required = check.required
    wanted = check.required_lead if math.isfinite(check.required_lead) else required.lead
    unit = view.figures.line_of(required.row).unit
    if math.isnan(wanted):
        return "lead not given"
    level = "" if required.guy.lead is not None or math.isfinite(check.required_lead) else " on level ground"
    return f"{wanted:.{3 if unit.symbol == 'm' else 2}f} {unit.symbol} from {required.origin_words}{level}"


def _wanted(view: JobView, check: AnchorCheck) -> list[str]:
    required = check.required
    azimuth = "" if math.isnan(required.azimuth_deg) else f"azimuth {format_dms(required.azimuth_deg)} grid"
    return [part for part in (_lead(view, check), azimuth, required.reason) if part]
