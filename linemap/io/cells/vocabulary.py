"""The words owners use in column headings, for every kind of table and every field.

Compared without case, blanks and punctuation; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from linemap.domain.kind.kind import (
    LINE_WORDS,
    PLACE_WORDS,
    REMARKS_WORDS,
    STRUCTURE_WORDS,
    columns_of,
    extra_of,
)
from linemap.domain.kind.kind import Kind as Declared
from linemap.domain.record.reading_type import READINGS
from linemap.io.cells.table import Kind
from linemap.kinds.registry import KINDS

__all__ = ["FORBIDS", "NEEDS", "UNREAD", "VOCABULARY", "Needs", "columns_in_words", "needs_of", "words_of"]

#: Sets of alternatives; at least one alternative of every set must be there in full.
Needs = tuple[tuple[tuple[str, ...], ...], ...]

_PLACE = {**PLACE_WORDS, "line": LINE_WORDS}
_HEIGHT = {
    "elevation": "elevation elev el z groundel groundelev groundelevation cleelev clelev clelevation "
    "groundlevel gl height orthoheight"
}
_NUMBER = STRUCTURE_WORDS
_REMARKS = REMARKS_WORDS

#: Field of a list of records -> headings; "depth_b" is the depth of pole B in a row of the whole structure.
_READINGS = {each.name: each.headings for each in READINGS.values()} | {
    f"{each.name}_{letter}": " ".join(
        word for known in each.headings.split() for word in (f"{known}{letter}", f"{letter}{known}")
    )
    for each in READINGS.values()
    if each.of == "pole"
    for letter in "abc"
}

_WORDS: Mapping[Kind, Mapping[str, str]] = {
    "structures": {
        **_PLACE,
        **_HEIGHT,
        "number": _NUMBER + " number no num name id",
        "station": "station sta stationahead staahead staah stationtext stationing chainage givenstation",
        "type": "type structuretype strtype typecode structtype structuretypecode code framing",
        "deflection": "lineangle angle deflection deflectionangle delta",
        "pole_count": "poles polecount nopoles noofpoles numberofpoles npoles numpoles polesperstructure",
        "spacing": "polespacing spacing poledistance legspacing polesp distancebetweenpoles",
        "rule": "armrule rule armorientation orientation orientationrule armorientationrule",
        "arm_azimuth": "armazimuth armaz armbearing",
        "azimuth": "structureazimuth explicitazimuth aheadazimuth azimuth strazimuth",
        "section_break": "sectionbreak break wiresectionbreak deadend tensionbreak",
        "ahead_span": "aheadspan spanahead",
        "back_span": "backspan spanback",
        "remarks": _REMARKS + " description",
    },
    "centreline": {
        **_PLACE,
        "name": "pi pino piname point pointno pt vertex name vertexname pinumber id no order sequence seq",
        "station": "station sta chainage",
        "station_back": "stationback stabk staback stationbk bkstation backstation bksta backsta",
        "station_ahead": "stationahead staah staahead stationah ahstation aheadstation ahsta aheadsta",
        "deflection": "deflection delta lineangle angle deflectionangle",
        "bearing": "bearing brg brgah bearingahead aheadbearing azimuth brgahead aheadbrg bearingah",
        "bearing_back": "backbearing bearingback brgbk brgback bkbearing bearingbk backbrg",
        "distance": "distance dist distah distahead length",
        "remarks": _REMARKS + " description",
    },
    "shots": {
        **_PLACE,
        **_HEIGHT,
        "point": "point pointno pointnumber pointname pointid pt ptno ptnumber p pnt pno id name number no",
        "description": "description desc descr d code descriptor rawdescription featurecode label",
        "structure": _NUMBER,
        "pole": "pole poleletter leg letter poleid",
        "sigma": "sigma sd stdev stddev standarddeviation sigmah sigmaxy",
        "hrms": "hrms horizontalrms hrmse rmsh hprecision horizontalprecision hzprecision hprec hzprec",
        "date": "date observedon observed surveydate dateobserved datetime time dateandtime",
        "note": _REMARKS,
    },
    "records": {
        "line": _PLACE["line"],
        "structure": _NUMBER + " structures",
        "pole": "pole poleletter leg letter",
        "step": "step activity task work event status stage workdone operation",
        "result": "result outcome",
        "date": "date happenedat happened when completed completedon donedate doneon datetime workdate",
        "time": "time clock timeofday",
        "received": "receivedat received",
        "crew": "crew gang team",
        "actor": "actor recordedby by person foreman enteredby",
        "device": "device phone deviceid",
        "note": _REMARKS,
        "id": "id eventid uuid recordid",
        **_READINGS,
    },
    "equations": {
        "line": _PLACE["line"],
        "name": "name equation eq id pi no number pino",
        "back": "back bk backstation stationback stabk staback bkstation stationbk bksta",
        "ahead": "ahead ah aheadstation stationahead staah staahead ahstation stationah ahsta",
        "text": "stationequation equationtext equations",
    },
    "tolerances": {
        "name": "name tolerance check item key",
        "value": "value limit tolerancevalue plusminus",
        "unit": "unit units",
        "source": "source reference spec specification clause",
    },
}


def words_of(kind: Declared[Any]) -> dict[str, tuple[str, ...]]:
    """Return field -> headings of a declared kind, squeezed, the surest first."""
    columns = (*columns_of(kind), *extra_of(kind))
    return {column.named: tuple(column.cell.words.split()) for column in columns if column.cell.words}


def columns_in_words(kind: Declared[Any]) -> str:
    """Return the columns of a declared kind, each with its unit and the surest of its headings."""
    columns = (*columns_of(kind), *extra_of(kind))
    return "; ".join(
        f"{column.named}{f' in {column.cell.unit}' if column.cell.unit else ''} "
        f"({', '.join(column.cell.words.split()[:3])})"
        for column in columns
        if column.cell.words
    )


def needs_of(kind: Declared[Any]) -> Needs:
    """Return the sets of alternatives of a declared kind, by the names of its columns."""
    named = {column.name: column.named for column in columns_of(kind)}
    return tuple(
        tuple(
            tuple(named.get(each.strip(), each.strip()) for each in choice.split("+"))
            for choice in need.split("|")
        )
        for need in kind.needs
    )


_GRID, _SPHERE, _SHAPE = ("easting", "northing"), ("longitude", "latitude"), ("geometry",)
#: For each kind: sets of alternatives; at least one alternative of every set must be there in full.
NEEDS: Mapping[Kind, Needs] = {
    **{kind: needs_of(declared) for kind, declared in KINDS.items()},
    "structures": ((("number",),), (_GRID, _SPHERE, _SHAPE)),
    "centreline": ((_GRID, _SPHERE, _SHAPE),),
    "shots": (
        (_GRID, _SPHERE, _SHAPE),
        (
            ("point", "description"),
            ("description", "elevation"),
            ("structure", "pole"),
            ("point", "elevation"),
        ),
    ),
    "records": ((("structure",),), (("step",),), (("date",),)),
    "equations": ((("back", "ahead"), ("text",)),),
    "tolerances": ((("name",),), (("value",),)),
}
#: Fields that say a table is another kind.
FORBIDS: Mapping[Kind, tuple[str, ...]] = {"types": ("number",)}

#: Fields that only help to know a table and its headings; what they hold is computed, not read.
UNREAD: Mapping[Kind, tuple[str, ...]] = {
    "structures": ("deflection", "ahead_span", "back_span"),
    "centreline": (
        "station",
        "station_back",
        "station_ahead",
        "deflection",
        "bearing",
        "bearing_back",
        "distance",
        "remarks",
    ),
    "equations": ("name",),
    "types": ("number",),
}


#: Kind -> field -> headings that mean it, squeezed, the surest first.
VOCABULARY: Mapping[Kind, Mapping[str, tuple[str, ...]]] = {
    **{
        kind: {name: tuple(words.split()) for name, words in fields.items()}
        for kind, fields in _WORDS.items()
    },
    **{kind: words_of(declared) for kind, declared in KINDS.items()},
}
