"""One measure in words: how far, which way, when, and how sure. Sigma is one standard deviation."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from types import MappingProxyType
from typing import Final

#: Words for positive and negative residuals along and across the structure.
AHEAD_BACK: Final = ("ahead", "back")
RIGHT_LEFT: Final = ("right", "left")
#: Letter of a pole -> what the owner calls it at one structure; "" -> "".
Called = Mapping[str, str]
#: Poles go by their letters, where no words are declared.
BY_LETTER: Final[Called] = MappingProxyType({letter: letter for letter in ("", "A", "B", "C")})
#: One inch of lean in 10 ft of height, as a share.
_INCH_IN_10_FT: Final = 1.0 / 120.0


def length_text(value: float, unit: str) -> str:
    """Print the size of a length: two decimals in feet, three in metres.

    >>> length_text(-9.958, "ft"), length_text(0.0304, "m")
    ('9.96 ft', '0.030 m')
    """
    return f"{abs(value):.{_decimals(unit)}f} {unit}"


def _decimals(unit: str) -> int:
    return 3 if unit == "m" else 2


def limit_text(value: float, unit: str) -> str:
    """Print the half width of a tolerance with its unit: "deg", "ft", "m", "in" or "in per 10 ft".

    >>> limit_text(0.2, "ft"), limit_text(1.0, "deg"), limit_text(2.0, "in")
    ('±0.20 ft', '±1.0°', '±2 in')
    """
    if unit == "deg":
        return f"±{value:.1f}°" if round(value, 1) == value else f"±{value:g}°"
    if unit.startswith("in"):
        return f"±{value:g} {unit}"
    return f"±{length_text(value, unit)}"


def turn_words(rotation_deg: float, sigma_deg: float) -> str:
    """Say how an arm is turned, clockwise positive, with as many decimals as its sigma deserves.

    >>> turn_words(4.48, 0.194)
    'arm turned 4.5° clockwise (sigma 0.19°)'
    >>> turn_words(-0.02, 0.194)
    'arm turned 0.0° (sigma 0.19°)'
    """
    size = f"{abs(rotation_deg):.{1 if sigma_deg >= 0.095 else 2}f}"
    way = "" if float(size) == 0.0 else " clockwise" if rotation_deg > 0 else " counter-clockwise"
    return f"arm turned {size}°{way} (sigma {sigma_deg:.2f}°)"


def centre_words(value: float, sigma: float, unit: str, *, sides: tuple[str, str]) -> str:
    """Say where a frame centre stands from its design; `sides` are the words for + and -.

    >>> centre_words(9.96, 0.03, "ft", sides=("right", "left"))
    'frame centre 9.96 ft right of design (sigma 0.03 ft)'
    """
    side = sides[0] if value > 0 else sides[1]
    return f"frame centre {length_text(value, unit)} {side} of design (sigma {length_text(sigma, unit)})"


def deciding_words(check_ins: int, *, odd: bool) -> str:
    """Say what would decide between the explanations of a survey session.

    `odd` tells that a check-in disagrees with the frames or with the other check-ins.

    >>> deciding_words(0, odd=False)
    'no check-in: a shot on a known point decides'
    """
    if not check_ins:
        return "no check-in: a shot on a known point decides"
    if odd:
        return "one check-in is odd: shoot another"
    return "a check-in more, at the other end of the shots, decides"


def spacing_words(measured: float, error: float, sigma: float, unit: str) -> str:
    """Say which pole spacing was measured, and which was wanted (measured - error).

    >>> spacing_words(11.94, -0.56, 0.042, "ft")
    'spacing 11.94 ft, design 12.50 ft (sigma 0.04 ft)'
    """
    return (
        f"spacing {length_text(measured, unit)}, design {length_text(measured - error, unit)} "
        f"(sigma {length_text(sigma, unit)})"
    )


def bow_words(value: float, sigma: float, unit: str, called: Called = BY_LETTER) -> str:
    """Say how far the middle pole stands off the line of the outer two, ahead positive.

    >>> bow_words(-0.31, 0.037, "ft")
    'pole B 0.31 ft back of the line A-C (sigma 0.04 ft)'
    """
    side = AHEAD_BACK[0] if value > 0 else AHEAD_BACK[1]
    off = f"pole {called['B']} {length_text(value, unit)} {side} of the line {called['A']}-{called['C']}"
    return f"{off} (sigma {length_text(sigma, unit)})"


def move_words(letter: str, ahead: float, right: float, unit: str, called: Called = BY_LETTER) -> str:
    """Say how far a pole must go; what is 0 is not said.

    >>> move_words("B", 0.34, 0.0, "ft"), move_words("A", -1.0, 0.2, "ft")
    ('B 0.34 ft ahead', 'A 1.00 ft back and 0.20 ft right')
    """
    ways = ((ahead, AHEAD_BACK), (right, RIGHT_LEFT))
    parts = [f"{length_text(size, unit)} {sides[int(size < 0)]}" for size, sides in ways if size]
    return f"{called[letter]} {' and '.join(parts)}"


def poles_not_shot(letters: str, called: Called = BY_LETTER) -> str:
    """Name the poles that have no shot.

    >>> poles_not_shot("B"), poles_not_shot("AC")
    ('pole B not shot', 'poles A, C not shot')
    """
    return f"{pole_names(letters, called)} not shot"


def pole_names(letters: Sequence[str], called: Called = BY_LETTER) -> str:
    """Name poles: "pole B", "poles A, C"; "poles L, R" by words."""
    return f"pole{'s' if len(letters) > 1 else ''} {listed_poles(letters, called)}"


def listed_poles(letters: Iterable[str], called: Called = BY_LETTER, *, between: str = ", ") -> str:
    """List poles as the owner calls them; what is no letter of a pole stands as it is.

    >>> listed_poles("ABX", {"A": "L", "B": "R"}, between=" and ")
    'L and R and X'
    """
    return between.join(called.get(letter, letter) for letter in letters)


def side_words(kind: str, *, ahead: float, right: float) -> str:
    """Say on which side of its structure an anchor lies, as its guy is spoken of.

    >>> side_words("bisector", ahead=1.0, right=-52.0), side_words("back", ahead=1.0, right=-52.0)
    ('left', 'ahead')
    """
    if kind in {"back", "ahead"}:
        return AHEAD_BACK[0] if ahead > 0.0 else AHEAD_BACK[1]
    return RIGHT_LEFT[0] if right > 0.0 else RIGHT_LEFT[1]


def direction_words(error_deg: float, sigma_deg: float, *, side: str, reason: str, origin: str) -> str:
    """Say how the direction of an anchor compares; the wrong side is told by its side and the reason.

    The error is clockwise of the required direction, nan = not known. `side` is where the anchor lies, as
    `side_words` says, `origin` what the direction is seen from: "pole A", "the centre".

    >>> direction_words(180.0, 0.1, side="left", origin="the centre",
    ...                 reason="the line turns left, so the bisector guy belongs right")
    'anchor lies left; the line turns left, so the bisector guy belongs right (180.0° off)'
    """
    if math.isnan(error_deg):
        return f"direction not judged: {reason}"
    size = f"{abs(error_deg):.1f}°"
    if abs(error_deg) > 90.0:
        return f"anchor lies {side}; {reason} ({size} off)"
    way = "clockwise" if error_deg > 0.0 else "counter-clockwise"
    as_wanted = round(abs(error_deg), 1) == 0.0
    where = "in the direction wanted" if as_wanted else f"{size} {way} of where it belongs"
    return f"anchor {where}, seen from {origin} (sigma {sigma_deg:.2f}°)"


def lead_words(lead: float, wanted: float, sigma: float, *, fall: float, origin: str, unit: str) -> str:
    """Say how the lead compares with the one wanted on the ground as it lies.

    Lengths are ground lengths; `wanted` nan = the schedule does not say, infinite = no lead gives the ratio
    there. `fall` is of the ground going out, length per length; 0 = level or not known.

    >>> lead_words(60.0, 64.44, 0.04, fall=0.1, origin="pole A", unit="ft")
    'lead 60.00 ft from pole A, 4.44 ft shorter than 64.44 ft (sigma 0.04 ft; ground falls 10.0% going out)'
    """
    seen = f"lead {length_text(lead, unit)} from {origin}"
    slope = ""
    if abs(fall) >= 0.0005:
        slope = f"; ground {'falls' if fall > 0.0 else 'rises'} {abs(fall):.1%} going out"
    if math.isnan(wanted):
        return f"{seen}, not judged: the schedule gives no lead, or no height and ratio"
    if math.isinf(wanted):
        return f"{seen}; no lead gives the ratio wanted{slope}"
    off = length_text(lead - wanted, unit)
    compared = f"{off} {'longer' if lead > wanted else 'shorter'} than {length_text(wanted, unit)}"
    if round(abs(lead - wanted), _decimals(unit)) == 0.0:
        compared = "as wanted"
    return f"{seen}, {compared} (sigma {length_text(sigma, unit)}{slope})"


def date_words(day: date) -> str:
    """Write a day with its month in letters, which no country reads the other way round.

    >>> date_words(date(2026, 6, 12))
    '12 June 2026'
    """
    return f"{day.day} {day:%B} {day.year}"


def hours_words(minutes: float) -> str:
    """Print a time in hours and minutes, without its sign.

    >>> hours_words(-135.0)
    '2 h 15 min'
    """
    hours, rest = divmod(round(abs(minutes)), 60)
    return f"{hours} h {rest} min"


def lean_words(along: float, across: float) -> str:
    """Say how a pole leans, in shares of the height, ahead + and right +.

    >>> lean_words(0.4 / 60, -0.3 / 60)
    'leans 1.0 in per 10 ft (0.83 %): 0.8 ahead, 0.6 left'
    """
    parts = [
        f"{abs(value) / _INCH_IN_10_FT:.1f} {sides[0] if value > 0.0 else sides[1]}"
        for value, sides in ((along, AHEAD_BACK), (across, RIGHT_LEFT))
        if round(abs(value) / _INCH_IN_10_FT, 1) > 0.0
    ]
    way = f": {', '.join(parts)}" if parts else ""
    size = math.hypot(along, across)
    return f"leans {size / _INCH_IN_10_FT:.1f} in per 10 ft ({100.0 * size:.2f} %){way}"


def sweep_words(sweep: float) -> str:
    """Say how much of a lean, as a share of the height, may be the bow of the pole; "" = none to speak of.

    >>> sweep_words(0.0)
    ''
    """
    if round(sweep / _INCH_IN_10_FT, 1) == 0.0:
        return ""
    allowed = f"{sweep / _INCH_IN_10_FT:.1f} in per 10 ft"
    return f" (up to {allowed} may be sweep; measure at the ground and at the top)"


def level_words(inches: float, slope_deg: float) -> str:
    """Say how far an arm is out of level, right end up +.

    >>> level_words(3.0, 0.57)
    'right end 3.0 in (0.57°) higher than the left'
    """
    size = f"{abs(inches):.1f}"
    end, other = ("right", "left") if inches > 0.0 else ("left", "right")
    if float(size) == 0.0:
        return "arm level to 0.1 in"
    return f"{end} end {size} in ({abs(slope_deg):.2f}°) higher than the {other}"
