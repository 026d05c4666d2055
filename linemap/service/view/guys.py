"""Where the anchors of a structure belong, and how those that were surveyed lie."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right

from linemap.answers import structure as answer
from linemap.domain.guying.anchor_verdict import AnchorCheck
from linemap.geometry.sexagesimal import format_dms
from linemap.service.view.view import JobView


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
