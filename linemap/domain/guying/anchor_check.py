"""The anchor check: does each anchor lie on the right side, in direction, far enough out.

Direction and lead are judged with their uncertainty, like the frames (JCGM 106:2012). An anchor on the wrong
side is told in words, never only as a number.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from linemap.domain.design.figures import Figures
from linemap.domain.design.guy import Guy
from linemap.domain.design.structure import POLE_LETTERS
from linemap.domain.design.tolerance import Tolerance, Tolerances
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.phrase import direction_words, lead_words, side_words
from linemap.domain.guying.anchor import (
    RequiredAnchor,
    distinct_anchors,
    match_anchors,
    required_anchors,
    wanted_lead,
)
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import finding_at, point_names
from linemap.domain.survey.verdict import Verdict, judged
from linemap.geometry.bearing import azimuth_deg, wrap180
from linemap.geometry.frame import ahead_right

#: Shots within this distance of each other are of one anchor (0.5 ft).
_SAME_ANCHOR_M = 0.1524


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorCheck:
    """One scheduled guy and the anchor surveyed for it. Lengths are ground lengths; nan = not known."""

    required: RequiredAnchor
    #: The shot taken for its anchor; None = not surveyed.
    shot: Shot | None
    verdict: Verdict
    #: How far clockwise of the required azimuth the anchor lies, seen from its pole.
    azimuth_error_deg: float = math.nan
    azimuth_sigma_deg: float = math.nan
    #: Horizontal distance from pole to anchor.
    lead: float = math.nan
    lead_sigma: float = math.nan
    #: Lead asked for, on the ground as it lies.
    required_lead: float = math.nan
    #: Fall of the ground going out, length per length; 0 when elevations are not known.
    fall: float = math.nan
    #: Verdicts on the direction and on the lead; a lead the schedule does not give is "not surveyed".
    direction_verdict: Verdict = Verdict.NOT_SURVEYED
    lead_verdict: Verdict = Verdict.NOT_SURVEYED
    #: Where the anchor lies, as its guy is spoken of; "" when none was surveyed.
    side: str = ""
    unit: str = "ft"

    @property
    def direction_words(self) -> str:
        """What the direction says; that there is none where the anchor was not surveyed."""
        required = self.required
        if self.shot is None:
            return f"anchor not surveyed; {required.reason}"
        return direction_words(
            self.azimuth_error_deg,
            self.azimuth_sigma_deg,
            side=self.side,
            reason=required.reason,
            origin=required.origin_words,
        )

    @property
    def lead_words(self) -> str:
        """What the lead says; "" where the anchor was not surveyed."""
        if self.shot is None:
            return ""
        return lead_words(
            self.lead,
            self.required_lead,
            self.lead_sigma,
            fall=self.fall,
            origin=self.required.origin_words,
            unit=self.unit,
        )

    @property
    def wrong_side(self) -> bool:
        """True when the anchor lies on the other side of the structure."""
        return abs(self.azimuth_error_deg) > 90.0

    @property
    def words(self) -> tuple[str, ...]:
        """What a person at the anchor needs to hear: direction, then lead."""
        return tuple(words for words in (self.direction_words, self.lead_words) if words)


def check_anchors(
    figures: Figures,
    set_poles: SetPoles,
    guys: Iterable[Guy],
    shots: Sequence[Shot],
    tolerances: Tolerances,
) -> tuple[tuple[AnchorCheck, ...], tuple[Finding, ...]]:
    """Judge every surveyed anchor against its guy.

    Leads are measured from the poles as surveyed where they are known, else from the design.

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
    judge = _Judge(figures=figures, set_poles=set_poles, tolerances=tolerances)
    by_structure = _anchor_shots(figures, shots)
    checks: list[AnchorCheck] = []
    found = list(findings)
    by_row: dict[int, list[RequiredAnchor]] = {}
    for anchor in required:
        by_row.setdefault(anchor.row, []).append(anchor)
    for row in sorted(by_row.keys() | by_structure.keys()):
        mine = by_row.get(row, [])
        surveyed = distinct_anchors(by_structure.get(row, ()), within=_same_anchor(figures, row))
        matched = match_anchors(mine, surveyed)
        of_row = [
            judge.check(anchor, surveyed[matched[i]] if i in matched else None)
            for i, anchor in enumerate(mine)
        ]
        checks += of_row
        found += [each for check in of_row for each in _doubts(figures, check, tolerances)]
        left = [shot for j, shot in enumerate(surveyed) if j not in matched.values()]
        if left:
            found.append(finding_at(figures, row, "anchor not in schedule", points=point_names(left)))
    return tuple(checks), tuple(found)


def _same_anchor(figures: Figures, row: int) -> float:
    """Return within which grid distance two shots at the structure of a row are of one anchor."""
    return figures.line_of(row).ground(_SAME_ANCHOR_M) * float(figures.combined_factor[row])


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


def _doubts(figures: Figures, check: AnchorCheck, limits: Tolerances) -> Iterator[Finding]:
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
            limit=limits.anchor_direction_deg.value,
            limit_unit=limits.anchor_direction_deg.unit,
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
            limit=limits.anchor_lead.value,
            limit_unit=limits.anchor_lead.unit,
        )


def _weight(verdict: Verdict) -> Severity | None:
    return None if verdict is Verdict.FAIL else Severity.UNSURE


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Judge:
    """Judges anchors of some lines by the tolerances of the job."""

    figures: Figures
    set_poles: SetPoles
    tolerances: Tolerances

    def check(self, anchor: RequiredAnchor, shot: Shot | None) -> AnchorCheck:
        """Judge one anchor by its shot; without one it is not surveyed."""
        if shot is None:
            return AnchorCheck(required=anchor, shot=None, verdict=Verdict.NOT_SURVEYED)
        origin, ground, origin_sigma = self._origin(anchor)
        factor = float(self.figures.combined_factor[anchor.row])
        east, north = (shot.easting - origin[0]) / factor, (shot.northing - origin[1]) / factor
        lead, azimuth = math.hypot(east, north), azimuth_deg(east, north)
        sigma = math.hypot(self.tolerances.shot_sigma if shot.sigma is None else shot.sigma, origin_sigma)
        azimuth_sigma = math.degrees(sigma / lead) if lead > 0.0 else math.nan
        error = wrap180(azimuth - anchor.azimuth_deg)
        known = shot.elevation is not None and not math.isnan(ground) and lead > 0.0
        fall = (ground - (shot.elevation or 0.0)) / lead if known else 0.0
        wanted = wanted_lead(anchor.guy, fall=fall)
        of_direction = self._judged(error, azimuth_sigma, self.tolerances.anchor_direction_deg)
        of_lead = self._judged(lead - wanted, sigma, self.tolerances.anchor_lead)
        return AnchorCheck(
            required=anchor,
            shot=shot,
            verdict=_worse(of_direction, of_lead),
            azimuth_error_deg=error,
            azimuth_sigma_deg=azimuth_sigma,
            lead=lead,
            lead_sigma=sigma,
            required_lead=wanted,
            fall=fall,
            direction_verdict=of_direction,
            lead_verdict=of_lead,
            side=self._side(anchor, east, north),
            unit=self.tolerances.unit,
        )

    def _origin(self, anchor: RequiredAnchor) -> tuple[tuple[float, float], float, float]:
        """Return where the lead is measured from, the ground there (nan = not known), and its sigma.

        A surveyed pole shares the error common to all shots with the anchor; the design does not.
        """
        row = anchor.row
        pole = POLE_LETTERS.index(anchor.pole) if anchor.pole else -1
        if pole >= 0 and not math.isnan(self.set_poles.position[row, pole, 0]):
            east, north = self.set_poles.position[row, pole]
            ground = float(self.set_poles.elevation[row, pole])
            return (float(east), float(north)), ground, float(self.set_poles.sigma[row, pole])
        return anchor.origin, float(self.figures.structures.elevation[row]), self.tolerances.common_sigma

    def _judged(self, error: float, sigma: float, limit: Tolerance) -> Verdict:
        """Return the verdict on one deviation; what is not known is not judged against its tolerance."""
        if math.isnan(error):
            return Verdict.NOT_SURVEYED
        return judged(abs(error), sigma, limit=limit.value, confidence=self.tolerances.confidence)

    def _side(self, anchor: RequiredAnchor, east: float, north: float) -> str:
        ahead, right = ahead_right(east, north, self.figures.structure_azimuth_deg[anchor.row])
        return side_words(anchor.guy.kind, ahead=float(ahead), right=float(right))


def _worse(direction: Verdict, lead: Verdict) -> Verdict:
    """Return fail before cannot tell before pass; a direction that is not known cannot be told."""
    if Verdict.FAIL in (direction, lead):
        return Verdict.FAIL
    if direction is Verdict.PASS and lead in (Verdict.PASS, Verdict.NOT_SURVEYED):
        return Verdict.PASS
    return Verdict.CANNOT_TELL
