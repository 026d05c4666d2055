"""Plan of one structure for the crew that stands there: which pole is A, drawn the way the person faces.

The surveyor's plan has ahead up; a crew may stand facing back, so the same plan is drawn for both. A is a
filled disc, B an open one, C a ringed one: the letters are told apart in glare and in grey. The arrow always
points ahead, whichever way is up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal

__all__ = ["CrewPole", "Facing", "Toward", "crew_sketch_svg"]

Facing = Literal["ahead", "back"]

_WIDTH, _HEIGHT, _CENTRE_X, _CENTRE_Y = 360, 318, 180.0, 156.0
_HALF_ARM_PX = 112.0
_DISC_PX = 31.0
_REACH_PX = 96.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewPole:
    """One pole of the frame."""

    letter: str
    #: Distance right and ahead of the design centre, ground units.
    right: float
    ahead: float
    #: Length and class in words: "85 ft, class 1"; "" = not given.
    words: str = ""
    #: True when it carries the ground wire.
    ground_wire: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Toward:
    """One way along the line: the neighbour there, the end of the line there, and the direction to it."""

    #: Number of the next structure; "" where the line ends.
    number: str
    #: Name of the line's end; "" = not declared.
    end: str
    #: Direction to it, clockwise from the structure's ahead direction, degrees.
    direction_deg: float


def crew_sketch_svg(
    number: str, *, facing: Facing, back: Toward, ahead: Toward, poles: Sequence[CrewPole], to_scale: bool
) -> str:
    """Draw the plan of a structure, the way the person faces up.

    Parameters
    ----------
    number : str
    facing : "ahead" or "back"
    back, ahead : Toward
        Straight lines have the directions 180 and 0.
    poles : sequence of CrewPole
        In any order; may be empty.
    to_scale : bool
        False when the spacing is not known; the drawing then says so.

    >>> at = [CrewPole(letter="A", right=-7.0, ahead=0.0), CrewPole(letter="B", right=7.0, ahead=0.0)]
    >>> back = Toward(number="9/1", end="Brindle Gap", direction_deg=180.0)
    >>> ahead = Toward(number="9/3", end="Amber Sill", direction_deg=0.0)
    >>> text = crew_sketch_svg("9/2", facing="back", back=back, ahead=ahead, poles=at, to_scale=True)
    >>> "Facing back to 9/1: from left to right B, A" in text
    True
    """
    turn = 0.0 if facing == "ahead" else 180.0
    placed = [_Placed.of(pole, turn, _scale(poles)) for pole in poles]
    words = _description(facing, back if facing == "back" else ahead, placed)
    parts = [
        _way(back, "BACK", turn),
        _way(ahead, "AHEAD", turn),
        _arm(placed),
        *(_disc(pole) for pole in placed),
        *(_legend(pole, crowded=len(placed) > 2) for pole in placed),
        "" if to_scale else _text(_CENTRE_X, 222, "spacing not known, not to scale", size=15),
    ]
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="crew-sketch" viewBox="0 0 {_WIDTH} {_HEIGHT}" '
        'role="img" font-family="system-ui, sans-serif" color="currentColor">'
    )
    title = f"<title>{escape(f'Plan of structure {number}')}</title><desc>{escape(words)}</desc>"
    return "".join([head, title, *parts, "</svg>"])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """A pole where it stands in the drawing."""

    pole: CrewPole
    x: float
    y: float

    @classmethod
    def of(cls, pole: CrewPole, turn_deg: float, px: float) -> _Placed:
        sign = 1.0 if turn_deg == 0.0 else -1.0
        return cls(pole=pole, x=_CENTRE_X + sign * pole.right * px, y=_CENTRE_Y - sign * pole.ahead * px)


def _scale(poles: Sequence[CrewPole]) -> float:
    half = max((math.hypot(pole.right, pole.ahead) for pole in poles), default=0.0)
    return _HALF_ARM_PX / half if half > 0.0 else 1.0


def _description(facing: Facing, toward: Toward, placed: Sequence[_Placed]) -> str:
    order = ", ".join(pole.pole.letter for pole in sorted(placed, key=lambda pole: pole.x))
    whither = toward.number or toward.end or "the end of the line"
    return f"Facing {facing} to {whither}: from left to right {order}"


def _way(toward: Toward, word: str, turn_deg: float) -> str:
    """Draw the line towards a neighbour, named at the edge; the arrow head only ahead."""
    if not toward.number and not toward.end:
        return ""
    degrees = toward.direction_deg + turn_deg
    turn = math.radians(degrees)
    x, y = _CENTRE_X + _REACH_PX * math.sin(turn), _CENTRE_Y - _REACH_PX * math.cos(turn)
    stem = (
        f'<path d="M{_CENTRE_X:.0f} {_CENTRE_Y:.0f}L{x:.1f} {y:.1f}" fill="none" stroke="currentColor" '
        'stroke-width="3" stroke-dasharray="9 6"/>'
    )
    arrow = (
        f'<path d="M-13 16L0-8L13 16Z" transform="translate({x:.1f} {y:.1f}) rotate({degrees:.1f})" '
        'fill="currentColor"/>'
    )
    up = math.cos(turn) > 0
    named = _way_name(toward, word, x, y - 32 if up else y + 36)
    return stem + (arrow if word == "AHEAD" else "") + named


def _way_name(toward: Toward, word: str, x: float, y: float) -> str:
    main = f"{word} {toward.number}".strip()
    inside = min(max(x, 120.0), _WIDTH - 120.0)
    end = _text(inside, y + 18, f"to {toward.end}", size=16) if toward.end else ""
    return _text(inside, y, main, size=25, weight=800) + end


def _arm(placed: Sequence[_Placed]) -> str:
    if len(placed) < 2:
        return ""
    order = sorted(placed, key=lambda pole: pole.x)
    first, last = order[0], order[-1]
    return (
        f'<path d="M{first.x:.1f} {first.y:.1f}L{last.x:.1f} {last.y:.1f}" stroke="currentColor" '
        'stroke-width="8"/>'
    )


def _disc(placed: _Placed) -> str:
    letter = placed.pole.letter
    ink, fill = ("on", "ink") if letter == "A" else ("ink", "on")
    ring = (
        f'<circle class="crew-ring" cx="{placed.x:.1f}" cy="{placed.y:.1f}" r="{_DISC_PX - 7:.0f}" '
        'fill="none" stroke="currentColor" stroke-width="2"/>'
        if letter == "C"
        else ""
    )
    return (
        f'<circle class="crew-{fill}" cx="{placed.x:.1f}" cy="{placed.y:.1f}" r="{_DISC_PX:.0f}" '
        f'stroke="currentColor" stroke-width="5"/>{ring}'
        f'<text class="crew-{ink}" x="{placed.x:.1f}" y="{placed.y + 14:.1f}" text-anchor="middle" '
        f'font-size="40" font-weight="900">{escape(letter)}</text>'
    )


def _legend(placed: _Placed, *, crowded: bool) -> str:
    """Write length, class and ground wire under a pole; above it when there are three side by side."""
    size = 14 if crowded else 17
    x = min(max(placed.x, 70.0), _WIDTH - 70.0)
    if crowded and placed.pole.letter == "B":
        x += 52
        lines_at = placed.y - 56
    else:
        lines_at = placed.y + _DISC_PX + 22
    lines = [
        *filter(None, placed.pole.words.split(", ")),
        *(["GROUND WIRE"] if placed.pole.ground_wire else []),
    ]
    return "".join(
        _text(x, lines_at + (size + 3) * row, line, size=size, weight=800 if line.isupper() else 600)
        for row, line in enumerate(lines)
    )


def _text(x: float, y: float, words: str, *, size: int, weight: int = 500) -> str:
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" text-anchor="middle" font-size="{size}" font-weight="{weight}" '
        f'fill="currentColor">{escape(words)}</text>'
    )
