"""What a person at the structure needs to hear: residuals in sentences, and which pole is A by landmarks."""

from __future__ import annotations

import math

from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Line
from linemap.domain.finding.phrase import (
    AHEAD_BACK,
    RIGHT_LEFT,
    bow_words,
    centre_words,
    length_text,
    poles_not_shot,
    spacing_words,
    turn_words,
)
from linemap.domain.survey.verdict import Checks


def residual_words(figures: Figures, checks: Checks, i: int) -> tuple[str, ...]:
    """Say in sentences how the frame of row `i` stands against its design, with sigmas.

    Parameters
    ----------
    figures : Figures
        Computed lines.
    checks : Checks
        The check of the same rows.
    i : int
        Row of the structure.

    Returns
    -------
    tuple of str
        Reversal (if any), rotation with the pole it moves most along the line, centre along and across,
        spacing (where designed), middle pole (three poles). One sentence instead when there is no residual:
        "not surveyed", "pole B not shot", or that the shots contradict each other.
    """
    if math.isnan(checks.along[i]):
        return (_why_nothing(checks, i),)
    unit = figures.line_of(i).unit.symbol
    sentences = [_reversed_sentence(figures, i)] if checks.reversed[i] else []
    if not math.isnan(checks.rotation_deg[i]):
        sentences.append(_turn_sentence(figures, checks, i, unit))
    sentences += [
        centre_words(checks.along[i], checks.along_sigma[i], unit, sides=AHEAD_BACK),
        centre_words(checks.across[i], checks.across_sigma[i], unit, sides=RIGHT_LEFT),
    ]
    if not math.isnan(checks.spacing_error[i]):
        measured, error = checks.measured_spacing[i], checks.spacing_error[i]
        sentences.append(spacing_words(measured, error, checks.spacing_sigma[i], unit))
    if not math.isnan(checks.collinearity[i]):
        sentences.append(bow_words(checks.collinearity[i], checks.collinearity_sigma[i], unit))
    return tuple(sentences)


def landmark_words(line: Line, back: str, here: str, ahead: str, *, pole_count: int = 2) -> str:
    """Say which pole is A by the structures a person can see.

    Parameters
    ----------
    line : Line
        For the side of pole A and the names of the ends.
    back, here, ahead : str
        Structure numbers; "" where the line ends, the end's name is used then, if it has one.
    pole_count : int
        2, or 3: then pole B is the one in the middle.
    """
    parts = [f"at {here}: stand {'at pole B, the middle one' if pole_count == 3 else 'between the poles'}"]
    if back or line.back_end:
        parts.append(f"back to {back or line.back_end}")
    if ahead or line.ahead_end:
        parts.append(f"face {ahead or line.ahead_end}")
    if len(parts) == 1:
        parts.append("face ahead along the line")
    return f"{', '.join(parts)}: pole A is on your {line.pole_a}"


def _why_nothing(checks: Checks, i: int) -> str:
    if checks.withheld[i]:
        return "the shots contradict each other or their place: verdict withheld"
    if checks.missing[i]:
        return poles_not_shot(checks.missing[i])
    return "not surveyed"


def _last(figures: Figures, i: int) -> str:
    return "C" if figures.structures.pole_count[i] == 3 else "B"


def _reversed_sentence(figures: Figures, i: int) -> str:
    return (
        f"A and {_last(figures, i)} are the other way round: the labels or the frame; "
        "second evidence is needed (pole lengths, ground wire, a photo with a known direction)"
    )


def _turn_sentence(figures: Figures, checks: Checks, i: int, unit: str) -> str:
    """Say the rotation, and how far along the line it and the centre put the outer pole that is worse.

    A clockwise turn moves the right end of the arm back and the left end ahead by s·sin(rotation)/2 each.
    """
    half = float(checks.outer_distance[i]) * math.sin(math.radians(float(checks.rotation_deg[i]))) / 2.0
    ends = {"left": float(checks.along[i]) + half, "right": float(checks.along[i]) - half}
    a_side, last_side = ("left", "right") if figures.a_left[i] else ("right", "left")
    worse = a_side if abs(ends[a_side]) > abs(ends[last_side]) else last_side
    letter = "A" if worse == a_side else _last(figures, i)
    pole = f"the pole in the place of {letter}" if checks.reversed[i] else f"pole {letter}"
    way = "ahead of" if ends[worse] > 0 else "back of"
    turn = turn_words(float(checks.rotation_deg[i]), float(checks.rotation_sigma_deg[i]))
    return f"{turn}; {pole} is {length_text(ends[worse], unit)} {way} where it should be"
