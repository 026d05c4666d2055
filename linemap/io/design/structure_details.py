"""What a structure list says beside numbers and places: spacing, poles, arm rule, azimuth, line angles."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from linemap.domain.design.line import PoleASide
from linemap.domain.design.structure import (
    RULES_ASKED,
    FloatArray,
    parse_pole_count,
    parse_rule,
)
from linemap.geometry.bearing import azimuth_deg, deflection_deg, parse_azimuth
from linemap.geometry.frame import ArmRule
from linemap.io.cells.angles import compare_deflection
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.numbers import parse_yes
from linemap.io.cells.position import drop_zero_heights
from linemap.io.design.pole_sizes import parse_sizes
from linemap.units import LengthUnit

#: Centres rounded to a foot turn a span of 1,000 ft by 0.06 degrees.
_WITHIN_DEG = 0.1


def turns_between(easting: FloatArray, northing: FloatArray) -> FloatArray:
    """Return the turn at each point between its neighbours, right positive; nan at both ends.

    >>> turns_between(np.array([0.0, 0.0, 5.0]), np.array([0.0, 5.0, 5.0])).tolist()
    [nan, 90.0, nan]
    """
    turns = np.full(len(easting), np.nan)
    if len(easting) > 2:
        azimuth = azimuth_deg(np.diff(easting), np.diff(northing))
        turns[1:-1] = deflection_deg(azimuth[:-1], azimuth[1:])
    return turns


def compare_angles(ledger: Ledger, lines: Sequence[str], easting: FloatArray, northing: FloatArray) -> None:
    """Note every line angle that disagrees with the centres or can be read two ways; none is used.

    Rows stand in line order; an angle that fits the row before or after it is said to stand a row off.
    """
    if ledger.sheet.column("deflection") is None:
        return
    texts = dict(ledger.written("deflection"))
    if not texts:
        return
    by_line: dict[str, list[int]] = {}
    for index in ledger.kept():
        by_line.setdefault(lines[index], []).append(index)
    for rows in by_line.values():
        turns = turns_between(easting[rows], northing[rows]).tolist()
        for place, index in enumerate(rows):
            text = texts.get(index, "")
            words = compare_deflection(text, turns[place], within_deg=_WITHIN_DEG) if text else ""
            if words:
                ledger.note(index, "deflection", _a_row_off(words, texts[index], turns, place))


def _a_row_off(words: str, text: str, turns: Sequence[float], place: int) -> str:
    for other, where in ((place - 1, "before"), (place + 1, "after")):
        inside = 0 < other < len(turns) - 1
        if inside and abs(turns[other]) > _WITHIN_DEG and abs(turns[place]) <= _WITHIN_DEG:
            said = compare_deflection(text, turns[other], within_deg=_WITHIN_DEG)
            if not said or "the coordinates say the" in said:
                return f"{words}; it fits the structure in the row {where}"
    return words


#: Spacings of wood H-frames lie well within these, metres (common practice, no source).
_USUAL_SPACING_M = (1.0, 12.0)


def read_details(ledger: Ledger, *, unit: LengthUnit, pole_a: PoleASide) -> Mapping[str, Any]:
    """Read the optional columns of `Structures`; those not given are left out.

    What cannot be understood is noted, or refused where it would mislead.
    """
    azimuth = _azimuths(ledger, pole_a)
    rule = _rules(ledger, azimuth)
    azimuth[np.array(rule, dtype=np.int64) != ArmRule.AZIMUTH] = np.nan
    heights = ledger.known_lengths("elevation", unit)
    drop_zero_heights(ledger, heights, unit)
    details: dict[str, Any] = {
        "elevation": heights,
        "spacing": _spacings(ledger, unit),
        "pole_count": _pole_counts(ledger),
        "rule": rule,
        "explicit_azimuth": azimuth,
    }
    if "section_break" in ledger.sheet.matches:
        details["section_break"] = _breaks(ledger)
    return details


def unusual_spacing(spacing: float, unit: LengthUnit) -> str:
    """Say that no wood H-frame has such a spacing between its poles; "" for a usual one."""
    usual = _USUAL_SPACING_M[0] <= spacing * unit.metres <= _USUAL_SPACING_M[1]
    return "" if usual else f"a pole spacing of {spacing:.2f} {unit.symbol} is unusual"


def _spacings(ledger: Ledger, unit: LengthUnit) -> FloatArray:
    values = ledger.known_lengths("spacing", unit)
    with np.errstate(invalid="ignore"):
        wrong, given = values <= 0.0, values > 0.0
    for index in np.flatnonzero(wrong).tolist():
        ledger.refuse(index, "spacing", "a pole spacing is above 0", "correct the cell, or leave it blank")
    unusual = {each: words for each in np.unique(values[given]) if (words := unusual_spacing(each, unit))}
    odd = np.flatnonzero(np.isin(values, list(unusual)))
    if len(odd):
        reason = f"{unusual[values[odd[0]]]}, in {len(odd):,} rows"
        ledger.note(int(odd[0]), "spacing", reason, "write the unit in the heading if it is another")
    return values


def _pole_counts(ledger: Ledger) -> list[int]:
    counts = [2] * len(ledger.sheet)
    odd: list[int] = []
    sized: list[int] = []
    for index, text in ledger.written("pole_count"):
        try:
            count = parse_pole_count(text)
        except ValueError:
            (sized if _is_size(text) else odd).append(index)
            continue
        if count in {2, 3}:
            counts[index] = count
        else:
            ledger.refuse(
                index, "pole_count", "an H-frame has 2 or 3 poles", "correct it, or take the row out"
            )
    if odd:
        ledger.note(odd[0], "pole_count", f"no number of poles; 2 are taken, in {len(odd):,} rows")
    if sized:
        reason = f"sizes, not numbers of poles; 2 are taken unless (3) is written, in {len(sized):,} rows"
        ledger.note(sized[0], "pole_count", reason)
    return counts


def _is_size(text: str) -> bool:
    try:
        parse_sizes(text)
    except ValueError:
        return False
    return True


def _rules(ledger: Ledger, azimuth: FloatArray) -> list[int]:
    rules = [int(ArmRule.AZIMUTH if given else ArmRule.BISECTOR) for given in np.isfinite(azimuth).tolist()]
    for index, text in ledger.written("rule"):
        try:
            rule = parse_rule(text)
        except ValueError as error:
            ledger.refuse(index, "rule", str(error), RULES_ASKED)
            continue
        if rule is ArmRule.AZIMUTH and np.isnan(azimuth[index]):
            ledger.refuse(index, "rule", "the rule is an azimuth and none is given", "fill in the azimuth")
        rules[index] = int(rule)
    return rules


def _azimuths(ledger: Ledger, pole_a: PoleASide) -> FloatArray:
    """Azimuth of the structure's ahead direction; an arm azimuth (A to B) is turned by a right angle."""
    name = "azimuth" if "azimuth" in ledger.sheet.matches else "arm_azimuth"
    turn = 0.0 if name == "azimuth" else -90.0 if pole_a == "left" else 90.0
    azimuth = np.full(len(ledger.sheet), np.nan)
    for index, text in ledger.written(name):
        try:
            azimuth[index] = parse_azimuth(text)
        except ValueError as error:
            ledger.refuse(index, name, str(error))
    return np.mod(azimuth + turn, 360.0)


def _breaks(ledger: Ledger) -> list[bool]:
    breaks = [False] * len(ledger.sheet)
    for index, text in ledger.written("section_break"):
        yes = parse_yes(text)
        if yes is None:
            ledger.refuse(index, "section_break", "neither yes nor no", "write yes or no, or leave it blank")
        breaks[index] = bool(yes)
    return breaks
