"""Types of structure as an owner names them: what a type code means on the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from linemap.domain.kind.kind import Cell
from linemap.geometry.frame import ArmRule

__all__ = ["StructureType"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureType:
    """One type of the owner's type table."""

    #: Code as it stands in structure lists: "P3-SUS".
    code: Annotated[str, Cell("code type typecode structuretype structuretypecode")]
    #: What it is, in words.
    words: Annotated[str, Cell("words description meaning typename")] = ""
    #: 2 or 3.
    pole_count: Annotated[
        int, Cell("poles polecount nopoles noofpoles numberofpoles", label="number of poles")
    ] = 2
    #: Distance between neighbouring poles, ground unit; None = not given.
    spacing: Annotated[
        float | None,
        Cell("polespacing spacing poledistance legspacing", label="pole spacing", unit="ground"),
    ] = None
    rule: Annotated[
        ArmRule,
        Cell("armrule rule armorientation orientation orientationrule", label="arm rule", way="text"),
    ] = ArmRule.BISECTOR
    #: True when wire sections end here.
    section_break: Annotated[bool, Cell("sectionbreak break deadend tensionbreak")] = False
    #: Stringing blocks hung on one structure; None = not given.
    blocks: Annotated[int | None, Cell("blocks blockcount stringingblocks noofblocks")] = None
    #: Effort of framing and setting against a tangent H, for the forecast.
    weight: Annotated[float, Cell("weight effort weighting")] = 1.0
    #: True when structures of the type have guys, False when they have none; None = not given.
    guyed: Annotated[bool | None, Cell("guyed guys hasguys needsguys")] = None
