"""The framing marks of a structure, in the words and numbers a person reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class PanelMark:
    """One mark on a pole: distances along it from the top and from the butt, on wood and in decimals."""

    name: str
    drop: float
    drop_wood: str
    drop_text: str
    from_butt: float
    butt_wood: str
    butt_text: str
    above_text: str
    drawing: str


@dataclass(frozen=True, kw_only=True)
class PanelMarkedPole:
    """One pole with its depth, the height of its brand at that depth, and its marks from the top down."""

    letter: str
    length_text: str
    depth: float
    depth_text: str
    depth_wood: str
    least_depth_text: str
    brand: float | None
    brand_text: str
    marks: Sequence[PanelMark]


@dataclass(frozen=True, kw_only=True)
class PanelMarks:
    """The framing marks of a structure; `unavailable` says what could not be worked out and why."""

    line: str
    number: str
    type: str
    unit: str
    spacing_text: str
    poles: Sequence[PanelMarkedPole]
    sentences: Sequence[str]
    unavailable: Sequence[str]
    drawings: Sequence[str]
    bundle: Sequence[str]
    material: Sequence[str]
    caution: str
