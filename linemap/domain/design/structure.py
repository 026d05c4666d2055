"""Structures, their types and poles as read from the owner's lists, before anything is computed.

A structure list is held as columns, so that a network of a million structures is a few arrays.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray

from linemap.domain.kind.kind import Cell, FieldError, columns_in, one_of
from linemap.domain.kind.words import HEIGHT_WORDS, LINE, PLACE_WORDS, REMARKS_WORDS, STRUCTURE_WORDS
from linemap.geometry.frame import ArmRule

#: Reads an arm rule as lists write it. "Square" is the bisector rule: on tangents both are.
parse_rule = one_of(
    {
        ArmRule.BISECTOR: "0 bisector bisect onbisector square squaretoline squaretospan perpendicular",
        ArmRule.SQUARE_TO_BACK: "1 back squareback squaretoback squaretobacktangent squaretobackspan",
        ArmRule.SQUARE_TO_AHEAD: "2 ahead squareahead squaretoahead squaretoaheadtangent squaretoaheadspan",
        ArmRule.AZIMUTH: "3 azimuth explicit explicitazimuth",
    },
    refusal="no arm rule",
)
RULES_ASKED = "use bisector, square to back, square to ahead or azimuth"
_COUNT = re.compile(r"([1-9])(?:[ -]?poles?)?|[^()]*\(([1-9])\)", re.IGNORECASE)
_COUNT_WORDS = {"two": 2, "three": 3, "ab": 2, "abc": 3}


def parse_pole_count(text: str) -> int:
    """Read how many poles a structure has; `ValueError` for anything else, such as "70-2".

    >>> [parse_pole_count(text) for text in ("3", "75-1 (3)", "A,B,C", "2 poles")]
    [3, 3, 3, 2]
    """
    match = _COUNT.fullmatch(text)
    if match:
        return int(match[1] or match[2])
    word = "".join(re.findall(r"[^\W_]+", text.casefold()))
    if word not in _COUNT_WORDS:
        raise ValueError("no number of poles")
    return _COUNT_WORDS[word]


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureType:
    """One type of the owner's type table."""

    #: Code as it stands in structure lists: "P3-SUS".
    code: Annotated[str, Cell("code type typecode structuretype structuretypecode")]
    #: What it is, in words.
    words: Annotated[str, Cell("words description meaning typename")] = ""
    #: 2 or 3.
    pole_count: Annotated[
        int,
        Cell(
            "poles polecount nopoles noofpoles numberofpoles",
            label="number of poles",
            way="text",
            read=parse_pole_count,
            doubt=(2, "2"),
        ),
    ] = 2
    #: Distance between neighbouring poles, ground unit; None = not given.
    spacing: Annotated[
        float | None,
        Cell(
            "polespacing spacing poledistance legspacing",
            label="pole spacing",
            unit="ground",
            doubt=(None, "not given"),
            remedy="correct the cell",
        ),
    ] = None
    rule: Annotated[
        ArmRule,
        Cell(
            "armrule rule armorientation orientation orientationrule",
            label="arm rule",
            way="text",
            read=parse_rule,
            remedy=RULES_ASKED,
        ),
    ] = ArmRule.BISECTOR
    #: True when wire sections end here.
    section_break: Annotated[bool, Cell("sectionbreak break deadend tensionbreak")] = False
    #: Stringing blocks hung on one structure; None = not given.
    blocks: Annotated[int | None, Cell("blocks blockcount stringingblocks noofblocks")] = None
    #: Effort of framing and setting against a tangent H, for the forecast.
    weight: Annotated[float, Cell("weight effort weighting")] = 1.0
    #: True when structures of the type have guys, False when they have none; None = not given.
    guyed: Annotated[
        bool | None,
        Cell("guyed guys hasguys needsguys", doubt=(None, "not given"), remedy="write yes or no"),
    ] = None

    def __post_init__(self) -> None:
        if self.pole_count not in {2, 3}:
            raise FieldError("pole_count", "an H-frame has 2 or 3 poles")
        if self.spacing is not None and self.spacing <= 0.0:
            raise FieldError("spacing", "a pole spacing is above 0", "correct the cell, or leave it blank")
        if self.weight <= 0.0:
            raise FieldError("weight", "a weight is above 0", "correct the cell")


FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
ObjectArray = NDArray[np.object_]

#: Poles in the order of the columns of their positions: the last is the third pole.
POLE_LETTERS = "ABC"

_BREAK_WORDS = {"DE", "DDE", "DEADEND", "TERM", "TERMINAL", "TERMINATION"}


def is_section_break(type_code: str) -> bool:
    """Say whether a structure type's code or words name a dead-end, where a wire section ends.

    A list with its own section-break column overrides this. The words (DE, DDE, dead-end, terminal) are
    common practice, no source.

    >>> [is_section_break(code) for code in ("P3-DE", "Double dead-end", "TERM", "H-TAN", "DELTA")]
    [True, True, True, False, False]
    """
    words = re.split(r"[^A-Z0-9]+", re.sub(r"DEAD[\s\-]?END", "DEADEND", type_code.upper()))
    return any(word in _BREAK_WORDS for word in words)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Structures:
    """A structure list as columns of one length, in the order of its file (not yet in line order)."""

    #: Line name of each structure, (n,) str.
    line: Annotated[ObjectArray, LINE]
    #: Structure number in its one spelling, (n,) str.
    number: Annotated[ObjectArray, Cell(f"{STRUCTURE_WORDS} number no num name id")]
    #: Grid easting of the design centre, CRS unit, finite.
    easting: Annotated[FloatArray, Cell(PLACE_WORDS["easting"])]
    #: Grid northing of the design centre, CRS unit, finite.
    northing: Annotated[FloatArray, Cell(PLACE_WORDS["northing"])]
    #: Ground elevation at the centre, ground unit; nan = not given.
    elevation: Annotated[FloatArray, Cell(HEIGHT_WORDS, label="ground elevation", unit="ground")]
    #: Design distance between neighbouring poles, ground unit; nan = not given.
    spacing: Annotated[
        FloatArray,
        Cell(
            "polespacing spacing poledistance legspacing polesp distancebetweenpoles",
            label="pole spacing",
            unit="ground",
        ),
    ]
    #: Poles of the structure: 2 or 3.
    pole_count: Annotated[
        IntArray,
        Cell(
            "poles polecount nopoles noofpoles numberofpoles npoles numpoles polesperstructure",
            label="number of poles",
        ),
    ]
    #: Arm rule, values of `linemap.geometry.frame.ArmRule`.
    rule: Annotated[
        IntArray,
        Cell("armrule rule armorientation orientation orientationrule armorientationrule", label="arm rule"),
    ]
    #: Grid azimuth of the structure's ahead direction where the rule is an explicit azimuth; else nan.
    explicit_azimuth: Annotated[
        FloatArray,
        Cell(
            "structureazimuth explicitazimuth aheadazimuth azimuth strazimuth",
            label="listed azimuth",
            unit="deg",
            named="azimuth",
        ),
    ]
    #: True where a wire section ends (dead-ends and terminals).
    section_break: Annotated[BoolArray, Cell("sectionbreak break wiresectionbreak deadend tensionbreak")]
    #: Owner's type code, "" = not given.
    type_code: Annotated[
        ObjectArray,
        Cell(
            "type structuretype strtype typecode structtype structuretypecode code framing",
            label="type",
            named="type",
        ),
    ]
    #: Station as written in the list, "" = not given; only compared, never trusted.
    given_station: Annotated[
        ObjectArray,
        Cell(
            "station sta stationahead staahead staah stationtext stationing chainage givenstation",
            label="station",
            named="station",
        ),
    ]
    #: Line angle as written in the list, "" = not given; only compared, never trusted.
    given_deflection: Annotated[
        ObjectArray,
        Cell("lineangle angle deflection deflectionangle delta", label="line angle", named="deflection"),
    ]
    remarks: Annotated[ObjectArray, Cell(f"{REMARKS_WORDS} description", free=True)]
    #: Row of each structure in its file.
    source_row: Annotated[IntArray, Cell(way="row")]
    #: File the list came from.
    source_file: str = ""

    def __post_init__(self) -> None:
        lengths = {field.name: len(getattr(self, field.name)) for field in fields(self)[:-1]}
        if len(set(lengths.values())) > 1:
            raise ValueError(f"structure columns differ in length: {lengths}")

    def __len__(self) -> int:
        return len(self.number)

    def take(self, index: NDArray[Any]) -> Structures:
        """Return the structures at `index` (integers or a mask), in that order."""
        return replace(self, **{each.name: getattr(self, each.name)[index] for each in fields(self)[:-1]})

    @classmethod
    def from_columns(
        cls,
        *,
        number: Sequence[str],
        easting: Sequence[float] | FloatArray,
        northing: Sequence[float] | FloatArray,
        line: Sequence[str] | str = "",
        section_break: Sequence[bool] | BoolArray | None = None,
        source_file: str = "",
        **given: Sequence[Any] | NDArray[Any] | None,
    ) -> Structures:
        """Build a list from what is known of its columns; a missing one gets its "not given" value.

        Lengths of all given columns must agree (`ValueError` otherwise). A missing `section_break` is
        judged from the type code; a missing `pole_count` is 2.
        """
        size = len(number)
        types = {column.name: column.item for column in columns_in(cls)}
        if unknown := given.keys() - types.keys():
            raise TypeError(f"structures have no column {', '.join(sorted(unknown))}")
        given |= {"number": number, "easting": easting, "northing": northing, "section_break": section_break}
        given["line"] = [line] * size if isinstance(line, str) else line
        if given.get("pole_count") is None:
            given["pole_count"] = [2] * size
        columns: dict[str, Any] = {name: _column(given.get(name), item, size) for name, item in types.items()}
        if section_break is None:
            ends = {code: is_section_break(code) for code in set(columns["type_code"])}
            breaks = [ends[code] for code in columns["type_code"]]
            columns["section_break"] = np.asarray(breaks, dtype=np.bool_)
        return cls(**columns, source_file=source_file)


#: Type of a column -> its value where it is not given.
_NOTHING = {np.object_: "", np.float64: np.nan, np.int64: 0, np.bool_: False}


def _column(values: Any, item: Any, size: int) -> NDArray[Any]:
    if values is None:
        return np.full(size, _NOTHING[item], dtype=item)
    if item is not np.object_:
        return np.asarray(values, dtype=item)
    column = np.empty(len(values), dtype=object)
    column[:] = list(values)
    return column


@dataclass(frozen=True, slots=True, kw_only=True)
class Pole:
    """One pole of a structure as the pole schedule gives it."""

    line: Annotated[str, LINE]
    #: Structure number in its one spelling.
    structure: Annotated[str, Cell(STRUCTURE_WORDS, way="structure")]
    #: "A", "B" or "C".
    letter: Annotated[
        str, Cell("pole poleletter leg letter poleid poleno poleposition position", label="pole", way="pole")
    ]
    #: Nominal or measured length, feet unless the schedule says metres; None = not given.
    length_ft: Annotated[
        float | None,
        Cell("length polelength poleheight height poleht ht len", label="length", unit="ft", named="length"),
    ] = None
    #: Strength class as written: "2", "1", "H1"; "" = not given.
    pole_class: Annotated[str, Cell("class poleclass cl cls", label="class", named="class")] = ""
    #: Ground elevation at the pole, ground unit; None = not given.
    ground_elevation: Annotated[
        float | None,
        Cell("groundel groundelev groundelevation groundlevel gl groundline", unit="ground"),
    ] = None
    #: True when this pole carries the ground wire; None = not given.
    ground_wire: Annotated[bool | None, Cell("groundwire gw groundwirepole downlead")] = None
    remarks: Annotated[str, Cell(REMARKS_WORDS, free=True, public=False)] = ""
    source_row: Annotated[int, Cell(way="row")] = 0
