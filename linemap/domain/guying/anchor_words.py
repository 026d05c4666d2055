"""An anchor against its guy, in the words a person at the anchor needs."""

from __future__ import annotations

import math

from linemap.domain.design.phrase import AHEAD_BACK, RIGHT_LEFT, length_text

__all__ = ["direction_words", "lead_words", "side_words"]


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

    Parameters
    ----------
    error_deg, sigma_deg : float
        Clockwise of the required direction, and its standard uncertainty; nan = not known.
    side : str
        Where the anchor lies, as `side_words` says.
    reason : str
        Why it belongs where it does.
    origin : str
        What the direction is seen from: "pole A", "the centre".

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
    where = "in the direction wanted" if float(size[:-1]) == 0.0 else f"{size} {way} of where it belongs"
    return f"anchor {where}, seen from {origin} (sigma {sigma_deg:.2f}°)"


def lead_words(lead: float, wanted: float, sigma: float, *, fall: float, origin: str, unit: str) -> str:
    """Say how the lead compares with the one wanted on the ground as it lies.

    Parameters
    ----------
    lead, wanted, sigma : float
        Ground lengths; wanted nan = the schedule does not say, infinite = no lead gives the ratio there.
    fall : float
        Of the ground going out, length per length; 0 = level or not known.
    origin : str
        What the lead is measured from.
    unit : str
        "ft" or "m".

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
    if float(off.split()[0]) == 0.0:
        compared = "as wanted"
    return f"{seen}, {compared} (sigma {length_text(sigma, unit)}{slope})"
