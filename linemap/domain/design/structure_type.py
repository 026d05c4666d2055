"""Types of structure as an owner names them: what a type code means on the ground."""

from __future__ import annotations

from dataclasses import dataclass

from linemap.geometry.frame import ArmRule

__all__ = ["StructureType"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureType:
    """One type of the owner's type table."""

    #: Code as it stands in structure lists: "P3-SUS".
    code: str
    #: What it is, in words.
    words: str = ""
    #: 2 or 3.
    pole_count: int = 2
    #: Distance between neighbouring poles, ground unit; None = not given.
    spacing: float | None = None
    rule: ArmRule = ArmRule.BISECTOR
    #: True when wire sections end here.
    section_break: bool = False
    #: Stringing blocks hung on one structure; None = not given.
    blocks: int | None = None
    #: Effort of framing and setting against a tangent H, for the forecast.
    weight: float = 1.0
    #: True when structures of the type have guys, False when they have none; None = not given.
    guyed: bool | None = None
