"""Facts seen at a structure, as they are recorded: second evidence, plumb and arm level.

A recorded fact is what a person saw or measured. What it comes to is worked out when it is shown: second
evidence by `linemap.domain.survey.evidence`, readings by `linemap.domain.survey.plumb`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Annotated, Final, Literal

from linemap.domain.kind.kind import Cell, FieldError, one_of
from linemap.domain.kind.words import LINE, REMARKS_WORDS, STRUCTURE_WORDS

What = Literal["brand", "ground wire", "arm face", "tag", "plumb", "arm level"]

PoleLetter = Literal["A", "B", "C"]
#: How a pole was pointed at: the one standing where the design puts that letter (told by the neighbouring
#: structures), or the one whose tag or shot bears it.
PointedBy = Literal["place", "label"]
Face = Literal["ahead", "back"]
Side = Literal["left", "right"]
#: What tells labels from frame, because it belongs to the wood and not to the label.
SECOND_EVIDENCE: Final = ("brand", "ground wire", "arm face", "tag")

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


@cache
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
    >>> seen.what in SECOND_EVIDENCE, unneeded("arm face") >= {"pole", "looking"}
    (True, True)
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
        Cell("pole poleletter leg letter tag", way="pole"),
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


def facts_by_structure(
    facts: Iterable[RecordedFact], *, only_line: str, until: dt.date
) -> dict[tuple[str, str], list[RecordedFact]]:
    """Gather the facts seen by the end of a day by (line, structure), in the order recorded.

    `only_line` is the line of those that name none.
    """
    gathered: dict[tuple[str, str], list[RecordedFact]] = {}
    for fact in facts:
        if fact.on <= until:
            gathered.setdefault((fact.line or only_line, fact.structure), []).append(fact)
    return gathered
