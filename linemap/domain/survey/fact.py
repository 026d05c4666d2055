"""Facts seen at a structure, as they are recorded: second evidence, plumb and arm level.

A recorded fact is what a person saw or measured. What it comes to is worked out when it is shown.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Final, Literal, cast

from linemap.domain.design.number import single_pole
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.kind.kind import LINE, REMARKS_WORDS, STRUCTURE_WORDS, Cell, FieldError, one_of
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


_WHAT: Mapping[What, str] = {
    "brand": "polebrand",
    "ground wire": "gw downlead",
    "arm face": "face",
    "tag": "poletag",
    "plumb": "lean",
    "arm level": "level",
}
_what = one_of(_WHAT, refusal="names nothing that can be recorded here")
_WAYS_ASKED: Final = "ahead or back"
_way = one_of({"ahead": "ah ahd", "back": "bk"}, refusal=f"not {_WAYS_ASKED}")


def parse_what(text: str) -> What:
    """Read what a fact is about; `ValueError` when the text is none of the six.

    >>> parse_what("Ground wire"), parse_what("arm-level"), parse_what("Lean")
    ('ground wire', 'arm level', 'plumb')
    """
    if not text:
        raise ValueError("what was seen is missing")
    return _what(text)


def unneeded(what: object) -> frozenset[str]:
    """Return the fields that a fact does not need: all that some fact needs, where `what` is no fact."""
    every = {name for choices in _NEEDED.values() for choice in choices for name in choice}
    own = {name for known, choices in _NEEDED.items() if known == what for each in choices for name in each}
    return frozenset(every - own)


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
    line: Annotated[str, LINE] = ""
    structure: Annotated[str, Cell(STRUCTURE_WORDS, way="structure")]
    what: Annotated[
        What,
        Cell(
            "what fact whatwasseen whatseen seen",
            read=parse_what,
            remedy="write brand, ground wire, arm face, tag, plumb or arm level",
        ),
    ]
    #: Pole of a brand, a ground wire or a plumb reading; the tag of a tag.
    pole: Annotated[
        PoleLetter | Literal[""],
        Cell("pole poleletter leg letter tag", read=single_pole, remedy="write A, B or C"),
    ] = ""
    pointed_by: Annotated[
        PointedBy | Literal[""],
        Cell(
            "pointedby pointedat pointed poleby",
            read=one_of({"place": "position", "label": "tag shot"}, refusal="not place or label"),
            remedy="write place or label",
        ),
    ] = ""
    #: Length burned in, feet.
    length_ft: Annotated[
        float | None, Cell("length brandlength brandedlength", label="length", unit="ft")
    ] = None
    #: Class burned in.
    pole_class: Annotated[
        str, Cell("class brandclass poleclass", label="class", named="class", read=str.upper)
    ] = ""
    face: Annotated[Face | Literal[""], Cell("face armface", read=_way, remedy=f"write {_WAYS_ASKED}")] = ""
    looking: Annotated[
        Face | Literal[""],
        Cell("looking lookingto direction", read=_way, remedy=f"write {_WAYS_ASKED}"),
    ] = ""
    #: Side of the picture, looking that way.
    side: Annotated[
        Side | Literal[""],
        Cell(
            "side pictureside",
            read=one_of({"left": "l lt", "right": "r rt"}, refusal="not left or right"),
            remedy="write left or right",
        ),
    ] = ""
    #: Heights above ground and offsets (ahead +, right +) of the middle of the pole, in the line's unit.
    lower_height: Annotated[float | None, Cell("lowerheight", unit="ground")] = None
    lower_along: Annotated[float | None, Cell("loweralong", unit="ground")] = None
    lower_across: Annotated[float | None, Cell("loweracross", unit="ground")] = None
    upper_height: Annotated[float | None, Cell("upperheight", unit="ground")] = None
    upper_along: Annotated[float | None, Cell("upperalong", unit="ground")] = None
    upper_across: Annotated[float | None, Cell("upperacross", unit="ground")] = None
    #: Pole top above ground, in the line's unit.
    pole_height: Annotated[float | None, Cell("poleheight heightofpole poleaboveground", unit="ground")] = (
        None
    )
    #: Heights or elevations of the arm's ends looking ahead, and the length between them; the line's unit.
    left_height: Annotated[float | None, Cell("left leftheight leftend leftelevation", unit="ground")] = None
    right_height: Annotated[
        float | None, Cell("right rightheight rightend rightelevation", unit="ground")
    ] = None
    arm_length: Annotated[float | None, Cell("armlength lengthofarm", unit="ground")] = None
    #: Person or crew.
    who: Annotated[str, Cell("seenby who by person crew measuredby", public=False)]
    #: Day it was seen.
    on: Annotated[
        dt.date,
        Cell(
            "date day seenon on measuredon",
            label="day",
            named="date",
            column="day",
            remedy="write it like 2026-05-07",
        ),
    ]
    note: Annotated[str, Cell(f"{REMARKS_WORDS} photo", free=True, public=False)] = ""
    #: Row of the file it came from; 0 = no file. Says where to look, not what was seen.
    source_row: Annotated[int, Cell(way="row")] = field(default=0, compare=False)

    def __post_init__(self) -> None:
        for choice in _NEEDED[self.what]:
            if all(getattr(self, name) in ("", None) for name in choice):
                words = " or ".join(name.replace("_", " ") for name in choice)
                reason = f"a fact of {self.what} at {self.structure} needs {words}"
                raise FieldError(choice[0], reason, "fill it in")

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

    def judged(self, unit: LengthUnit, tolerances: Tolerances) -> Lean | ArmLevel | None:
        """Judge a plumb or level reading by a job's tolerances; None for any other fact.

        Raises
        ------
        ValueError
            If the heights cannot be those of one pole, or the arm not be as long as its ends are apart in
            height.
        """
        plumb, level = tolerances.plumb, tolerances.arm_level
        return self.lean(
            unit, tolerance=InchTolerance(inches=plumb.value, source=plumb.source)
        ) or self.level(unit, tolerance=InchTolerance(inches=level.value, source=level.source))

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
