"""One structure as a crew needs it, over what every surface shows.

What lists say changes only when a file is loaded or something is declared; what the record of the field says
changes with every record. The two parts are made apart, so that one record does not make ten thousand cards
anew.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from linemap.answers.card import (
    CardBriefing,
    CardClaim,
    CardDesign,
    CardMarks,
    CardNear,
    CardPoleMarks,
    CardRecord,
)
from linemap.answers.field import FieldList
from linemap.domain.crew.briefing import NEAR_M, ROADS, WATERS, briefing, near_crossings
from linemap.domain.crew.term import NEAR_DAYS
from linemap.domain.design.number import StructureNumber, slug_of
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.domain.finding.phrase import date_words
from linemap.domain.record.status import NOTHING_RECORDED
from linemap.service.crew.crew_sites import shortage_words, ticket_cards, unneeded_steps
from linemap.service.crew.tape_plan import card_tape
from linemap.service.view.help import hospital_words
from linemap.service.view.marks import marks_of
from linemap.service.view.steps import step_at
from linemap.service.view.structure import (
    crossings_at,
    dated_holds,
    design_at,
    frame_at,
    history_at,
    hold_at,
    record_at,
    wrong_at,
)
from linemap.service.view.view import JobView

#: Degrees of latitude in which waters are looked for: twice the distance they are told within.
_REACH_DEG = 2.0 * NEAR_M / 111_000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Near:
    """The roads and waters of a job, found by place, and its crossings by line."""

    roads: tuple[ContextFeature, ...]
    waters: tuple[ContextFeature, ...]
    #: Roads with their degrees of longitude narrowed by the latitude of the job.
    road_tree: shapely.STRtree
    water_tree: shapely.STRtree
    #: East over north: the share a degree of longitude has of one of latitude.
    narrow: float
    crossings: tuple[Crossing, ...]

    @classmethod
    def of(cls, view: JobView) -> Near:
        """Put the features of a job in order; restricted ones are left out."""
        known = [feature for feature in view.context if not feature.restricted]
        roads = tuple(one for one in known if one.layer.casefold() in ROADS)
        waters = tuple(one for one in known if one.layer.casefold() in WATERS)
        middle = float(np.nanmean(view.figures.latitude)) if len(view.figures) else 0.0
        narrow = float(np.cos(np.radians(middle)))
        return cls(
            roads=roads,
            waters=waters,
            road_tree=_tree(roads, narrow),
            water_tree=_tree(waters, narrow),
            narrow=narrow,
            crossings=tuple(view.crossings),
        )

    def reminders(self, view: JobView, row: int) -> CardNear:
        """Return coordinates, the nearest road point and the reminders by subject, without those of holds."""
        sheet = briefing(
            view.figures,
            row,
            crossings=self.crossings,
            features=self._beside(view, row),
            holds=(),
            poles=view.poles_by_structure.get(view.key(row), ()),
        )
        return CardNear(
            coordinates=[text for _, text in sheet.coordinates],
            road_point=sheet.road_point,
            hospital=hospital_words(view, row),
            spans=self._beyond(view, row),
            reminders={
                subject.key: list(subject.reminders) for subject in sheet.subjects if subject.reminders
            },
        )

    def _beyond(self, view: JobView, row: int) -> list[str]:
        """Name the crossings in the structure's own spans that lie farther off than its sheet reaches."""
        named = [crossing for crossing, _ in near_crossings(view.figures, row, self.crossings)]
        beyond = []
        for one in crossings_at(view, row):
            if one not in named:
                asked = "treat as energized" if one.energized else one.rule
                span = f"span {one.back_structure} to {one.ahead_structure}"
                beyond.append(f"{one.what}, {span}{f': {asked}' if asked else ''}")
        return beyond

    def _beside(self, view: JobView, row: int) -> list[ContextFeature]:
        lon, lat = float(view.figures.longitude[row]), float(view.figures.latitude[row])
        if not np.isfinite(lon + lat):
            return []
        x = lon * self.narrow
        found = []
        if self.roads:
            found.append(self.roads[int(self.road_tree.nearest(shapely.Point(x, lat)))])
        if self.waters:
            around = shapely.box(x - _REACH_DEG, lat - _REACH_DEG, x + _REACH_DEG, lat + _REACH_DEG)
            found += [self.waters[place] for place in self.water_tree.query(around).tolist()]
        return found


def _tree(features: tuple[ContextFeature, ...], narrow: float) -> shapely.STRtree:
    return shapely.STRtree(
        [shapely.transform(one.geometry, lambda xy: xy * (narrow, 1.0)) for one in features]
    )


#: Newest records shown on a card.
_LAST = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What other records of the job say of its structures, by (line, number); all may be empty."""

    #: Label of the current structure list, by line: "C".
    revisions: Mapping[str, str]
    #: Claims in force.
    claims: Mapping[tuple[str, str], list[CardClaim]]
    #: The newest job briefing held there.
    briefings: Mapping[tuple[str, str], CardBriefing]


def design_cards(view: JobView, rows: Iterable[int]) -> list[CardDesign]:
    """Return the part of cards that no record of the field changes, in the order of their rows."""
    figures, unneeded, near = view.figures, unneeded_steps(view), Near.of(view)
    cards = []
    for row in rows:
        key = view.key(row)
        azimuth = float(figures.structure_azimuth_deg[row] + figures.convergence_deg[row])
        cards.append(
            CardDesign(
                **vars(design_at(view, row, "card")),
                slug=slug_of(key[1]),
                station=round(float(figures.station[row]), 2),
                longitude=round(float(figures.longitude[row]), 7),
                latitude=round(float(figures.latitude[row]), 7),
                mile=mile_of(view, row),
                left_to_right=figures.left_to_right(row),
                frame=frame_at(view, row),
                arm_face=_arm_face(view, key),
                marks=_marks(view, key),
                tickets=ticket_cards(view, key),
                shortages=shortage_words(view, key),
                not_built=list(unneeded.get(key, ())),
                azimuth_deg=round(azimuth % 360.0, 2),
                near=near.reminders(view, row),
                tape=card_tape(view, row),
            )
        )
    return cards


def record_card(view: JobView, around: Surroundings, row: int) -> CardRecord:
    """Return the part of a card that records of the field change, and its holds, for the phone to date."""
    key = view.key(row)
    status = view.statuses.get(key, NOTHING_RECORDED)
    recent = view.as_of - dt.timedelta(days=NEAR_DAYS)
    holds = [hold_at(view, hold) for hold in dated_holds(view, row, since=recent)]
    return CardRecord(
        **{**vars(record_at(view, row, "card")), "holds": holds},
        stage=view.stage_at(key),
        wrong=wrong_at(view, row),
        steps=[step_at(view, row, step)[0] for step in view.workflow.order()],
        open=list(view.workflow.open_steps(status.done)),
        revision=around.revisions.get(key[0], ""),
        last=history_at(view, row)[: -_LAST - 1 : -1],
        claims=around.claims.get(key, []),
        briefing=around.briefings.get(key),
    )


def lists_of(view: JobView, line: str) -> list[FieldList]:
    """Return the structure lists of a line, oldest first, where any gave structures other numbers."""
    lists = view.naming.numbers.by_line.get(line, ())
    if not any(each.renumbered for each in lists):
        return []
    return [FieldList(name=each.words, at=each.at.isoformat(), renumbered=each.renumbered) for each in lists]


def mile_of(view: JobView, row: int) -> int:
    """Return the mile people know the structure by: that of its number, else by true distance."""
    figures = view.figures
    try:
        named = StructureNumber.parse(figures.structures.number[row]).mile
    except ValueError:
        named = None
    if named is not None:
        return named
    return int(figures.miles(slice(row, row + 1))[0])


def _arm_face(view: JobView, key: tuple[str, str]) -> str:
    """Say on which face the arm was last seen; "" = nobody wrote it down."""
    seen = [fact for fact in view.facts_by_structure.get(key, ()) if fact.what == "arm face"]
    if not seen:
        return ""
    newest = max(seen, key=lambda fact: fact.on)
    return f"seen on the {newest.face} face, {date_words(newest.on)}, {newest.who}".rstrip(", ")


def _marks(view: JobView, key: tuple[str, str]) -> CardMarks | None:
    """Return the framing marks as they are read off a tape; None where no framing table tells any."""
    if not view.framing:
        return None
    marks = marks_of(view, *key)
    return CardMarks(
        poles=[
            CardPoleMarks(
                letter=pole.letter,
                depth_text=pole.depth_wood or pole.depth_text,
                brand_text=pole.brand_text,
                marks=[
                    (mark.name, mark.drop_wood or mark.drop_text, mark.butt_wood or mark.butt_text)
                    for mark in pole.marks
                ],
            )
            for pole in marks.poles
        ],
        sentences=marks.sentences,
        unavailable=marks.unavailable,
        drawings=marks.drawings,
        bundle=marks.bundle,
    )
