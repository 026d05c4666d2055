"""The anchor check: whose each anchor is, and does it lie on the right side, in direction, far enough out.

Direction and lead are judged with their uncertainty, like the frames (JCGM 106:2012). An anchor on the wrong
side is told in words, never only as a number.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from functools import partial

from linemap.domain.design.figures import Figures
from linemap.domain.design.guy import Guy, label_of_text
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.guying.anchor import RequiredAnchor, required_anchors
from linemap.domain.guying.anchor_verdict import AnchorCheck, AnchorJudge, AnchorTolerances
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import finding_at, point_names
from linemap.domain.survey.verdict import Verdict


def distinct_anchors(shots: Sequence[Shot], *, within: float) -> list[Shot]:
    """Return the shots of different anchors: of several within a grid distance of each other, the first.

    >>> one = Shot(point="1", easting=0.0, northing=0.0)
    >>> again = Shot(point="2", easting=0.0, northing=0.05)
    >>> [shot.point for shot in distinct_anchors([one, again], within=0.1)]
    ['1']
    """
    kept: list[Shot] = []
    for shot in shots:
        if all(_apart(shot, (other.easting, other.northing)) > within for other in kept):
            kept.append(shot)
    return kept


def match_anchors(required: Sequence[RequiredAnchor], shots: Sequence[Shot]) -> dict[int, int]:
    """Give each surveyed anchor of a structure to a guy by what its description says, then by nearness.

    A shot that names another direction, or another guy, is not taken for a guy. A side named wrong does
    not keep it away: an anchor on the wrong side is what is looked for.

    Parameters
    ----------
    required : sequence of RequiredAnchor
        Guys of one structure.
    shots : sequence of Shot
        Anchor shots of the same structure.

    Returns
    -------
    dict of int to int
        Position in `required` -> position in `shots`; each is used once.
    """
    names = {anchor.guy.id.upper() for anchor in required}
    pairs = sorted(
        (-agreement, _apart(shot, anchor.position), i, j)
        for i, anchor in enumerate(required)
        for j, shot in enumerate(shots)
        for agreement in [_agreement(anchor, shot, names)]
        if agreement >= 0
    )
    matched: dict[int, int] = {}
    for _, _, i, j in pairs:
        if i not in matched and j not in matched.values():
            matched[i] = j
    return matched


def _agreement(anchor: RequiredAnchor, shot: Shot, names: set[str]) -> int:
    """Count what description and guy have in common, the name most; -1 when they exclude each other."""
    said = {word for word in re.findall(r"[A-Z0-9]+", shot.description.upper()) if word in names}
    kind, side, ordinal = label_of_text(shot.description)
    if (said and anchor.guy.id.upper() not in said) or (kind is not None and kind != anchor.guy.kind):
        return -1
    if shot.pole and anchor.guy.pole and shot.pole != anchor.guy.pole:
        return -1
    same_number = bool(ordinal) and anchor.label.endswith(str(ordinal))
    same_pole = bool(shot.pole) and shot.pole == anchor.pole
    same_side = bool(side) and side == anchor.side
    return 16 * bool(said) + 8 * (kind is not None) + 4 * same_pole + 2 * same_side + same_number


def _apart(shot: Shot, place: tuple[float, float]) -> float:
    """Grid distance; infinite from a place that is not known."""
    distance = math.hypot(shot.easting - place[0], shot.northing - place[1])
    return math.inf if math.isnan(distance) else distance


def check_anchors(
    figures: Figures,
    set_poles: SetPoles,
    guys: Iterable[Guy],
    shots: Sequence[Shot],
    tolerances: Tolerances,
    *,
    anchor_tolerances: AnchorTolerances,
) -> tuple[tuple[AnchorCheck, ...], tuple[Finding, ...]]:
    """Judge every surveyed anchor against its guy.

    Parameters
    ----------
    figures : Figures
        Computed lines.
    set_poles : SetPoles
        Surveyed poles: leads are measured from them where they are known, else from the design.
    guys : iterable of Guy
        The guy schedule.
    shots : sequence of Shot
        All shots; those of anchors are used.
    tolerances : Tolerances
        For the confidence, and the sigma of shots that state none.
    anchor_tolerances : AnchorTolerances

    Returns
    -------
    tuple of AnchorCheck, tuple of Finding
        One check a guy, in line order; nothing is judged without a schedule. `Finding.code`: those of
        `required_anchors`, "anchor wrong side", "anchor direction", "anchor lead", "anchor not in
        schedule".
    """
    required, findings = required_anchors(figures, guys)
    if not required:
        return (), findings
    judge = AnchorJudge(figures=figures, set_poles=set_poles, tolerances=tolerances, limits=anchor_tolerances)
    by_structure = _anchor_shots(figures, shots)
    checks: list[AnchorCheck] = []
    found = list(findings)
    by_row: dict[int, list[RequiredAnchor]] = {}
    for anchor in required:
        by_row.setdefault(anchor.row, []).append(anchor)
    for row in sorted(by_row.keys() | by_structure.keys()):
        mine = by_row.get(row, [])
        surveyed = distinct_anchors(by_structure.get(row, ()), within=judge.same_anchor(row))
        matched = match_anchors(mine, surveyed)
        of_row = [
            judge.check(anchor, surveyed[matched[i]] if i in matched else None)
            for i, anchor in enumerate(mine)
        ]
        checks += of_row
        found += [each for check in of_row for each in _doubts(figures, check, anchor_tolerances)]
        left = [shot for j, shot in enumerate(surveyed) if j not in matched.values()]
        if left:
            found.append(finding_at(figures, row, "anchor not in schedule", points=point_names(left)))
    return tuple(checks), tuple(found)


def _anchor_shots(figures: Figures, shots: Sequence[Shot]) -> dict[int, list[Shot]]:
    """Gather the anchor shots by row; those of unknown structures are told by the check of poles."""
    rows: dict[str, list[int]] = {}
    for row, number in enumerate(figures.structures.number):
        rows.setdefault(number, []).append(row)
    gathered: dict[int, list[Shot]] = {}
    for shot in shots:
        if shot.item != "anchor":
            continue
        fits = [
            row
            for row in rows.get(shot.structure, ())
            if shot.line.casefold() in {"", figures.line_of(row).name.casefold()}
        ]
        if len(fits) == 1:
            gathered.setdefault(fits[0], []).append(shot)
    return gathered


def _doubts(figures: Figures, check: AnchorCheck, limits: AnchorTolerances) -> Iterator[Finding]:
    """Write down what does not pass; what cannot be told weighs less than what fails."""
    required = check.required
    doubt = partial(
        finding_at,
        figures,
        required.row,
        part=required.guy.id,
        guy=required.guy.name,
        origin=required.origin_words,
    )
    if check.shot is not None and check.direction_verdict is not Verdict.PASS:
        yield doubt(
            code="anchor wrong side" if check.wrong_side else "anchor direction",
            weight=_weight(check.direction_verdict),
            value=check.azimuth_error_deg,
            sigma=check.azimuth_sigma_deg,
            side=check.side,
            reason=required.reason,
            limit=limits.direction_deg.value,
            limit_unit=limits.direction_deg.unit,
        )
    if check.lead_verdict in (Verdict.FAIL, Verdict.CANNOT_TELL):
        yield doubt(
            code="anchor lead",
            weight=_weight(check.lead_verdict),
            value=check.lead,
            wanted=check.required_lead,
            sigma=check.lead_sigma,
            fall=check.fall,
            unit=check.unit,
            limit=limits.lead.value,
            limit_unit=limits.lead.unit,
        )


def _weight(verdict: Verdict) -> Severity | None:
    return None if verdict is Verdict.FAIL else Severity.UNSURE
