"""What the person in charge of a briefing is reminded of at a structure, and where the nearest road is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from linemap.answers.field import CardNear
from linemap.domain.crew.briefing import NEAR_M, ROADS, WATERS, briefing, near_crossings
from linemap.domain.design.surroundings import ContextFeature, Crossing
from linemap.service.view.structure import crossings_at
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
