"""Plan sketch of one structure as SVG text: which pole is A, which way is ahead, design against as set.

Ahead is up, as a person sees it who faces ahead. Colours are ``currentColor`` and classes, so the page or
the sheet that shows the sketch decides them; standing alone it is black on nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from html import escape

FramePole = tuple[str, float, float]
"""Letter, distance right and distance ahead of the design centre, in ground units."""

_WIDTH, _CENTRE_X, _CENTRE_Y = 360, 180.0, 152.0
_HALF_ARM_PX = 84.0
_REACH_PX = 112.0
_LARGEST_RESIDUAL_PX = 78.0
_READABLE_RESIDUAL_PX = 16.0
_TIMES = (2, 5, 10, 20, 50, 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scale:
    """How ground becomes pixels."""

    #: Pixels per ground unit of the design.
    px: float
    #: How many times the residuals are drawn.
    times: int

    def at(self, right: float, ahead: float) -> tuple[float, float]:
        """Return the pixel of a point of the structure frame."""
        return _CENTRE_X + right * self.px, _CENTRE_Y - ahead * self.px


@dataclass(frozen=True, slots=True, kw_only=True)
class _SetPole:
    """A surveyed pole with the design pole that stands nearest to it in the frame's own order."""

    #: Letter the survey gave.
    letter: str
    #: Design position: right, ahead.
    design: tuple[float, float]
    #: Right and ahead of that design position.
    residual: tuple[float, float]


def sketch_svg(
    *,
    number: str,
    back_number: str,
    ahead_number: str,
    ahead_end: str,
    deflection_deg: float,
    azimuth_back_rel_deg: float,
    azimuth_ahead_rel_deg: float,
    design: Sequence[FramePole],
    as_set: Sequence[FramePole],
    unit_symbol: str,
    pole_words: Sequence[str] = (),
) -> str:
    """Draw the plan of a structure in its own frame, ahead up, as one ``<svg>`` element.

    Small residuals are drawn larger than they are and the drawing says how much; a frame far from its place
    makes the whole drawing smaller instead.

    Parameters
    ----------
    number, back_number, ahead_number : str
        The structure and its neighbours; "" where the line ends.
    ahead_end : str
        Name of the line's ahead end, printed at the arrow.
    deflection_deg : float
        Line angle, right positive; 0 away from angles.
    azimuth_back_rel_deg, azimuth_ahead_rel_deg : float
        Direction of travel along the back and the ahead tangent, measured clockwise from the structure's
        ahead direction: -deflection/2 and +deflection/2 on a bisector.
    design, as_set : sequence of (letter, right, ahead)
        Poles in ground units; none when the spacing is not known, or nothing is surveyed.
    unit_symbol : {"ft", "m"}
    pole_words : sequence of str
        What poles A, B and C are called; () = so.

    >>> text = sketch_svg(number="9/2", back_number="9/1", ahead_number="9/3", ahead_end="Amber Sill",
    ...     deflection_deg=0, azimuth_back_rel_deg=0, azimuth_ahead_rel_deg=0,
    ...     design=[("A", -7.0, 0.0), ("B", 7.0, 0.0)], as_set=[], unit_symbol="ft")
    >>> text[:4], "ahead 9/3" in text
    ('<svg', True)
    """
    letters = [letter for letter, _, _ in design]
    named = dict(zip(letters, letters, strict=True)) | dict(zip("ABC", pole_words, strict=False))
    poles = _matched(design, as_set)
    scale = _scale(design, poles)
    notes = [
        *_angle_note(deflection_deg, azimuth_back_rel_deg, azimuth_ahead_rel_deg),
        *_notes(poles, scale, unit_symbol, named),
    ]
    parts = [
        _tangent(azimuth_back_rel_deg + 180.0, back_number, "back", ""),
        _tangent(azimuth_ahead_rel_deg, ahead_number, "ahead", ahead_end),
        _arm(design, scale),
        *(_design_pole((named[letter], right, ahead), scale) for letter, right, ahead in design),
        *(_set_pole(replace(pole, letter=named[pole.letter]), scale) for pole in poles),
        *(_text(14, 318 + 18 * row, note, anchor="start", size=14) for row, note in enumerate(notes)),
    ]
    height = 312 + 18 * len(notes)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="sk" viewBox="0 0 {_WIDTH} {height}" role="img" '
        'font-family="system-ui, sans-serif" color="currentColor">'
    )
    title = f"<title>{escape(_title(number, back_number, ahead_number))}</title>"
    sides = _sides([(named[letter], right, ahead) for letter, right, ahead in design])
    desc = f"<desc>{escape('. '.join([*sides, *notes]))}</desc>"
    return "".join([head, title, desc, *parts, "</svg>"])


def _title(number: str, back_number: str, ahead_number: str) -> str:
    back = f", back to {back_number}" if back_number else ", start of the line"
    ahead = f", ahead to {ahead_number}" if ahead_number else ", end of the line"
    return f"Plan of structure {number}{back}{ahead}; ahead is up"


def _sides(design: Sequence[FramePole]) -> list[str]:
    """Say from left to right which pole stands where."""
    order = sorted(design, key=lambda pole: pole[1])
    return (
        ["Poles from left to right, facing ahead: " + ", ".join(pole[0] for pole in order)] if order else []
    )


def _matched(design: Sequence[FramePole], as_set: Sequence[FramePole]) -> list[_SetPole]:
    """Pair surveyed poles with design places: letter by letter, or turned about when that is far nearer."""
    straight = {letter: (right, ahead) for letter, right, ahead in design}
    turned = dict(zip(straight, list(straight.values())[::-1], strict=True))
    known = [pole for pole in as_set if pole[0] in straight]
    chosen = turned if len(known) > 1 and _miss(known, turned) < _miss(known, straight) else straight
    return [
        _SetPole(
            letter=letter,
            design=chosen[letter],
            residual=(right - chosen[letter][0], ahead - chosen[letter][1]),
        )
        for letter, right, ahead in known
    ]


def _miss(poles: Sequence[FramePole], places: dict[str, tuple[float, float]]) -> float:
    """Sum of squared distances, the frame's common shift taken out."""
    rights = [right - places[letter][0] for letter, right, _ in poles]
    aheads = [ahead - places[letter][1] for letter, _, ahead in poles]
    return sum((value - sum(values) / len(values)) ** 2 for values in (rights, aheads) for value in values)


def _scale(design: Sequence[FramePole], poles: Sequence[_SetPole]) -> _Scale:
    half = max((math.hypot(right, ahead) for _, right, ahead in design), default=0.0)
    px = _HALF_ARM_PX / half if half > 0.0 else 1.0
    largest = max((math.hypot(*pole.residual) for pole in poles), default=0.0)
    if largest * px > _LARGEST_RESIDUAL_PX:
        return _Scale(px=_LARGEST_RESIDUAL_PX / largest, times=1)
    if largest * px >= _READABLE_RESIDUAL_PX or largest * px * _TIMES[-1] < 1.0:
        return _Scale(px=px, times=1)
    fitting = [times for times in _TIMES if largest * px * times <= _LARGEST_RESIDUAL_PX / 2]
    return _Scale(px=px, times=fitting[-1] if fitting else 1)


def _notes(poles: Sequence[_SetPole], scale: _Scale, unit_symbol: str, named: Mapping[str, str]) -> list[str]:
    if not poles:
        return ["not surveyed as set: design only"]
    notes = [f"{named[pole.letter]} set {_residual_words(pole.residual, unit_symbol)}" for pole in poles]
    if any(_is_turned(pole, poles) for pole in poles):
        first, *_, last = sorted(pole.letter for pole in poles)
        notes.append(f"as surveyed, {named[first]} and {named[last]} are the other way round")
    times = f"misplacement ×{scale.times}" if scale.times > 1 else "one scale"
    return [*notes, f"open design, filled as set; {times}"]


def _is_turned(pole: _SetPole, poles: Sequence[_SetPole]) -> bool:
    """Tell whether A stands on the far side of another letter than the design has it."""
    first = min(poles, key=lambda other: other.letter)
    return len(poles) > 1 and pole is first and _out_of_order(poles)


def _out_of_order(poles: Sequence[_SetPole]) -> bool:
    letters = [pole.letter for pole in sorted(poles, key=lambda pole: pole.design[0])]
    return letters != sorted(letters)


def _residual_words(residual: tuple[float, float], unit_symbol: str) -> str:
    """Say a residual in words, to 0.01.

    >>> _residual_words((-0.031, 0.49), "ft")
    '0.49 ft ahead, 0.03 ft left of design'
    """
    right, ahead = (round(value, 2) + 0.0 for value in residual)
    parts = []
    if ahead:
        parts.append(f"{abs(ahead):.2f} {unit_symbol} {'ahead' if ahead > 0 else 'back'}")
    if right:
        parts.append(f"{abs(right):.2f} {unit_symbol} {'right' if right > 0 else 'left'}")
    return f"{', '.join(parts)} of design" if parts else "on its design position"


def _text(
    x: float, y: float, words: str, *, anchor: str = "middle", size: int = 15, weight: int = 400
) -> str:
    heavy = f' font-weight="{weight}"' if weight != 400 else ""
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" text-anchor="{anchor}" font-size="{size}"{heavy} '
        f'fill="currentColor">{escape(words)}</text>'
    )


def _polar(degrees: float, radius: float) -> tuple[float, float]:
    """Return the pixel at a direction clockwise from up."""
    turn = math.radians(degrees)
    return _CENTRE_X + radius * math.sin(turn), _CENTRE_Y - radius * math.cos(turn)


def _tangent(direction_deg: float, neighbour: str, word: str, end: str) -> str:
    """Draw the line towards a neighbour with its name, an arrow only ahead; nothing where the line ends."""
    if not neighbour:
        return ""
    x, y = _polar(direction_deg, _REACH_PX)
    stem = (
        f'<path d="M{_CENTRE_X:.0f} {_CENTRE_Y:.0f}L{x:.1f} {y:.1f}" fill="none" stroke="currentColor" '
        'stroke-width="1.5" stroke-dasharray="10 4"/>'
    )
    head = (
        f'<path d="M-7 12L0-4L7 12" transform="translate({x:.1f} {y:.1f}) rotate({direction_deg:.1f})" '
        'fill="none" stroke="currentColor" stroke-width="3"/>'
    )
    up = math.cos(math.radians(direction_deg)) > 0
    return stem + (head if word == "ahead" else "") + _name(x, y - 12 if up else y + 20, word, neighbour, end)


def _name(x: float, y: float, word: str, neighbour: str, end: str) -> str:
    """Write a neighbour's name and the line's end behind it, kept inside the drawing."""
    towards = f" to {end}" if end else ""
    half = len(f"{word} {neighbour}") * 5.0 + len(towards) * 3.7
    inside = min(max(x, half + 4), _WIDTH - half - 4) if 2 * half < _WIDTH - 8 else _CENTRE_X
    tail = f'<tspan font-size="14" font-weight="400">{escape(towards)}</tspan>' if end else ""
    return (
        f'<text x="{inside:.0f}" y="{y:.0f}" text-anchor="middle" font-size="17" font-weight="700" '
        f'fill="currentColor">{escape(f"{word} {neighbour}")}{tail}</text>'
    )


def _angle_note(deflection_deg: float, back_rel_deg: float, ahead_rel_deg: float) -> list[str]:
    if not deflection_deg:
        return []
    side = "right" if deflection_deg > 0 else "left"
    bisected = abs(back_rel_deg + ahead_rel_deg) < 0.01
    return [f"line turns {abs(deflection_deg):.1f}° {side}{', arm on the bisector' if bisected else ''}"]


def _arm(design: Sequence[FramePole], scale: _Scale) -> str:
    if len(design) < 2:
        return ""
    order = sorted(design, key=lambda pole: pole[1])
    (x1, y1), (x2, y2) = scale.at(*order[0][1:]), scale.at(*order[-1][1:])
    return f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="currentColor" stroke-width="4"/>'


def _design_pole(pole: FramePole, scale: _Scale) -> str:
    letter, right, ahead = pole
    x, y = scale.at(right, ahead)
    circle = (
        f'<circle class="sk-design" cx="{x:.1f}" cy="{y:.1f}" r="11" fill="none" stroke="currentColor" '
        'stroke-width="2"/>'
    )
    # the middle pole's letter stands between the arm and the line ahead, where set poles seldom are
    aside, drop = (-22.0, -14.0) if abs(right) < 1e-9 else (math.copysign(30.0, right), 7.0)
    return circle + _text(x + aside, y + drop, letter, size=22, weight=800)


def _set_pole(pole: _SetPole, scale: _Scale) -> str:
    x, y = scale.at(*pole.design)
    set_x = x + pole.residual[0] * scale.px * scale.times
    set_y = y - pole.residual[1] * scale.px * scale.times
    side = 15.0 if pole.design[0] <= 0 else -15.0
    return (
        f'<g class="sk-residual" color="currentColor"><path d="M{x:.1f} {y:.1f}L{set_x:.1f} {set_y:.1f}" '
        'stroke="currentColor" stroke-width="2.5"/>'
        f'<circle class="sk-set" cx="{set_x:.1f}" cy="{set_y:.1f}" r="6" fill="currentColor"/>'
        f"{_text(set_x + side, set_y + 5, pole.letter.lower(), size=15, weight=700)}</g>"
    )
