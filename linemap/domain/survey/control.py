"""Control points: monuments whose coordinates the job takes as known, against which a survey is checked."""

from __future__ import annotations

import itertools
import math
import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from linemap.domain.kind.kind import Cell, FieldError
from linemap.domain.kind.words import HEIGHT_WORDS, PLACE_WORDS, REMARKS_WORDS
from linemap.domain.survey.shot import Shot

#: Headings that only a list of control points has.
CONTROL_WORDS = (
    "controlpoint controlpt control controlname controlpointname controlno controlnumber ctrlpt ctrl cp "
    "cpname cpno monument monumentname mon benchmark benchmarkname bm bmname"
)
DATUM_WORDS = "datum horizontaldatum hdatum referenceframe frame adjustment realization datumepoch epoch"

_CHUNK = re.compile(r"[A-Z0-9]+")
_CHECKED = re.compile(r"^(?:CHK|CHECK|CK)(?=[A-Z]*\d)")
_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")
#: Words for a control point before a number that its list gives alone.
_POINT_WORDS = ("CP", "CONTROL", "CONTROLPOINT", "CTRL", "PT", "POINT", "MON")
_NAMES_ONE = re.compile(
    r"(?<![A-Z0-9])(?:CP|BM|GPS|TBM|MON(?:UMENT)?|CTRL|CONTROL(?:\s*P(?:OIN)?T)?|REBAR)[\s\-_.#]*\d+[A-Z]?"
    r"(?![A-Z0-9])"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlPoint:
    """One monument as the list of control gives it.

    Everybody who reads the job may read it: a monument stands in the open, and whoever surveys the line
    needs its coordinates. What people wrote beside it is left out for the public, as everywhere.
    """

    #: Name in the list, which check-ins name it by: "CP-3".
    name: Annotated[str, Cell(f"{CONTROL_WORDS} pointname pointid pointno pointnumber point pt ptno name id")]
    #: Grid coordinates, CRS unit.
    easting: Annotated[float, Cell(PLACE_WORDS["easting"], way="place")]
    northing: Annotated[float, Cell(PLACE_WORDS["northing"], way="place")]
    #: Elevation, ground unit; None = not given.
    elevation: Annotated[float | None, Cell(HEIGHT_WORDS, unit="ground")] = None
    #: Standard deviation of the monument's own coordinates, per axis, ground unit; None = the job's default.
    sigma: Annotated[
        float | None,
        Cell(
            "sigma sd stdev stddev standarddeviation sigmah sigmaxy accuracy horizontalaccuracy uncertainty",
            unit="ground",
        ),
    ] = None
    #: Datum and epoch its coordinates are in, as written; "" = not given.
    datum: Annotated[str, Cell(DATUM_WORDS)] = ""
    #: Where the coordinates come from: "static session, sheet C-2".
    source: Annotated[str, Cell("source reference origin setby establishedby document sheet")] = ""
    note: Annotated[str, Cell(f"{REMARKS_WORDS} description desc", free=True, public=False)] = ""
    source_row: Annotated[int, Cell(way="row")] = 0

    def __post_init__(self) -> None:
        if self.sigma is not None and not (math.isfinite(self.sigma) and self.sigma > 0.0):
            raise FieldError(
                "sigma", "no standard deviation above 0", "leave the cell blank if none is known"
            )


class ControlNames:
    """Control points by their names, as crews write them."""

    def __init__(self, control: Sequence[ControlPoint]) -> None:
        self._control = control
        self._by_name: dict[str, set[int]] = defaultdict(set)
        for index, point in enumerate(control):
            self._by_name[_squeezed(point.name)].add(index)
        for index, point in enumerate(control):
            form = _squeezed(point.name)
            for word in _POINT_WORDS if form.isdigit() else ():
                self._by_name.setdefault(word + form, {index})
        self._longest = max((len(_CHUNK.findall(each.name.upper())) for each in control), default=1) + 1

    def called(self, name: str) -> list[int]:
        """Return the positions of the points of a name; several where the list gives it twice."""
        return sorted(self._by_name.get(_squeezed(name), ()))

    def in_shot(self, shot: Shot) -> list[int]:
        """Return the positions of the points that a description or point name names, the longest names only.

        A point name that is a number, or a number behind the word for a check, only counts the shots. Of a
        shot that is not read as a check a name is all that is written.
        """
        described = shot.description.split(";", 1)[0].upper()
        if shot.item != "check":
            return self._whole(described) or self._whole(shot.point.upper())
        return self._in_text(described, numbers=True) or self._in_text(shot.point.upper())

    def _whole(self, text: str) -> list[int]:
        """Return the points of a name that is all of a text; a number alone names none."""
        form = _CHECKED.sub("", _squeezed(text))
        return [] if form.isdigit() else sorted(self._by_name.get(form, ()))

    def _in_text(self, text: str, *, numbers: bool = False) -> list[int]:
        """Return the points of the longest names in a text."""
        chunks = [_ZEROS.sub("", _CHECKED.sub("", chunk)) for chunk in _CHUNK.findall(text)]
        for length in range(min(self._longest, len(chunks)), 0, -1):
            named: set[int] = set()
            for first in range(len(chunks) - length + 1):
                form = "".join(chunks[first : first + length])
                if not form.isdigit():
                    named |= self._by_name.get(form, set())
                elif numbers:
                    named |= self._of_number(form, text)
            if named:
                return sorted(named)
        return []

    def _of_number(self, form: str, text: str) -> set[int]:
        """Return the point that a number alone names, behind the word for a check, when it is one."""
        if not re.search(rf"(?<![A-Z])(?:CHK|CHECK|CK)[\s\-_.#]*0*{form}(?![0-9A-Z])", text):
            return set()
        ends = [each for each in self._control if re.search(rf"(?<!\d){form}$", _squeezed(each.name))]
        return self._by_name.get(form, set()) if len(ends) == 1 else set()


def _squeezed(name: str) -> str:
    """Return what tells one name of a point from others: "CP-03" and "cp 3" are one.

    >>> _squeezed("CP-03"), _squeezed("cp 3"), _squeezed("BM 120 RESET")
    ('CP3', 'CP3', 'BM120RESET')
    """
    return "".join(_ZEROS.sub("", chunk) for chunk in _CHUNK.findall(name.upper()))


def unlisted_name(shot: Shot) -> str:
    """Return the name of a control point that a check shot gives, "" when it gives none."""
    texts = itertools.chain((shot.description.split(";", 1)[0],), (shot.point,))
    found = (_NAMES_ONE.search(text.upper()) for text in texts)
    return next((match[0] for match in found if match), "")
