"""The nearest hospital of each structure, by the job's own list of emergency places and by nothing else.

A hospital is a feature of the layer "hospital", or one of the layer "emergency" whose kind is hospital. How
far it is goes by the roads of the job where they lead to it, and is said to be a straight line otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import shapely

from linemap.domain.crew.travel import AccessNetwork, Start, travel_from
from linemap.domain.design.figures import Figures
from linemap.domain.design.lengths import length_words
from linemap.domain.design.structure import FloatArray
from linemap.domain.design.surroundings import ContextFeature
from linemap.geometry.crs import geodesic
from linemap.geometry.projection import Projection

#: Said after whatever is known of a hospital.
CALL_FIRST = "Call the emergency number. The list is the job's own: check it before work."
#: Said on a briefing where nothing is declared and no list has a hospital.
NO_HOSPITAL = ("hospital: neither declared nor in the lists of this job",)
_HOSPITALS = frozenset({"hospital", "hospitals", "emergency room", "emergency department", "trauma center"})
_EMERGENCY = frozenset({"emergency", "emergency place", "emergency places"})
_KINDS = ("kind", "type", "category", "class")
_PHONES = ("phone", "telephone", "tel", "phone number", "number")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hospitals:
    """The hospitals of a job, with how far each is from every structure."""

    features: tuple[ContextFeature, ...]
    figures: Figures
    #: Straight ground metres, and metres by the roads of the job (inf = they do not lead to it): a row for
    #: each hospital, a column for each structure.
    straight: FloatArray
    by_road: FloatArray

    @classmethod
    def of(
        cls,
        features: Iterable[ContextFeature],
        figures: Figures,
        *,
        projection: Projection,
        network: AccessNetwork | None,
    ) -> Hospitals:
        """Measure the ways of some features that are hospitals; `network` is None where no road is known."""
        found = tuple(features)
        shape = (len(found), len(figures))
        straight, by_road = np.full(shape, np.inf), np.full(shape, np.inf)
        for index, feature in enumerate(found):
            longitude, latitude = _place(feature)
            straight[index] = geodesic(longitude, latitude, figures.longitude, figures.latitude)[0]
            easting, northing = map(float, projection.from_lonlat(longitude, latitude))
            if network is not None and network.has_roads and np.isfinite(easting + northing):
                start = Start(line=-1, along=0.0, easting=easting, northing=northing)
                by_road[index] = travel_from(network, figures, start).metres
        return cls(features=found, figures=figures, straight=straight, by_road=by_road)

    def words(self, row: int) -> tuple[str, ...]:
        """Say which is the nearest of a structure, how far, by which way, its telephone and its place.

        Where a hospital that the roads do not lead to may be nearer than the nearest by road, both are said.
        () = the list of the job has none.
        """
        chosen = self._nearest(row)
        sentences = tuple(self._sentence(index, row) for index in chosen)
        return (*sentences, CALL_FIRST) if sentences else ()

    def _nearest(self, row: int) -> tuple[int, ...]:
        if not self.features or not np.isfinite(self.straight[:, row]).any():
            return ()
        road = int(np.argmin(self.by_road[:, row]))
        least = self.by_road[road, row]
        unknown = np.where(np.isfinite(self.by_road[:, row]), np.inf, self.straight[:, row])
        off = int(np.argmin(unknown))
        nearest = [road] if np.isfinite(least) else []
        return (*nearest, off) if np.isfinite(unknown[off]) and unknown[off] < least else tuple(nearest)

    def _sentence(self, index: int, row: int) -> str:
        feature, unit = self.features[index], self.figures.line_of(row).unit
        longitude, latitude = _place(feature)
        metres = float(self.by_road[index, row])
        far = (
            f"{length_words(metres, unit)} by the roads of the job"
            if np.isfinite(metres)
            else f"{length_words(float(self.straight[index, row]), unit)} in a straight line, no way measured"
        )
        said = _said(feature.properties)
        phone = next((f"telephone {said[name]}" for name in _PHONES if said.get(name)), "no telephone listed")
        at = f"at {latitude:.5f}, {longitude:.5f}"
        return (
            f"nearest hospital in the lists of this job: {feature.name or 'not named'}, {far}, {phone}, {at}"
        )


def is_hospital(feature: ContextFeature) -> bool:
    """Say whether a feature of the job's lists is a hospital; a restricted one is shown nowhere."""
    layer = feature.layer.strip().casefold()
    if feature.restricted or layer not in _HOSPITALS | _EMERGENCY:
        return False
    said = _said(feature.properties)
    return layer in _HOSPITALS or any(said.get(name, "").casefold() in _HOSPITALS for name in _KINDS)


def _said(properties: Mapping[str, str]) -> Mapping[str, str]:
    return {" ".join(name.casefold().replace("_", " ").split()): text for name, text in properties.items()}


def _place(feature: ContextFeature) -> tuple[float, float]:
    middle = shapely.centroid(feature.geometry)
    return float(middle.x), float(middle.y)
