"""Wordings of what shots and frames say against the design."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from linemap.domain.finding.code import Code, Say, Severity, Values
from linemap.domain.finding.phrase import (
    AHEAD_BACK,
    RIGHT_LEFT,
    bow_words,
    centre_words,
    deciding_words,
    length_text,
    limit_text,
    listed_poles,
    pole_names,
    poles_not_shot,
    spacing_words,
    turn_words,
)

#: Code of what lies outside a tolerance -> what the tolerance limits.
_RESIDUALS: Mapping[str, str] = MappingProxyType(
    {
        "arm turned": "arm rotation",
        "centre along": "frame centre along the line",
        "centre across": "frame centre across the line",
        "spacing": "pole spacing",
        "collinearity": "pole {B} off the line {A}-{C}",
    }
)


def _judged(residual: Say) -> Say:
    """Say a residual, then its tolerance, or that the survey cannot tell whether it is inside."""

    def say(v: Values) -> str:
        limit = limit_text(v["limit"], v["limit_unit"])
        judged = f"tolerance {limit}" if v["outside"] else f"within {limit} or not, this survey cannot tell"
        return f"{residual(v)}; {judged}"

    return say


def _turned(v: Values) -> str:
    over = length_text(v["distance"] * math.sin(math.radians(v["value"])), v["unit"])
    return f"{turn_words(v['value'], v['sigma'])}, {over} over {length_text(v['distance'], v['unit'])}"


def _centre(sides: tuple[str, str]) -> Say:
    return lambda v: centre_words(v["value"], v["sigma"], v["unit"], sides=sides)


def _unproven(v: Values) -> str:
    """Say how good a shot must be, rounded down, or that no better shot helps."""
    unit = v["unit"]
    if v["needed"] == 0.0:
        why = f"the error common to all shots, sigma {length_text(v['shared'], unit)}, is too large alone"
    else:
        decimals = 4 if unit == "m" else 3
        needed = math.floor(v["needed"] * 10**decimals) / 10**decimals
        why = f"needs sigma <= {needed:.{decimals}f} {unit} a shot, has {v['shot']:.{decimals}f} {unit}"
    limit = limit_text(v["limit"], v["limit_unit"])
    return f"this survey cannot prove {limit} {_RESIDUALS[v['residual']].format_map(v['called'])} ({why})"


def _pole(v: Values) -> str:
    return pole_names(v["pole"], v["called"])


def _not_shot(v: Values) -> str:
    return poles_not_shot(v["poles"], v["called"])


def _outer(v: Values) -> str:
    return listed_poles(("A", v["last"]), v["called"], between=" and ")


def _reversed(v: Values) -> str:
    return (
        f"{_outer(v)} the other way round: labels or frame; second evidence needed "
        f"(with that taken out, {turn_words(v['value'], v['sigma'])})"
    )


def _far(v: Values) -> str:
    return f"{v['points']} as read {v['distance_m'] / 1000:,.0f} km from the structure"


def _exchanged(v: Values) -> str:
    return (
        f"{_far(v)}; with northing and easting exchanged {v['exchanged']:.1f} {v['unit']}: verdict withheld, "
        "exchange the columns of the file if that is right"
    )


def _elsewhere(v: Values) -> str:
    apart = f"{v['distance']:.0f} {v['unit']}"
    words = f"shots labelled {v['labelled']} lie at {v['lies_at']}, {apart} {v['way']}"
    if v["split"]:
        words += f": {v['shots']} shots in two groups {apart} apart"
    if not v["labelled_there"]:
        words += f"; none is labelled {v['lies_at']}"
    return f"{words}; verdict withheld"


def _disagree(v: Values) -> str:
    apart = f"{v['apart']:.2f} {v['unit']}"
    shots = f"{_pole(v)} shot {v['shots']} times, {apart} apart ({v['points']})"
    return f"{shots}: none used, verdict withheld"


def _heights(v: Values) -> str:
    shots = f"{_pole(v)} shot {v['shots']} times, heights {v['apart']:.2f} {v['unit']} apart ({v['points']})"
    return (
        f"{shots}: no height taken" if v["used"] else f"{shots}: not one place; none used, verdict withheld"
    )


def _away(v: Values) -> str:
    apart = f"{v['distance']:.1f} {v['unit']}"
    return f"{v['item']}, {v['points']}, lies {apart} {v['whence']}: not judged; the label or the shot"


def _ground(v: Values) -> str:
    return (
        f"ground shot at {v['value']:.1f} {v['unit']}, {v['points']}; the list has {v['wanted']:.1f} "
        f"({v['difference']:+.1f})"
    )


def _shot(reason: Say) -> Say:
    """Say what a shot that finds no structure names, and why it is not used."""

    def say(v: Values) -> str:
        label = f'"{v["description"]}", ' if v["description"] else ""
        number = f"structure {v['number']}" if v["number"] else "a structure without a number"
        return f"{label}{v['points']}: {number} {reason(v)}: shot not used"

    return say


def _in_doubt(v: Values) -> str:
    """Say which explanation of a session does not let the frame pass, or makes it fail, and what decides."""
    decides = deciding_words(v["check_ins"], odd=v["odd"])
    if v["settled"]:
        decides = "another correction is asked" if v["accepted"] else "the correction waits for a decision"
    if not v["explanation"]:
        return f"what the shots of {v['file']} share is not determined by its check-ins; {decides}"
    named = f"{v['explanation']}, {100.0 * v['share']:.0f} %"
    centre = " and ".join(
        f"{length_text(v[name], v['unit'])} {sides[0] if v[name] > 0 else sides[1]}"
        for name, sides in (("along", AHEAD_BACK), ("across", RIGHT_LEFT))
    )
    if v["refused"]:
        return f"outside its tolerances however the shots of {v['file']} are off ({named}: centre {centre})"
    lead = "the correction accepted proves nothing" if v["accepted"] else "passes only as observed"
    return f"{lead}: in {v['file']} it may be ({named}) that the centre is {centre}; {decides}"


def _two_ways(v: Values) -> str:
    readings = " or ".join(v["readings"])
    return f'"{v["description"]}", {v["points"]}: may be {readings}; shot not used'


def _not_read(v: Values) -> str:
    """Say which descriptions of a file are not read, or that a shot names a structure and nothing else."""
    if v["number"]:
        return (
            f'"{v["description"]}", {v["points"]}: names structure {v["number"]} but no pole; shot not used'
        )
    more = f" and {v['more']:,} more" if v["more"] else ""
    shots = f"{v['shots']:,} shot{'s' * (v['shots'] != 1)} of {v['file']}"
    return f"{shots} not read and not used: {', '.join(v['descriptions'])}{more}"


def _no_such_pole(v: Values) -> str:
    named = _pole(v) if v["pole"] else "no pole letter"
    return f"{v['points']} names {named}, the design has {pole_names(v['poles'], v['called'])}: shot not used"


#: Codes whose findings quote the descriptions of shots, which are the crew's words.
QUOTING = frozenset({"description reads two ways", "description not read"})
N, U, W, S = Severity
_BETTER = "a better survey"
_FILE = "the file read right, or the shots taken anew"
CODES: Mapping[str, Code] = MappingProxyType(
    {
        "not declared": Code(
            U,
            "surveyor",
            "a declaration",
            lambda v: f"verdicts not available: {' and '.join(v['missing'])} not declared",
        ),
        "pole not shot": Code(U, "surveyor", "a shot of the pole", _not_shot),
        "reversed": Code(W, "surveyor", "second evidence", _reversed),
        "sides not known": Code(
            U,
            "surveyor",
            _BETTER,
            lambda v: f"this survey cannot tell which side {_outer(v)} stand on",
        ),
        "arm turned": Code(W, "surveyor", "the next survey", _judged(_turned)),
        "centre along": Code(W, "surveyor", "the next survey", _judged(_centre(AHEAD_BACK))),
        "centre across": Code(W, "surveyor", "the next survey", _judged(_centre(RIGHT_LEFT))),
        "spacing": Code(
            W,
            "surveyor",
            "the next survey",
            _judged(lambda v: spacing_words(v["measured"], v["value"], v["sigma"], v["unit"])),
        ),
        "collinearity": Code(
            W,
            "surveyor",
            "the next survey",
            _judged(lambda v: bow_words(v["value"], v["sigma"], v["unit"], v["called"])),
        ),
        "survey cannot prove": Code(U, "surveyor", _BETTER, _unproven),
        "session in doubt": Code(U, "surveyor", "a shot on a known point", _in_doubt),
        "northing and easting exchanged": Code(U, "surveyor", _FILE, _exchanged),
        "shots nowhere near": Code(
            U, "surveyor", _FILE, lambda v: f"{_far(v)}: not used, verdict withheld; check zone and unit"
        ),
        "shots at another structure": Code(U, "surveyor", "a decision on the labels", _elsewhere),
        "shots disagree": Code(U, "surveyor", "the shots taken anew", _disagree),
        "pole heights disagree": Code(U, "surveyor", "the shots taken anew, or one set aside", _heights),
        "shot away from its place": Code(U, "surveyor", "a decision on what was shot", _away),
        "ground not as listed": Code(
            U, "surveyor", "a shot of the ground, or the height of the list", _ground
        ),
        "unknown structure": Code(
            U, "surveyor", "the list or the label", _shot(lambda _: "is not in the structure list")
        ),
        "line not named": Code(
            U,
            "surveyor",
            "the name of the line",
            _shot(lambda v: f"is on {len(v['lines'])} lines ({', '.join(v['lines'])})"),
        ),
        "description reads two ways": Code(U, "surveyor", "a decision on what was shot", _two_ways),
        "description not read": Code(U, "surveyor", "a decision on what was shot", _not_read),
        "pole not in design": Code(U, "surveyor", "the list or the label", _no_such_pole),
    }
)
