"""Guys as a guy schedule gives them: which structure, which way, how far and how high."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Annotated, Final, Literal, get_args

from linemap.domain.kind.kind import LINE, REMARKS_WORDS, STRUCTURE_WORDS, Cell

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
_SIDED = re.compile(r"(?P<side>LEFT|LT|L|RIGHT|RT|R)(?P<ordinal>\d?)")


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
        Cell("direction guydirection kind guykind guytype type towards toward", label="direction"),
    ]
    #: Side of the structure it belongs to, looking ahead; "" = not given.
    side: Annotated[GuySide, Cell("side guyside leftright lr")] = ""
    #: Pole it is attached to, "A", "B" or "C"; "" = not given.
    pole: Annotated[str, Cell("pole poleletter leg letter attachedto")] = ""
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
        float | None, Cell("ratio leadtoheight leadheight leadheightratio leadtoheightratio guyratio")
    ] = None
    #: Grid azimuth from structure to anchor, for kind "azimuth".
    azimuth_deg: Annotated[
        float | None,
        Cell("azimuth guyazimuth anchorazimuth gridazimuth", label="azimuth", unit="deg", named="azimuth"),
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
    """Read direction, side and number out of the description of an anchor shot.

    Returns
    -------
    kind, side, ordinal
        None, "" and 0 for what the description does not say.

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

    Parameters
    ----------
    height : float
        Height of the attachment above the ground at the pole.
    ratio : float
        Lead to height between attachment and anchor.
    fall : float
        Fall of the ground going out, length per length; negative where it rises.

    Returns
    -------
    float
        In the unit of the height.

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
