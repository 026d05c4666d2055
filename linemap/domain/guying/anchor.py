"""Where the anchors of a structure belong by its guy schedule, and which of those surveyed is whose.

A guy holds against the pull of the wires, so at an angle it lies on the outside, on the line's bisector, and
at a dead-end in line with a tangent, behind that tangent's pull: the ahead anchor in line with the back
tangent, the back anchor in line with the ahead tangent. General practice of guying guides.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.guy import Guy, GuySide, guy_label, label_of_text, lead_on_slope
from linemap.domain.design.line import Line
from linemap.domain.design.surroundings import Crossing
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.phrase import pole_names
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import finding_at
from linemap.geometry.bearing import at_distance, bisector_azimuth_deg, wrap360
from linemap.geometry.station import parse_station

#: An anchor this near a crossing, along the line, is told (10 ft). Common practice, no source.
_NEAR_CROSSING_M = 3.048


@dataclass(frozen=True, slots=True, kw_only=True)
class RequiredAnchor:
    """One guy with the place of its anchor. Lengths are ground lengths."""

    guy: Guy
    #: Row of the structure in `Figures`.
    row: int
    #: Grid azimuth from the pole to the anchor; nan when it cannot be told.
    azimuth_deg: float
    #: Side of the line the guy lies on, looking ahead, or the side of its pole; "" = neither.
    side: GuySide
    #: What is on the lath: "AH L", "BIS R2".
    label: str
    #: Pole the lead is measured from; "" = the structure's centre.
    pole: str
    #: What the lead is measured from, in words: "pole A" or "the centre".
    origin_words: str
    #: Grid easting and northing of that pole or centre, as designed.
    origin: tuple[float, float]
    #: Lead on level ground, or as scheduled; nan when the schedule gives neither lead nor height and ratio.
    lead: float
    #: Grid easting and northing of the anchor; nan when azimuth or lead are.
    position: tuple[float, float]
    #: Why it lies there: "the line turns left, so the bisector guy belongs right".
    reason: str


def _by_row(figures: Figures, guys: Iterable[Guy]) -> tuple[dict[int, list[Guy]], list[Finding]]:
    """Gather guys by the row of their structure; a guy of a structure that is not there is a finding."""
    row_of = figures.rows_by_key()
    gathered: dict[int, list[Guy]] = {}
    findings = []
    for guy in guys:
        line, number = guy.line or figures.only_line, guy.structure
        row = row_of.get((line, number))
        if row is not None:
            gathered.setdefault(row, []).append(guy)
            continue
        values, code = {"guy": guy.name, "number": number}, "guy of unknown structure"
        findings.append(Finding(line=line, structure=number, code=code, part=guy.id, values=values))
    return gathered, findings


def required_anchors(
    figures: Figures, guys: Iterable[Guy]
) -> tuple[tuple[RequiredAnchor, ...], tuple[Finding, ...]]:
    """Place the anchor of every scheduled guy.

    Returns
    -------
    tuple of RequiredAnchor, tuple of Finding
        In line order, guys of a structure as scheduled. `Finding.code`: "guy of unknown structure", "guy
        side" (the schedule names the inside of the angle; the outside is taken), "guy not placed", "guy at
        centre".
    """
    by_row, findings = _by_row(figures, guys)
    required = tuple(
        anchor
        for row in sorted(by_row)
        for anchor in _labelled([_place(figures, row, guy) for guy in by_row[row]])
    )
    doubts = (doubt for anchor in required for doubt in _doubts(figures, anchor))
    return required, (*findings, *doubts)


def anchors_at_crossings(
    figures: Figures, required: Iterable[RequiredAnchor], crossings: Sequence[Crossing]
) -> tuple[Finding, ...]:
    """Tell the anchors that belong within 10 ft of something the line crosses, measured along the line.

    The thing crossed is taken to lie square across the line, which it seldom does exactly: a finding asks
    for a look at the place, and no finding says nothing about it.

    Returns
    -------
    tuple of Finding
        Code "anchor at crossing". A crossing whose distance cannot be told from its station is left out.
    """
    placed = [
        [
            (_crossing_distance(line, crossing), crossing)
            for crossing in crossings
            if crossing.line.casefold() in {line.name.casefold(), ""}
        ]
        for line in figures.lines
    ]
    found = []
    for anchor in required:
        line, guy = figures.line_of(anchor.row), anchor.guy
        unit, near = line.unit.symbol, line.ground(_NEAR_CROSSING_M)
        ahead = _ahead_of_centre(figures, anchor)
        for distance, crossing in placed[int(figures.line_index[anchor.row])]:
            there = distance - float(figures.true_distance[anchor.row])
            if abs(ahead - there) <= near:
                at = partial(finding_at, figures, anchor.row, part=guy.id, guy=guy.name, unit=unit)
                found.append(at("anchor at crossing", ahead=ahead, crossed=crossing.what, there=there))
    return tuple(found)


def _place(figures: Figures, row: int, guy: Guy) -> RequiredAnchor:
    azimuth, side, reason = _direction(figures, row, guy)
    pole = guy.pole or _pole_on_side(figures, row, guy)
    origin = figures.pole_of(row, pole) if pole else figures.centre_of(row)
    if math.isnan(origin[0]):
        pole, origin = "", figures.centre_of(row)
    lead = wanted_lead(guy)
    return RequiredAnchor(
        guy=guy,
        row=row,
        azimuth_deg=azimuth,
        side=side,
        label=guy_label(guy.kind, side),
        pole=pole,
        origin_words=pole_names(pole, figures.called(row)) if pole else "the centre",
        origin=origin,
        lead=lead,
        position=at_distance(origin, azimuth, lead * float(figures.combined_factor[row])),
        reason=reason,
    )


def _direction(figures: Figures, row: int, guy: Guy) -> tuple[float, GuySide, str]:
    """Return azimuth, side and why."""
    back, ahead = float(figures.azimuth_back_deg[row]), float(figures.azimuth_ahead_deg[row])
    if guy.kind == "azimuth":
        return wrap360(guy.azimuth_deg or 0.0), guy.side, "the schedule gives its azimuth"
    if guy.kind == "ahead":
        return wrap360(back), guy.side, "an ahead guy lies in line with the back tangent"
    if guy.kind == "back":
        return wrap360(ahead + 180.0), guy.side, "a back guy lies in line with the ahead tangent"
    turn = float(figures.deflection_deg[row])
    outside: GuySide = "left" if turn > 0.0 else "right" if turn < 0.0 else guy.side
    if not outside:
        return math.nan, "", "the line does not turn here and the schedule names no side"
    square = -90.0 if outside == "left" else 90.0
    return wrap360(bisector_azimuth_deg(back, ahead) + square), outside, _bisector_reason(turn, outside)


def _bisector_reason(turn: float, side: str) -> str:
    if turn == 0.0:
        return f"the schedule puts the bisector guy {side}"
    return f"the line turns {'right' if turn > 0.0 else 'left'}, so the bisector guy belongs {side}"


def _pole_on_side(figures: Figures, row: int, guy: Guy) -> str:
    """Return the outer pole on the guy's side, for guys in line that name a side; "" for the others."""
    if guy.kind not in {"back", "ahead"} or not guy.side:
        return ""
    return figures.left_to_right(row)[0 if guy.side == "left" else -1]


def wanted_lead(guy: Guy, *, fall: float = 0.0) -> float:
    """Return the lead asked for on ground that falls going out, length per length.

    nan = the schedule gives neither lead nor height and ratio, infinite = no lead will do.
    """
    if guy.lead is not None:
        return guy.lead
    if guy.height is None or guy.ratio is None:
        return math.nan
    return lead_on_slope(guy.height, ratio=guy.ratio, fall=fall) if guy.ratio * fall < 1.0 else math.inf


def _labelled(placed: Sequence[RequiredAnchor]) -> list[RequiredAnchor]:
    """Give the anchors of a structure that share a label a number, nearest first."""
    groups: dict[str, list[int]] = {}
    for index, anchor in enumerate(placed):
        groups.setdefault(anchor.label, []).append(index)
    labelled = list(placed)
    for group in groups.values():
        nearest_first = sorted(group, key=lambda index: (placed[index].lead, placed[index].guy.id))
        for ordinal, index in enumerate(nearest_first if len(group) > 1 else (), start=1):
            anchor = placed[index]
            label = guy_label(anchor.guy.kind, anchor.side, ordinal=ordinal)
            labelled[index] = replace(anchor, label=label)
    return labelled


def _doubts(figures: Figures, anchor: RequiredAnchor) -> Iterator[Finding]:
    guy = anchor.guy
    doubt = partial(finding_at, figures, anchor.row, part=guy.id, guy=guy.name)
    turns = guy.kind == "bisector" and float(figures.deflection_deg[anchor.row]) != 0.0
    if turns and guy.side and guy.side != anchor.side:
        yield doubt(code="guy side", side=guy.side, reason=anchor.reason)
    if math.isnan(anchor.azimuth_deg):
        yield doubt(code="guy not placed", reason=anchor.reason)
    elif math.isnan(anchor.lead):
        yield doubt(code="guy not placed", reason="give its lead, or its height and ratio")
    if guy.pole and anchor.pole != guy.pole:
        yield doubt(code="guy at centre", pole=guy.pole)


def _crossing_distance(line: Line, crossing: Crossing) -> float:
    """Return the true distance of a crossing, from its station if need be; nan when it cannot be told."""
    if crossing.true_distance is not None:
        return crossing.true_distance
    try:
        station = parse_station(crossing.station, per_plus=line.unit.per_plus)
    except ValueError:
        return math.nan
    places = line.stationing.true_distances(station.value, region=station.region)
    return places[0][1] if len(places) == 1 else math.nan


def _ahead_of_centre(figures: Figures, anchor: RequiredAnchor) -> float:
    """Return how far ahead of the structure's centre the anchor belongs, along the line; nan if unplaced."""
    ahead, _ = figures.in_frame(anchor.row, np.array([anchor.position]))
    return float(ahead[0])


def distinct_anchors(shots: Sequence[Shot], *, within: float) -> list[Shot]:
    """Return the shots of different anchors: of several within a grid distance of each other, the first."""
    kept: list[Shot] = []
    for shot in shots:
        if all(_apart(shot, (other.easting, other.northing)) > within for other in kept):
            kept.append(shot)
    return kept


def match_anchors(required: Sequence[RequiredAnchor], shots: Sequence[Shot]) -> dict[int, int]:
    """Give each surveyed anchor of a structure to a guy by what its description says, then by nearness.

    A shot that names another direction, or another guy, is not taken for a guy. A side named wrong does
    not keep it away: an anchor on the wrong side is what is looked for.

    Positions in `required` -> positions in `shots` of the same structure; each is used once.
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
