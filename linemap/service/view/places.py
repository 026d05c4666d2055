"""Where a text that names a place lies: for the search of the map, and for programs."""

from __future__ import annotations

from linemap.answers import line as answer
from linemap.domain.design.figures import Figures
from linemap.domain.design.place import Place, PlaceFinder, Stand, neighbours
from linemap.service.view.view import JobView

#: Decimals of a degree: 1e-8 is a millimetre.
_DEGREE_DECIMALS, _GRID_DECIMALS = 8, 3


def places_answer(view: JobView, text: str) -> answer.Places:
    """Return every place a text may mean (`linemap.domain.design.place.PlaceFinder.find`)."""
    finder = PlaceFinder(
        figures=view.figures, network=view.network, projection=view.projection, naming=view.naming
    )
    places, none = finder.find(text)
    return answer.Places(places=[_place(view, each) for each in places], none=none)


def _place(view: JobView, place: Place) -> answer.FoundPlace:
    figures = view.figures
    longitude, latitude = view.projection.to_lonlat(place.easting, place.northing)
    row = _nearest(figures, place)
    line, structure = figures.key(row) if row >= 0 else ("", "")
    stands = [each.words(figures) for each in place.stands]
    if place.read_as == "structure":
        stands = [f"structure {structure}", *stands]
    return answer.FoundPlace(
        read_as=place.read_as,
        longitude=round(float(longitude), _DEGREE_DECIMALS),
        latitude=round(float(latitude), _DEGREE_DECIMALS),
        easting=round(place.easting, _GRID_DECIMALS),
        northing=round(place.northing, _GRID_DECIMALS),
        note=place.note,
        line=line,
        structure=structure,
        on_lines=[_on_line(figures, each) for each in place.stands],
        words="; also ".join(stands) if place.read_as != "structure" else ": ".join(stands[:2]),
    )


def _nearest(figures: Figures, place: Place) -> int:
    if place.row is not None:
        return place.row
    rows = (neighbours(figures, each.line, each.true_distance)[2] for each in place.stands)
    return next((row for row in rows if row >= 0), -1)


def _on_line(figures: Figures, stand: Stand) -> answer.PlaceOnLine:
    line = figures.lines[stand.line]
    return answer.PlaceOnLine(
        line=line.name,
        station_text=line.station_text(stand.station, region=stand.region),
        region=stand.region,
        offset=round(stand.offset, _GRID_DECIMALS),
        back=stand.back,
        ahead=stand.ahead,
        words=stand.words(figures),
    )
