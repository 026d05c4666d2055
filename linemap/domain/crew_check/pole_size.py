"""How thick a pole is where a tape touches it: by its girth, or by the least girth of its class.

The tape touches the near face of a pole, and the frame is judged by the poles' centres: the radius stands
between the two. A girth taped where the tape goes round is good to a twentieth of an inch; a class table
gives the LEAST girth of a class, so a pole is thicker than that by anything up to the next class.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType

_FOOT_M = 0.3048
#: Diameter at breast height, inches, by length in feet, classes 1 to 7: 1 / (0.88 pi) of the least girth 6 ft
#: from the butt. Pole Specifications (Southern Pine), Southern Regional Extension Forestry handbook, after
#: Hawes (1947); None = that class is not made so long.
_BREAST_IN: Mapping[int, tuple[float | None, ...]] = MappingProxyType({
    20: (11.2, 10.5, 9.8, 9.0, 8.3, 7.6, 7.0),
    25: (12.1, 11.4, 10.7, 9.9, 9.2, 8.3, 7.8),
    30: (13.2, 12.3, 11.6, 10.7, 9.9, 9.0, 8.5),
    35: (14.1, 13.2, 12.3, 11.4, 10.5, 9.8, 9.0),
    40: (14.8, 13.9, 13.0, 12.1, 11.2, 10.3, 9.6),
    45: (15.6, 14.6, 13.6, 12.7, 11.8, 10.9, 10.1),
    50: (16.3, 15.2, 14.1, 13.2, 12.3, 11.4, 10.5),
    55: (16.8, 15.7, 14.6, 13.7, 12.7, 11.8, None),
    60: (17.4, 16.3, 15.2, 14.1, 13.0, 12.1, None),
    65: (17.9, 16.6, 15.6, 14.6, 13.6, None, None),
    70: (18.4, 17.4, 16.3, 15.0, 13.9, None, None),
    75: (19.0, 17.7, 16.6, 15.6, None, None, None),
    80: (19.5, 18.3, 17.0, 15.9, None, None, None),
    85: (19.9, 18.6, 17.4, None, None, None, None),
    90: (20.3, 19.2, 17.7, None, None, None, None),
    95: (20.6, 19.5, 18.1, None, None, None, None),
})  # fmt: skip
#: Least girth at the top, inches, classes 1 to 7; same source.
_TOP_IN = (27.0, 25.0, 23.0, 21.0, 19.0, 17.0, 15.0)
#: From one class to the next, inches of girth 6 ft from the butt: about what the table's columns differ by.
_CLASS_STEP_IN = 3.0
#: Height above the ground at which a tape is held, ft: the middle of a person.
_HELD_FT = 3.0
_IN_PER_FT = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeErrors:
    """How good a tape, a stake and a radius are, standard uncertainties; all lengths in one unit.

    Common practice, no source, but the class table's, which is ± half an inch of diameter.
    """

    #: One reading, both ends held.
    tape: float = 0.02
    #: A stake against where it was to be set, per axis.
    stake: float = 0.03
    #: What the near face of a pole that is not round adds.
    face: float = 0.011
    #: Radius by the class table, and by a girth taped round the pole.
    table_radius: float = 0.5 / 24.0
    girth_radius: float = 0.05 / 12.0
    #: How far a pole may stand from its design before anything is read: what no reading holds stays open.
    pole: float = 10.0
    #: Two readings of one distance agree up to this; else a third one decides.
    agree: float = 0.10
    #: Smallest part of a move worth saying.
    move: float = 0.06
    #: A heavy tape that hangs slack so far (0.018 lb a foot at 5 lb) reads half of `tape` too long.
    sag_from: float = 26.5
    #: Mistakes of a tape that are tried when readings contradict each other.
    slips: tuple[float, ...] = (1.0, -1.0, 0.5, -0.5)

    @classmethod
    def of(cls, unit: str) -> TapeErrors:
        """Return them in "ft" or "m"; on metric tapes a metre and a decimetre are what is misread."""
        feet = cls()
        if unit == "ft":
            return feet
        slips = (1.0, -1.0, 0.1, -0.1)
        lengths = (each.name for each in fields(cls) if each.name != "slips")
        return cls(**{name: getattr(feet, name) * _FOOT_M for name in lengths}, slips=slips)


def radius_of_girth(girth: float) -> float:
    """Return the radius of a pole by its girth, in the girth's unit.

    >>> round(radius_of_girth(48.0) / 12.0, 3)
    0.637
    """
    return girth / (2.0 * math.pi)


def least_girth_in(length_ft: float, pole_class: str, from_butt_ft: float) -> float | None:
    """Return the least girth of a pole of a size, inches, that far from its butt; None = not in the table.

    Straight from the girth 6 ft from the butt to that at the top, as taper is taken where none is given.

    >>> round(least_girth_in(75.0, "2", 6.0), 1), least_girth_in(75.0, "H2", 6.0)
    (48.9, None)
    """
    breast = _BREAST_IN.get(round(length_ft), ())
    column = int(pole_class) - 1 if pole_class.isdecimal() else -1
    if not 0 <= column < len(breast) or (diameter := breast[column]) is None:
        return None
    six, top = 0.88 * math.pi * diameter, _TOP_IN[column]
    return six - (six - top) / (length_ft - 6.0) * (from_butt_ft - 6.0)


def table_radius(length_ft: float | None, pole_class: str, unit: str) -> float | None:
    """Return the radius to expect at the height a tape is held, "ft" or "m"; None = no table tells it.

    Half a class above the least of its class, set a tenth of its length and 2 ft deep, 3 ft above ground.

    >>> round(table_radius(75.0, "2", "ft"), 3), table_radius(None, "2", "ft")
    (0.639, None)
    """
    if length_ft is None:
        return None
    girth = least_girth_in(length_ft, pole_class.strip().upper(), 0.1 * length_ft + 2.0 + _HELD_FT)
    if girth is None:
        return None
    feet = radius_of_girth(girth + _CLASS_STEP_IN / 2.0) / _IN_PER_FT
    return round(feet * (_FOOT_M if unit == "m" else 1.0), 3)


def level_distance(read: float, *, rise: float = 0.0) -> float:
    """Return the level distance of a tape held from one height to another.

    Raises
    ------
    ValueError
        If the ends differ in height by more than what was read.

    >>> [round(25.0 - level_distance(25.0, rise=rise), 2) for rise in (1.0, 2.0, 4.0)]
    [0.02, 0.08, 0.32]
    """
    if abs(rise) > read:
        raise ValueError(f"a rise of {rise} is more than the {read} that were taped; give the rise anew")
    return math.sqrt(read * read - rise * rise)


def sag_correction(free: float, *, weight: float = 0.010, pull: float = 10.0) -> float:
    """Return by how much a tape that hangs free reads too long: w² L³ / 24 P².

    `weight` in pounds a unit of length, `pull` in pounds: a light tape at 10 lb, or a heavy slack one.

    >>> round(sag_correction(25.0), 3), round(sag_correction(50.0, weight=0.018, pull=5.0), 2)
    (0.001, 0.07)
    """
    return weight**2 * free**3 / (24.0 * pull**2)


def rise_that_matters(distance: float, errors: TapeErrors) -> float:
    """Return the rise between the ends of a tape from which it reads half its own uncertainty too long.

    >>> round(rise_that_matters(25.0, TapeErrors()), 2)
    0.71
    """
    return math.sqrt(errors.tape * distance)
