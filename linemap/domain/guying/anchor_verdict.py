"""One anchor against its guy: is the direction right, is it far enough out, can this survey tell."""

from __future__ import annotations

import math
from dataclasses import dataclass

from linemap.domain.design.figures import Figures
from linemap.domain.design.guy import Guy, lead_on_slope
from linemap.domain.design.structure import POLE_LETTERS
from linemap.domain.design.tolerance import Tolerance, Tolerances
from linemap.domain.finding.phrase import direction_words, lead_words, side_words
from linemap.domain.guying.anchor import RequiredAnchor
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Verdict
from linemap.geometry.bearing import azimuth_deg, wrap180
from linemap.geometry.frame import ahead_right
from linemap.geometry.uncertainty import coverage_factor, probability_inside
from linemap.units import LengthUnit

#: Shots within this distance of each other are of one anchor (0.5 ft).
SAME_ANCHOR_M = 0.1524


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorTolerances:
    """How far an anchor may lie from where it belongs."""

    #: Direction from the pole, degrees.
    direction_deg: Tolerance
    #: Lead, ground unit.
    lead: Tolerance

    @classmethod
    def default(cls, unit: LengthUnit) -> AnchorTolerances:
        """Return ±5° and ±1.0 ft, common practice without a source, in a line's ground unit.

        >>> str(AnchorTolerances.default(LengthUnit.FOOT).lead)
        '±1.00 ft'
        """
        return cls.of(Tolerances.default(unit))

    @classmethod
    def of(cls, tolerances: Tolerances) -> AnchorTolerances:
        """Return what a job declares for its anchors."""
        return cls(direction_deg=tolerances.anchor_direction_deg, lead=tolerances.anchor_lead)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorCheck:
    """One scheduled guy and the anchor surveyed for it. Lengths are ground lengths; nan = not known."""

    required: RequiredAnchor
    #: The shot taken for its anchor; None = not surveyed.
    shot: Shot | None
    verdict: Verdict
    #: Grid azimuth from pole to anchor, and how far clockwise of the required one it is.
    azimuth_deg: float = math.nan
    azimuth_error_deg: float = math.nan
    azimuth_sigma_deg: float = math.nan
    #: Horizontal distance from pole to anchor.
    lead: float = math.nan
    lead_sigma: float = math.nan
    #: Lead asked for, on the ground as it lies.
    required_lead: float = math.nan
    #: Fall of the ground going out, length per length; 0 when elevations are not known.
    fall: float = math.nan
    #: Lead to height, the height counted from the anchor.
    ratio: float = math.nan
    #: Verdicts on the direction and on the lead; a lead the schedule does not give is "not surveyed".
    direction_verdict: Verdict = Verdict.NOT_SURVEYED
    lead_verdict: Verdict = Verdict.NOT_SURVEYED
    #: Probability that direction and lead are both inside: the smaller of the two.
    probability_in_tolerance: float = math.nan
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AnchorJudge:
    """Judges anchors of some lines by the tolerances of the job and of its anchors."""

    figures: Figures
    set_poles: SetPoles
    tolerances: Tolerances
    limits: AnchorTolerances

    def same_anchor(self, row: int) -> float:
        """Return within which grid distance two shots at the structure of a row are of one anchor."""
        line = self.figures.line_of(row)
        return line.ground(SAME_ANCHOR_M) * float(self.figures.combined_factor[row])

    def check(self, anchor: RequiredAnchor, shot: Shot | None) -> AnchorCheck:
        """Judge one anchor by its shot; without one it is not surveyed."""
        if shot is None:
            return AnchorCheck(required=anchor, shot=None, verdict=Verdict.NOT_SURVEYED)
        return self._measured(anchor, shot)

    def _measured(self, anchor: RequiredAnchor, shot: Shot) -> AnchorCheck:
        origin, ground, origin_sigma = self._origin(anchor)
        factor = float(self.figures.combined_factor[anchor.row])
        east, north = (shot.easting - origin[0]) / factor, (shot.northing - origin[1]) / factor
        lead, azimuth = math.hypot(east, north), azimuth_deg(east, north)
        sigma = math.hypot(self.tolerances.shot_sigma if shot.sigma is None else shot.sigma, origin_sigma)
        azimuth_sigma = math.degrees(sigma / lead) if lead > 0.0 else math.nan
        error = wrap180(azimuth - anchor.azimuth_deg)
        known = shot.elevation is not None and not math.isnan(ground) and lead > 0.0
        fall = (ground - (shot.elevation or 0.0)) / lead if known else 0.0
        wanted = _required_lead(anchor.guy, fall)
        confidence, height = self.tolerances.confidence, anchor.guy.height
        of_direction, likely = _judged(error, azimuth_sigma, self.limits.direction_deg, confidence)
        of_lead, long_enough = _judged(lead - wanted, sigma, self.limits.lead, confidence)
        return AnchorCheck(
            required=anchor,
            shot=shot,
            verdict=_worse(of_direction, of_lead),
            azimuth_deg=azimuth,
            azimuth_error_deg=error,
            azimuth_sigma_deg=azimuth_sigma,
            lead=lead,
            lead_sigma=sigma,
            required_lead=wanted,
            fall=fall,
            ratio=math.nan if height is None else lead / (height + fall * lead),
            direction_verdict=of_direction,
            lead_verdict=of_lead,
            probability_in_tolerance=min(likely, long_enough, key=_known_first),
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

    def _side(self, anchor: RequiredAnchor, east: float, north: float) -> str:
        ahead, right = ahead_right(east, north, self.figures.structure_azimuth_deg[anchor.row])
        return side_words(anchor.guy.kind, ahead=float(ahead), right=float(right))


def _required_lead(guy: Guy, fall: float) -> float:
    """Return the lead asked for on the ground as it lies; nan = not told, infinite = no lead will do."""
    if guy.lead is not None:
        return guy.lead
    if guy.height is None or guy.ratio is None:
        return math.nan
    return lead_on_slope(guy.height, ratio=guy.ratio, fall=fall) if guy.ratio * fall < 1.0 else math.inf


def _judged(error: float, sigma: float, tolerance: Tolerance, confidence: float) -> tuple[Verdict, float]:
    """Return verdict and probability of one deviation; what is not known is not judged against it."""
    if math.isnan(error):
        return Verdict.NOT_SURVEYED, math.nan
    if math.isinf(error):
        return Verdict.FAIL, 0.0
    inside = float(probability_inside(error, sigma, tolerance.value))
    if abs(error) - tolerance.value > coverage_factor(2.0 * confidence - 1.0) * sigma:
        return Verdict.FAIL, inside
    return (Verdict.PASS if inside >= confidence else Verdict.CANNOT_TELL), inside


def _worse(direction: Verdict, lead: Verdict) -> Verdict:
    """Return fail before cannot tell before pass; a direction that is not known cannot be told."""
    if Verdict.FAIL in (direction, lead):
        return Verdict.FAIL
    if direction is Verdict.PASS and lead in (Verdict.PASS, Verdict.NOT_SURVEYED):
        return Verdict.PASS
    return Verdict.CANNOT_TELL


def _known_first(probability: float) -> float:
    return math.inf if math.isnan(probability) else probability
