"""The orientation check: is each frame set as designed, is it not, or can this survey not tell.

Every residual is judged with its uncertainty (JCGM 106:2012): inside its tolerance with the confidence
asked for, outside with that confidence, or neither. A frame whose A and B stand the other way round is its
own finding; half a turn is never folded into the rotation, and coordinates alone never tell whether the
labels or the frame are the wrong way round. What a person at the structure needs to hear of it is said here
too: residuals in sentences, and which pole is A by landmarks.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import chain

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Line
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Block, Finding
from linemap.domain.finding.phrase import (
    AHEAD_BACK,
    BY_LETTER,
    RIGHT_LEFT,
    Called,
    bow_words,
    centre_words,
    length_text,
    poles_not_shot,
    spacing_words,
    turn_words,
)
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.verdict import Checks, Outcome, Verdict, held_by
from linemap.geometry.batches import Columns, even_batches, in_batches


def check(figures: Figures, set_poles: SetPoles, tolerances: Tolerances) -> Checks:
    """Judge every surveyed frame against its design.

    Residuals are taken in each structure's own frame (bisector at angles), tolerances are in the lines'
    ground unit. Where the centreline turns and at section breaks the one along the line is that for angles.

    Returns
    -------
    Checks
        Pass: every residual is inside its tolerance with the confidence asked for. Fail: one is outside
        with that confidence. Else cannot tell; so are a missing pole, withheld shots, and a reversed frame
        that does not fail. Spacing is not judged where the design gives none. `Finding.code`: "pole not
        shot", "reversed", "sides not known", "arm turned", "centre along", "centre across", "spacing",
        "collinearity", "survey cannot prove". Findings on the shots stay in `SetPoles.findings`.

    Raises
    ------
    ValueError
        If the tolerances are in another unit than the lines.
    """
    _refuse_other_unit(figures, tolerances)
    found = Columns(size=len(figures))

    def judge(part: slice) -> list[Block]:
        outcome = Outcome.of(figures, set_poles, tolerances, part)
        found.put(part, outcome.columns())
        return outcome.findings()

    found_in = in_batches(judge, even_batches(len(figures)))
    return Checks(withheld=set_poles.conflict, findings=tuple(chain.from_iterable(found_in)), **found.whole)


def withhold(checks: Checks, figures: Figures, *, missing: tuple[str, ...]) -> Checks:
    """Return the checks without any verdict, because something about the coordinates is not declared.

    Residuals stay visible; surveyed structures become "cannot tell", and each of them and each line gets a
    finding that says what is missing. With nothing missing the checks come back as they are.

    `missing` names what is not declared, in words.
    """
    surveyed = checks.verdict != Verdict.NOT_SURVEYED
    if not missing or not surveyed.any():
        return checks
    verdict = checks.verdict.copy()
    verdict[surveyed] = Verdict.CANNOT_TELL
    values = {"missing": missing}
    of_lines = (
        Finding(line=line.name, structure="", code="not declared", values=values) for line in figures.lines
    )
    of_structures = Block(code="not declared", rows=np.flatnonzero(surveyed), values=values)
    return replace(
        checks,
        verdict=verdict,
        held=held_by(verdict, checks.held),
        probability_in_tolerance=np.full(len(verdict), np.nan),
        withheld=checks.withheld | surveyed,
        findings=(*of_lines, of_structures, *checks.findings),
    )


def _refuse_other_unit(figures: Figures, tolerances: Tolerances) -> None:
    for line in figures.lines:
        if line.unit.symbol != tolerances.unit:
            raise ValueError(
                f"tolerances are in {tolerances.unit}, line {line.name!r} is in {line.unit.symbol}; "
                "give tolerances in the line's unit"
            )


def residual_words(figures: Figures, checks: Checks, i: int) -> tuple[str, ...]:
    """Say in sentences how the frame of row `i` stands against its design, with sigmas.

    Returns
    -------
    tuple of str
        Reversal (if any), rotation with the pole it moves most along the line, centre along and across,
        spacing (where designed), middle pole (three poles). One sentence instead when there is no residual:
        "not surveyed", "pole B not shot", or that the shots contradict each other.
    """
    if math.isnan(checks.along[i]):
        return (_why_nothing(figures, checks, i),)
    texts = residual_texts(checks, i, figures.line_of(i).unit.symbol, figures.called(i))
    if "rotation" in texts:
        texts["rotation"] += _worse_pole(figures, checks, i)
    return (*([_reversed_sentence(figures, i)] if checks.reversed[i] else []), *texts.values())


def residual_texts(checks: Checks, i: int, unit: str, called: Called = BY_LETTER) -> dict[str, str]:
    """Say by name each residual that row `i` has: rotation, along, across, spacing, bow."""
    said = {
        "rotation": turn_words(float(checks.rotation_deg[i]), float(checks.rotation_sigma_deg[i])),
        "along": centre_words(checks.along[i], checks.along_sigma[i], unit, sides=AHEAD_BACK),
        "across": centre_words(checks.across[i], checks.across_sigma[i], unit, sides=RIGHT_LEFT),
        "spacing": spacing_words(
            checks.measured_spacing[i], checks.spacing_error[i], checks.spacing_sigma[i], unit
        ),
        "bow": bow_words(checks.collinearity[i], checks.collinearity_sigma[i], unit, called),
    }
    values = {
        "rotation": checks.rotation_deg,
        "spacing": checks.spacing_error,
        "bow": checks.collinearity,
    }
    return {name: text for name, text in said.items() if not math.isnan(values.get(name, checks.along)[i])}


def landmark_words(
    line: Line, back: str, here: str, ahead: str, *, pole_count: int = 2, called: Called = BY_LETTER
) -> str:
    """Say which pole is A by the structures a person can see.

    Numbers of structures are "" where the line ends: the end's name is used then, if it has one. Of three
    poles B is the one in the middle.
    """
    stand = f"at pole {called['B']}, the middle one" if pole_count == 3 else "between the poles"
    parts = [f"at {here}: stand {stand}"]
    if back or line.back_end:
        parts.append(f"back to {back or line.back_end}")
    if ahead or line.ahead_end:
        parts.append(f"face {ahead or line.ahead_end}")
    if len(parts) == 1:
        parts.append("face ahead along the line")
    return f"{', '.join(parts)}: pole {called['A']} is on your {line.pole_a}"


def _why_nothing(figures: Figures, checks: Checks, i: int) -> str:
    if checks.withheld[i]:
        return "the shots contradict each other or their place: verdict withheld"
    if checks.missing[i]:
        return poles_not_shot(checks.missing[i], figures.called(i))
    return "not surveyed"


def _reversed_sentence(figures: Figures, i: int) -> str:
    return (
        f"{figures.outer_poles(i)} are the other way round: the labels or the frame; "
        "second evidence is needed (pole lengths, ground wire, a photo with a known direction)"
    )


def _worse_pole(figures: Figures, checks: Checks, i: int) -> str:
    """Say how far along the line rotation and centre put the outer pole that is worse.

    A clockwise turn moves the right end of the arm back and the left end ahead by s·sin(rotation)/2 each.
    """
    half = float(checks.outer_distance[i]) * math.sin(math.radians(float(checks.rotation_deg[i]))) / 2.0
    ends = {"left": float(checks.along[i]) + half, "right": float(checks.along[i]) - half}
    a_side, last_side = ("left", "right") if figures.a_left[i] else ("right", "left")
    worse = a_side if abs(ends[a_side]) > abs(ends[last_side]) else last_side
    word = figures.called(i)["A" if worse == a_side else figures.letters_of(i)[-1]]
    pole = f"the pole in the place of {word}" if checks.reversed[i] else f"pole {word}"
    way = "ahead of" if ends[worse] > 0 else "back of"
    off = length_text(ends[worse], figures.line_of(i).unit.symbol)
    return f"; {pole} is {off} {way} where it should be"
