"""Wind as a job shows it: the published note on high wind, and the limits that the employer entered.

Nothing here compares a wind with a limit and says that it may be worked in: what is above a limit is said,
what is not above it stays unsaid.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from linemap.domain.record.reading_type import READINGS
from linemap.errors import InputRefused

#: The note to "high wind" in 29 CFR 1926.968, in short.
HIGH_WIND_NOTE = (
    "Published note (29 CFR 1926.968, high wind): winds above 40 mph (64.4 km/h), or above 30 mph "
    "(48.3 km/h) where the work involves material handling, are normally taken as high wind, unless the "
    "employer takes precautions."
)
#: Said with every wind and every limit.
DECIDES = "No limit is a permission: the person in charge decides."
EMPLOYER = "the employer's limit"
#: Setting -> whose limit it is.
_LIMITS: Mapping[str, str] = MappingProxyType(
    {
        "wind_limit_mph": EMPLOYER,
        "equipment_wind_limit_mph": "the limit of the lifting equipment, as the employer entered it",
    }
)
_WIND = READINGS["wind"]
#: No job has a limit above this, miles an hour.
_MOST_MPH = 200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WindLimit:
    """One limit as the employer entered it."""

    #: Whose it is: "the employer's limit".
    name: str
    mph: float

    def words(self, *, metric: bool) -> str:
        """Say the limit on a line measured in feet, or in metres.

        >>> limit = WindLimit(name="the employer's limit", mph=30.0)
        >>> limit.words(metric=False), limit.words(metric=True)
        ("the employer's limit: 30 mph", "the employer's limit: 48.3 km/h (30 mph)")
        """
        return f"{self.name}: {limit_text(self.mph, metric=metric)}"


#: The winds that the published note names.
PUBLISHED = (
    WindLimit(name="the published note where material is handled", mph=30.0),
    WindLimit(name="the published note", mph=40.0),
)


def limit_text(mph: float, *, metric: bool) -> str:
    """Write a wind in miles an hour, with kilometres an hour before it on a metric line.

    >>> limit_text(40.0, metric=True), limit_text(35.0, metric=False)
    ('64.4 km/h (40 mph)', '35 mph')
    """
    written = f"{round(mph, 1):g} mph"
    unit, _, _ = _WIND.asked_in("m")
    return f"{round(mph / _WIND.in_first(1.0, unit), 1):g} {unit} ({written})" if metric else written


def wind_limits(settings: Mapping[str, Any]) -> tuple[WindLimit, ...]:
    """Return the limits a job's settings have; () = nobody entered one."""
    return tuple(
        WindLimit(name=words, mph=float(settings[name]))
        for name, words in _LIMITS.items()
        if settings.get(name) not in (None, "")
    )


def wind_words(limits: tuple[WindLimit, ...], *, metric: bool) -> tuple[str, ...]:
    """Say the published note, each limit that was entered, and who decides."""
    entered = tuple(
        f"{limit.words(metric=metric)[:1].upper()}{limit.words(metric=metric)[1:]}" for limit in limits
    )
    return (
        HIGH_WIND_NOTE,
        *(entered or ("No wind limit of the employer is entered for this job.",)),
        DECIDES,
    )


def read_wind_limit(text: str, option: str) -> str:
    """Read a wind limit as a job keeps it: above 0, at most 200 miles an hour, which a bare number is.

    >>> read_wind_limit("35.0", "--wind-limit-mph"), read_wind_limit("50 km/h", "--wind-limit-mph")
    ('35', '31.06855961')

    Raises
    ------
    InputRefused
        If the text is no number with one of the units of the reading "wind", or out of range.
    """
    number, _, unit = text.strip().replace(",", ".").partition(" ")
    try:
        limit = _WIND.in_first(float(number), unit.strip() or "mph")
    except (ValueError, KeyError):
        limit = float("nan")
    if unit.strip() not in ("", *_WIND.units) or not 0.0 < limit <= _MOST_MPH:
        units = ", ".join(_WIND.units)
        raise InputRefused.at(
            option, text, "is no wind limit", f"give miles an hour like 35, or a number with one of {units}"
        )
    return f"{limit:.10g}"
