"""Lists with readers and tables of their own: what their columns are called and which they need."""

from __future__ import annotations

from linemap.domain.design.line import Vertex
from linemap.domain.design.structure import Structures
from linemap.domain.kind.kind import Cell, Keeps, Kind
from linemap.domain.kind.words import PLACE_WORDS, REMARKS_WORDS
from linemap.domain.record.event import Event
from linemap.domain.record.person import Role
from linemap.domain.record.reading_type import READINGS
from linemap.domain.survey.shot import Shot

#: What a list must say of where its rows are.
_PLACE = "easting + northing | longitude + latitude | geometry"
#: Geographic coordinates, which readers turn into those of the grid.
_SPHERE = {name: Cell(PLACE_WORDS[name]) for name in ("longitude", "latitude")}

CENTRELINE: Kind[Vertex] = Kind(
    code="centreline",
    record=Vertex,
    noun="vertex",
    table="vertex",
    keeps=Keeps.STATE,
    key=("line", "name"),
    needs=(_PLACE,),
    # anything that stands somewhere has a place; a wrong route would move every station
    known_by="pi pino piname pinumber vertex vertexname stationback stabk staback bksta backsta backstation "
    "bearing brg brgah bearingahead aheadbearing brgahead aheadbrg bearingah backbearing bearingback brgbk "
    "brgback bkbearing bearingbk backbrg",
    of_line=True,
    loaders=(Role.SURVEYOR,),
    extra={
        **_SPHERE,
        "station": Cell("station sta chainage", compared=True),
        "station_back": Cell(
            "stationback stabk staback stationbk bkstation backstation bksta backsta", compared=True
        ),
        "station_ahead": Cell(
            "stationahead staah staahead stationah ahstation aheadstation ahsta aheadsta", compared=True
        ),
        "deflection": Cell("deflection delta lineangle angle deflectionangle", compared=True),
        "bearing": Cell(
            "bearing brg brgah bearingahead aheadbearing azimuth brgahead aheadbrg bearingah", compared=True
        ),
        "bearing_back": Cell(
            "backbearing bearingback brgbk brgback bkbearing bearingbk backbrg", compared=True
        ),
        "distance": Cell("distance dist distah distahead length", compared=True),
        "remarks": Cell(f"{REMARKS_WORDS} description", compared=True),
    },
)
STRUCTURES: Kind[Structures] = Kind(
    code="structures",
    record=Structures,
    noun="structure",
    table="",
    keeps=Keeps.STATE,
    key=("number",),
    needs=("number", _PLACE),
    of_line=True,
    loaders=(Role.SURVEYOR,),
    extra={
        **_SPHERE,
        "arm_azimuth": Cell("armazimuth armaz armbearing", unit="deg"),
        "ahead_span": Cell("aheadspan spanahead", compared=True),
        "back_span": Cell("backspan spanback", compared=True),
        # of result tables: what their rows say of the list they are results of, and the results themselves
        "ruling_span": Cell("rulingspan", compared=True),
        "pole_c": Cell("poleceasting", compared=True),
        "results": Cell(
            "stationregion offset windspan weightspan deflectiontext spandeflection convergence "
            "gridscale poleaeasting poleanorthing polebeasting polebnorthing polecnorthing setaeasting "
            "setanorthing setbeasting setbnorthing setceasting setcnorthing verdict reversed swapped "
            "rotation rotationsigma along across spacingerror probabilityintolerance findings held "
            "observedaeasting observedanorthing observedbeasting observedbnorthing observedceasting "
            "observedcnorthing",
            compared=True,
        ),
    },
)
SHOTS: Kind[Shot] = Kind(
    code="shots",
    record=Shot,
    noun="shot",
    table="",
    keeps=Keeps.GROWS,
    key=("point",),
    loaders=(Role.SURVEYOR,),
    needs=(_PLACE, "point + description | description + elevation | structure + pole | point + elevation"),
    extra={
        **_SPHERE,
        "hrms": Cell(
            "hrms horizontalrms hrmse rmsh hprecision horizontalprecision hzprecision hprec hzprec",
            unit="ground",
        ),
    },
)
#: A reading of one pole has a column for each pole too, in rows of the whole structure: "depth_b".
RECORDS: Kind[Event] = Kind(
    code="records",
    record=Event,
    noun="record",
    table="",
    keeps=Keeps.GROWS,
    key=("id",),
    needs=("structure", "step", "date"),
    extra={
        "time": Cell("time clock timeofday"),
        **{each.name: Cell(each.headings) for each in READINGS.values()},
        **{
            f"{each.name}_{letter}": Cell(
                " ".join(f"{word}{letter} {letter}{word}" for word in each.headings.split())
            )
            for each in READINGS.values()
            if each.of == "pole"
            for letter in "abc"
        },
    },
)
