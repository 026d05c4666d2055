"""Facts seen at a structure, as they are recorded: second evidence, plumb and arm level.

A recorded fact is what a person saw or measured. What it comes to is worked out when it is shown.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, cast

from linemap.domain.survey.evidence import (
    ArmFaceSeen,
    BrandSeen,
    Face,
    Fact,
    GroundWireSeen,
    PointedBy,
    PoleLetter,
    Side,
    TagSeen,
)
from linemap.domain.survey.plumb import (
    ARM_LEVEL,
    PLUMB,
    ArmLevel,
    HeightOffset,
    InchTolerance,
    Lean,
    arm_level,
    lean,
)
from linemap.units import LengthUnit

__all__ = ["MEASURED", "MEASURED_SIGMA_IN", "RecordedFact", "What", "facts_by_structure", "needed"]

What = Literal["brand", "ground wire", "arm face", "tag", "plumb", "arm level"]

#: Standard uncertainty of one offset or one height of a plumb or level reading, inches.
MEASURED_SIGMA_IN: Final = 0.25
#: The same in words, with where it comes from.
MEASURED: Final = "each reading taken as ± 1/4 in (1 σ); common practice, no source"
_INCH_M: Final = 0.0254

_HEIGHTS = ("lower_height", "lower_along", "lower_across", "upper_height", "upper_along", "upper_across")
_NEEDED: Mapping[What, tuple[tuple[str, ...], ...]] = {
    "brand": (("pole",), ("pointed_by",), ("length_ft", "pole_class")),
    "ground wire": (("pole",), ("pointed_by",)),
    "arm face": (("face",),),
    "tag": (("pole",), ("looking",), ("side",)),
    "plumb": (("pole",), *((name,) for name in _HEIGHTS), ("pole_height",)),
    "arm level": (("left_height",), ("right_height",), ("arm_length",)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedFact:
    """One thing seen or measured at a structure; only what `what` needs is filled.

    Raises
    ------
    ValueError
        If something the fact needs is missing.

    >>> seen = RecordedFact(structure="6/4", what="arm face", face="back", who="Otter",
    ...                     on=dt.date(2026, 5, 7))
    >>> seen.evidence().face, seen.lean(LengthUnit.FOOT)
    ('back', None)
    """

    #: "" = the job's only line.
    line: str = ""
    structure: str
    what: What
    #: Pole of a brand, a ground wire or a plumb reading; the tag of a tag.
    pole: PoleLetter | Literal[""] = ""
    pointed_by: PointedBy | Literal[""] = ""
    #: Length burned in, feet.
    length_ft: float | None = None
    #: Class burned in.
    pole_class: str = ""
    face: Face | Literal[""] = ""
    looking: Face | Literal[""] = ""
    #: Side of the picture, looking that way.
    side: Side | Literal[""] = ""
    #: Heights above ground and offsets (ahead +, right +) of the middle of the pole, in the line's unit.
    lower_height: float | None = None
    lower_along: float | None = None
    lower_across: float | None = None
    upper_height: float | None = None
    upper_along: float | None = None
    upper_across: float | None = None
    #: Pole top above ground, in the line's unit.
    pole_height: float | None = None
    #: Heights or elevations of the arm's ends looking ahead, and the length between them; the line's unit.
    left_height: float | None = None
    right_height: float | None = None
    arm_length: float | None = None
    #: Person or crew.
    who: str
    #: Day it was seen.
    on: dt.date
    note: str = ""
    #: Row of the file it came from; 0 = no file. Says where to look, not what was seen.
    source_row: int = field(default=0, compare=False)

    def __post_init__(self) -> None:
        for choice in _NEEDED[self.what]:
            if all(getattr(self, name) in ("", None) for name in choice):
                words = " or ".join(name.replace("_", " ") for name in choice)
                raise ValueError(f"a fact of {self.what} at {self.structure} needs {words}; fill it in")

    def evidence(self) -> Fact | None:
        """Return the fact as second evidence; None for plumb and arm level, which tell nothing of labels."""
        who, on, note = self.who, self.on, self.note
        pole, pointed_by = cast(PoleLetter, self.pole), cast(PointedBy, self.pointed_by)
        if self.what == "brand":
            length, size = self.length_ft, self.pole_class
            return BrandSeen(
                who=who, on=on, note=note, pole=pole, pointed_by=pointed_by, length_ft=length, pole_class=size
            )
        if self.what == "ground wire":
            return GroundWireSeen(who=who, on=on, note=note, pole=pole, pointed_by=pointed_by)
        if self.what == "arm face":
            return ArmFaceSeen(who=who, on=on, note=note, face=cast(Face, self.face))
        if self.what == "tag":
            looking, side = cast(Face, self.looking), cast(Side, self.side)
            return TagSeen(who=who, on=on, note=note, tag=pole, looking=looking, side=side)
        return None

    def lean(self, unit: LengthUnit, *, tolerance: InchTolerance = PLUMB) -> Lean | None:
        """Judge how plumb the pole stands; None when the fact is no plumb reading.

        Parameters
        ----------
        unit : LengthUnit
            Of the reading.
        tolerance : InchTolerance
            Inches per 10 ft.

        Raises
        ------
        ValueError
            If the heights cannot be those of one pole.
        """
        if self.what != "plumb":
            return None
        lower = self.lower_height, self.lower_along, self.lower_across
        upper = self.upper_height, self.upper_along, self.upper_across
        return lean(
            _offset(lower),
            _offset(upper),
            pole_height=_filled(self.pole_height),
            sigma=_sigma(unit),
            tolerance=tolerance,
        )

    def level(self, unit: LengthUnit, *, tolerance: InchTolerance = ARM_LEVEL) -> ArmLevel | None:
        """Judge how level the arm hangs; None when the fact is no reading of an arm.

        Parameters
        ----------
        unit : LengthUnit
            Of the reading.
        tolerance : InchTolerance
            Inches from end to end.

        Raises
        ------
        ValueError
            If the arm is not longer than its ends are apart in height.
        """
        if self.what != "arm level":
            return None
        return arm_level(
            left=_filled(self.left_height),
            right=_filled(self.right_height),
            length=_filled(self.arm_length),
            sigma=_sigma(unit),
            unit=unit,
            tolerance=tolerance,
        )


def needed(what: What) -> tuple[tuple[str, ...], ...]:
    """Return the fields a fact needs beside structure, person and day: one of each group.

    >>> needed("brand")
    (('pole',), ('pointed_by',), ('length_ft', 'pole_class'))
    """
    return _NEEDED[what]


def facts_by_structure(
    facts: Iterable[RecordedFact], *, only_line: str, until: dt.date
) -> dict[tuple[str, str], list[RecordedFact]]:
    """Gather the facts seen by the end of a day by (line, structure), in the order recorded.

    Parameters
    ----------
    facts : iterable of RecordedFact
    only_line : str
        Line of those that name none.
    until : datetime.date
    """
    gathered: dict[tuple[str, str], list[RecordedFact]] = {}
    for fact in facts:
        if fact.on <= until:
            gathered.setdefault((fact.line or only_line, fact.structure), []).append(fact)
    return gathered


def _sigma(unit: LengthUnit) -> float:
    return MEASURED_SIGMA_IN * _INCH_M / unit.metres


def _filled(value: float | None) -> float:
    """Return a number that `RecordedFact` has made sure of."""
    return cast(float, value)


def _offset(place: tuple[float | None, float | None, float | None]) -> HeightOffset:
    height, along, across = (_filled(value) for value in place)
    return HeightOffset(height=height, along=along, across=across)
