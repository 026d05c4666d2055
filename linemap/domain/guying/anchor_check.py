"""The anchor check: does each anchor lie on the right side, in the right direction, far enough out.

Direction and lead are judged with their uncertainty, like the frames (JCGM 106:2012). An anchor on the wrong
side is told in words, never only as a number.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import partial

from linemap.domain.design.figures import Figures
from linemap.domain.design.guy import Guy
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.guying.anchor import RequiredAnchor, required_anchors
from linemap.domain.guying.anchor_match import distinct_anchors, match_anchors
from linemap.domain.guying.anchor_verdict import AnchorCheck, AnchorJudge, AnchorTolerances
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import finding_at, point_names
from linemap.domain.survey.verdict import Verdict

__all__ = ["check_anchors"]


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
