"""One surveyed point, as its file has it and as its description was read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Annotated, Literal

from linemap.domain.kind.kind import Cell
from linemap.domain.kind.words import HEIGHT_WORDS, LINE, PLACE_WORDS, REMARKS_WORDS, STRUCTURE_WORDS

#: What was shot. "hub" is any stake, an offset one too; "check" a shot on a control point; "centre" that of a
#: frame; "face" a side of a pole; "other" is what names no item, or may be read two ways.
ShotItem = Literal[
    "pole", "top", "tip", "face", "hub", "anchor", "centre", "check", "crossing", "ground", "other"
]
#: Each item in words.
ITEM_WORDS: Mapping[ShotItem, str] = MappingProxyType(
    {
        "pole": "a pole",
        "top": "the top of a pole",
        "tip": "the tip of an arm",
        "face": "the face of a pole",
        "centre": "the centre of a frame",
        "hub": "a hub or an offset stake",
        "anchor": "an anchor or a guy",
        "check": "a check shot",
        "crossing": "a crossing",
        "ground": "a ground shot",
        "other": "nothing that can be read",
    }
)


#: File, row and point of a shot.
ShotKey = tuple[str, int, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One surveyed point, in the CRS of its line."""

    #: Point number or name as the controller gave it.
    point: Annotated[
        str, Cell("point pointno pointnumber pointname pointid pt ptno ptnumber p pnt pno id name number no")
    ]
    #: Grid easting, CRS unit.
    easting: Annotated[float, Cell(PLACE_WORDS["easting"])]
    #: Grid northing, CRS unit.
    northing: Annotated[float, Cell(PLACE_WORDS["northing"])]
    #: Elevation, ground unit; None = not given.
    elevation: Annotated[float | None, Cell(HEIGHT_WORDS, unit="ground")] = None
    #: Description exactly as written.
    description: Annotated[
        str, Cell("description desc descr d code descriptor rawdescription featurecode label", free=True)
    ] = ""
    #: Structure number in its one spelling; "" = the description names none.
    structure: Annotated[str, Cell(STRUCTURE_WORDS, way="structure")] = ""
    #: "A", "B" or "C"; "" = the description names no pole.
    pole: Annotated[str, Cell("pole poleletter leg letter poleid", way="pole")] = ""
    item: Annotated[ShotItem, Cell("item shotitem pointitem whatshot")] = "other"
    #: Line name; "" = the only line that has this structure number.
    line: Annotated[str, LINE] = ""
    #: Standard deviation of this shot alone, per axis, ground unit; None = the job's default.
    sigma: Annotated[
        float | None, Cell("sigma sd stdev stddev standarddeviation sigmah sigmaxy", unit="ground")
    ] = None
    #: ISO date of the observation, "" = not known.
    observed_on: Annotated[
        str,
        Cell(
            "date observedon observed surveydate dateobserved datetime time dateandtime",
            label="day",
            named="date",
        ),
    ] = ""
    file: str = ""
    #: Row in the file, as a person counts it.
    row: int = 0
    note: Annotated[str, Cell(REMARKS_WORDS, free=True)] = ""

    @property
    def key(self) -> ShotKey:
        """What tells it from others, those of a second file of the same name too."""
        return (self.file, self.row, self.point)


@dataclass(frozen=True, slots=True, kw_only=True)
class ParsedDescription:
    """What a shot description says."""

    #: Structure number as the list writes it; "" = none found, or several may be meant.
    structure: str = ""
    #: "A", "B" or "C"; "" = none found.
    pole: str = ""
    item: ShotItem = "other"
    #: What it may mean, where it may mean several things or has words nobody knows; else empty.
    readings: tuple[str, ...] = ()


def sessions_held(shots: Iterable[Shot]) -> Mapping[tuple[str, str], tuple[str, str]]:
    """Return (file, day) of check shots alone -> that of the session they hold, the one other of its day.

    They are of no session of their own: who exports check shots apart shot them with the base of that day.
    """
    of_day: dict[str, set[str]] = defaultdict(set)
    checks: set[tuple[str, str]] = set()
    for shot in shots:
        if shot.item == "check":
            checks.add((shot.file, shot.observed_on))
        else:
            of_day[shot.observed_on].add(shot.file)
    other = {file for files in of_day.values() for file in files}
    return {
        (file, day): (next(iter(of_day[day])), day)
        for file, day in checks
        if day and file not in other and len(of_day.get(day, ())) == 1
    }
