"""One residual of a frame in words: how far, which way, and how sure. Sigma is one standard deviation."""

from __future__ import annotations

from typing import Final

__all__ = [
    "AHEAD_BACK",
    "RIGHT_LEFT",
    "bow_words",
    "centre_words",
    "length_text",
    "poles_not_shot",
    "spacing_words",
    "turn_words",
]

#: Words for positive and negative residuals along and across the structure.
AHEAD_BACK: Final = ("ahead", "back")
RIGHT_LEFT: Final = ("right", "left")


def length_text(value: float, unit: str) -> str:
    """Print the size of a length: two decimals in feet, three in metres.

    >>> length_text(-9.958, "ft"), length_text(0.0304, "m")
    ('9.96 ft', '0.030 m')
    """
    return f"{abs(value):.{3 if unit == 'm' else 2}f} {unit}"


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


def spacing_words(measured: float, error: float, sigma: float, unit: str) -> str:
    """Say which pole spacing was measured, and which was wanted (measured - error).

    >>> spacing_words(11.94, -0.56, 0.042, "ft")
    'spacing 11.94 ft, design 12.50 ft (sigma 0.04 ft)'
    """
    return (
        f"spacing {length_text(measured, unit)}, design {length_text(measured - error, unit)} "
        f"(sigma {length_text(sigma, unit)})"
    )


def bow_words(value: float, sigma: float, unit: str) -> str:
    """Say how far the middle pole stands off the line of the outer two, ahead positive.

    >>> bow_words(-0.31, 0.037, "ft")
    'pole B 0.31 ft back of the line A-C (sigma 0.04 ft)'
    """
    side = AHEAD_BACK[0] if value > 0 else AHEAD_BACK[1]
    return f"pole B {length_text(value, unit)} {side} of the line A-C (sigma {length_text(sigma, unit)})"


def poles_not_shot(letters: str) -> str:
    """Name the poles that have no shot.

    >>> poles_not_shot("B"), poles_not_shot("AC")
    ('pole B not shot', 'poles A, C not shot')
    """
    return f"pole{'s' if len(letters) > 1 else ''} {', '.join(letters)} not shot"
