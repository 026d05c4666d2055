"""Guys as a guy schedule gives them: which structure, which way, how far and how high."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final, Literal, get_args

from linemap.domain.kind.kind import Cell, one_of
from linemap.domain.kind.words import LINE, REMARKS_WORDS, STRUCTURE_WORDS
from linemap.geometry.bearing import parse_azimuth

GuyKind = Literal["bisector", "back", "ahead", "azimuth"]
GuySide = Literal["", "left", "right"]
GUY_KINDS: Final[tuple[GuyKind, ...]] = get_args(GuyKind)

_SHORT: Final = {"bisector": "BIS", "back": "BK", "ahead": "AH", "azimuth": "AZ"}
_WORDS: Final = {
    "bisector": {"BIS", "BISECT", "BISECTOR"},
    "back": {"BK", "BACK"},
    "ahead": {"AH", "AHD", "AHEAD"},
    "azimuth": {"AZ"},
}
_KINDS: Mapping[GuyKind, str] = {
    "bisector": "bis bisect angle onbisector side",
    "back": "bk guyback",
    "ahead": "ah ahd guyahead",
    "azimuth": "az",
}
_kind = one_of(_KINDS, refusal="no direction of a guy")
_SIDES = one_of(
    {
        ("left",): "left l lt",
        ("right",): "right r rt",
        ("left", "right"): "both lr leftright leftandright landr",
    },
    refusal="no side of the line",
)
_RATIO = re.compile(r"(\d+(?:\.\d+)?)(?:\s*(?::|/|to)\s*(\d+(?:\.\d+)?))?")
_SIDED = re.compile(r"(?P<side>LEFT|LT|L|RIGHT|RT|R)(?P<ordinal>\d?)")


def parse_kind(text: str) -> GuyKind:
    """Read which way a guy goes; `ValueError` when the text is no direction.

    >>> parse_kind("On bisector"), parse_kind("AH"), parse_kind("Back guy")
    ('bisector', 'ahead', 'back')
    """
    return _kind(re.sub(r"\bguys?\W*$", "", text, flags=re.IGNORECASE))


def parse_ratio(text: str) -> float:
    """Read lead to height: "1:1", "1 to 2" (one of lead for two of height), "0.5".

    Raises
    ------
    ValueError
        If the text is no ratio above 0.

    >>> parse_ratio("1:1"), parse_ratio("1 to 2"), parse_ratio("0.75")
    (1.0, 0.5, 0.75)
    """
    match = _RATIO.fullmatch(text.strip().casefold())
    lead, height = (float(match[1]), float(match[2] or 1.0)) if match else (0.0, 1.0)
    if not (lead > 0.0 and height > 0.0):
        raise ValueError("no ratio of lead to height")
    return lead / height


@dataclass(frozen=True, slots=True, kw_only=True)
class Guy:
    """One guy and its anchor as scheduled. Lengths are in the line's ground unit."""

    #: Line name.
    line: Annotated[str, LINE]
    #: Structure number in its one spelling.
    structure: Annotated[str, Cell(STRUCTURE_WORDS, way="structure")]
    #: Name within the structure: "G1".
    id: Annotated[str, Cell("guy guyid guyno guyname id name no", column="name")]
    #: "bisector": square to the line's bisector, outside of the angle. "back", "ahead": where the anchor
    #: lies, in line with the tangent on the other side, behind that tangent's pull. "azimuth": as given.
    kind: Annotated[
        GuyKind,
        Cell(
            "direction guydirection kind guykind guytype type towards toward",
            label="direction",
            read=parse_kind,
            remedy="write bisector, back, ahead or azimuth",
        ),
    ]
    #: Side of the structure it belongs to, looking ahead; "" = not given.
    side: Annotated[
        GuySide, Cell("side guyside leftright lr", read=_SIDES, remedy="write left, right or both")
    ] = ""
    #: Pole it is attached to, "A", "B" or "C"; "" = not given.
    pole: Annotated[
        str,
        Cell(
            "pole poleletter leg letter attachedto",
            way="pole",
            doubt=("", "not given"),
            remedy="give each pole its row",
        ),
    ] = ""
    #: Horizontal distance from pole to anchor; None = follows from ratio and height.
    lead: Annotated[
        float | None,
        Cell("lead guylead leadlength horizontallead anchordistance", unit="ground"),
    ] = None
    #: Height of the attachment above the ground at the pole; None = not given.
    height: Annotated[
        float | None,
        Cell(
            "height attachmentheight attachheight heightofattachment guyheight attachment ht", unit="ground"
        ),
    ] = None
    #: Lead to height, 1.0 = 45 degrees; None = not given.
    ratio: Annotated[
        float | None,
        Cell(
            "ratio leadtoheight leadheight leadheightratio leadtoheightratio guyratio",
            way="text",
            read=parse_ratio,
            remedy="write it like 1:1, lead to height",
        ),
    ] = None
    #: Grid azimuth from structure to anchor, for kind "azimuth".
    azimuth_deg: Annotated[
        float | None,
        Cell(
            "azimuth guyazimuth anchorazimuth gridazimuth",
            label="azimuth",
            unit="deg",
            named="azimuth",
            way="text",
            read=parse_azimuth,
            remedy="write degrees clockwise from grid north",
        ),
    ] = None
    remarks: Annotated[str, Cell(REMARKS_WORDS, free=True, public=False)] = ""
    source_row: Annotated[int, Cell(way="row")] = 0

    def __post_init__(self) -> None:
        if self.kind not in GUY_KINDS:
            raise ValueError(f"guy kind {self.kind!r} is not one of {', '.join(GUY_KINDS)}")
        if (self.kind == "azimuth") != (self.azimuth_deg is not None):
            raise ValueError(
                f"guy {self.id} of {self.structure}: an azimuth goes with kind azimuth, and only it"
            )
        for name in ("lead", "height", "ratio"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value > 0.0):
                raise ValueError(f"guy {self.id} of {self.structure}: {name} {value} is not above 0")

    @property
    def name(self) -> str:
        """How a person calls it.

        >>> Guy(line="", structure="5/5", id="G2", kind="bisector", pole="B").name
        'bisector guy G2'
        """
        return f"{self.kind} guy {self.id}"


def guy_label(kind: GuyKind, side: GuySide, *, ordinal: int = 0) -> str:
    """Return what is written on an anchor's lath and in its shot: direction, side, number.

    >>> guy_label("ahead", "left"), guy_label("bisector", "right", ordinal=2), guy_label("back", "")
    ('AH L', 'BIS R2', 'BK')
    """
    number = str(ordinal) if ordinal else ""
    return f"{_SHORT[kind]} {side[:1].upper()}{number}".strip()


def label_of_text(text: str) -> tuple[GuyKind | None, GuySide, int]:
    """Read direction, side and number out of the description of an anchor shot; None, "", 0 = not said.

    >>> label_of_text("ANC 6/4 AH L"), label_of_text("12/3 ANC BIS R2"), label_of_text("GUY 12/3")
    (('ahead', 'left', 0), ('bisector', 'right', 2), (None, '', 0))
    """
    words = re.findall(r"[A-Z0-9/.\-]+", text.split(";", 1)[0].upper())
    kind = next((kind for kind in GUY_KINDS for word in words if word in _WORDS[kind]), None)
    for word in words:
        sided = _SIDED.fullmatch(word)
        if sided:
            side: GuySide = "left" if sided["side"].startswith("L") else "right"
            return kind, side, int(sided["ordinal"] or 0)
    return kind, "", 0


def lead_on_slope(height: float, *, ratio: float, fall: float = 0.0) -> float:
    """Return the lead that gives a guy its ratio where the ground falls away from the pole, or rises.

    `height` is that of the attachment above the ground at the pole, `ratio` lead to height between attachment
    and anchor, `fall` that of the ground going out, length per length; negative where it rises.

    Raises
    ------
    ValueError
        If the ground falls so steeply that no lead gives the ratio (ratio times fall is 1 or more).

    Notes
    -----
    x = k·h / (1 - k·m): the anchor lies m·x below the ground at the pole, so x = k·(h + m·x).

    >>> [round(lead_on_slope(58.0, ratio=1.0, fall=fall), 1) for fall in (0.0, 0.10, -0.10)]
    [58.0, 64.4, 52.7]
    """
    if ratio * fall >= 1.0:
        raise ValueError(
            f"ground falling {fall:.0%} never meets a guy of lead to height {ratio:g}; "
            "give a lead, or a smaller ratio"
        )
    return ratio * height / (1.0 - ratio * fall)
