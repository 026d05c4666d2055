"""What a person declares about a job, read from text; what is no answer is refused.

Each function raises `InputRefused` for a text it cannot read, and says how to write it. Rules of judging are
written with where they come from after a colon: "anchor_lead=0.5 ft: specification 7.3". What can be declared
is listed in `linemap.service.job.setting`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from linemap.domain.design.line import NO_CATENARY, Catenary, PoleASide
from linemap.domain.design.tolerance import ToleranceEntry, Tolerances
from linemap.domain.schedule.plan import Calendar
from linemap.domain.survey.proof import EvidenceRule
from linemap.errors import InputRefused
from linemap.geometry.station import parse_station
from linemap.units import LengthUnit, convert_length

#: Word for a factor that is computed from grid scale and elevations.
AUTO = "auto"
_NUMBER = re.compile(r"^([\d,]*\.?\d+)\s*(.*)$")
_NO_SOURCE = "given without a source"
_UNITS = {"°": "deg", "degrees": "deg", '"': "in", "inches": "in", "in/10 ft": "in per 10 ft"}


def read_blocks_owned(text: str) -> int | None:
    """Read how many stringing blocks the job owns; "" gives None.

    >>> read_blocks_owned("280"), read_blocks_owned("")
    (280, None)
    """
    if not text.strip():
        return None
    if text.strip().isascii() and text.strip().isdigit():
        return int(text)
    raise InputRefused.at("--blocks-owned", text, "is no count of blocks", "give a whole number like 280")


def read_day(text: str, option: str = "--data-date") -> str:
    """Read a day, as a job keeps it.

    >>> read_day(" 2026-05-15 ")
    '2026-05-15'
    """
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise InputRefused.at(option, text, "is no date", "write it like 2026-05-15") from None


def read_zone(text: str) -> str:
    """Read a time zone by its IANA name, as a job keeps it.

    >>> read_zone(" America/Denver ")
    'America/Denver'
    """
    name = text.strip()
    try:
        ZoneInfo(name)
    except (ValueError, OSError, ZoneInfoNotFoundError):
        raise InputRefused.at(
            "--time-zone", text, "is no time zone", "write it like America/Denver"
        ) from None
    return name


def read_holidays(text: str) -> list[str]:
    """Read days that are not worked, in any order, as a job keeps them.

    >>> read_holidays("2026-11-26, 2026-07-03")
    ['2026-07-03', '2026-11-26']
    """
    return sorted({read_day(each, "--holidays") for each in re.split(r"[,;\s]+", text.strip())})


def read_factor(text: str) -> float | None:
    """Read a combined factor, between 0.98 and 1.02: far more than any map zone has. "auto" and "" give None.

    >>> read_factor("0.999217"), read_factor("Auto")
    (0.999217, None)
    """
    if text.strip().casefold() in ("", AUTO):
        return None
    try:
        factor = float(text)
    except ValueError:
        factor = float("nan")
    if not 0.98 < factor < 1.02:
        raise InputRefused.at(
            "--combined-factor",
            text,
            "is no combined factor",
            "give grid length / ground length, a number near 1 like 0.999217, or auto",
        )
    return factor


def read_pole_a(text: str) -> PoleASide:
    """Read the side of pole A.

    >>> read_pole_a("Left")
    'left'
    """
    side = text.strip().casefold()
    if side == "left":
        return "left"
    if side == "right":
        return "right"
    raise InputRefused.at("--pole-a", text, "is no side", "say left or right, looking ahead along the line")


def read_start_station(text: str) -> float:
    """Read the station of the route start.

    >>> read_start_station("10+50")
    1050.0
    """
    try:
        return parse_station(text).value
    except ValueError as error:
        raise InputRefused.at("--start-station", text, str(error)) from None


#: What a line keeps of the settings of its job, and how each is read; "" = not declared.
OF_LINES: Mapping[str, Callable[[str], Any]] = MappingProxyType(
    {
        "back_end": str,
        "ahead_end": str,
        "combined_factor": read_factor,
        "start_station": lambda text: read_start_station(text or "0+00"),
        "pole_a": lambda text: read_pole_a(text or "left"),
    }
)


def read_work_week(text: str) -> Calendar | None:
    """Read the days of the week that are worked; "" gives None.

    >>> read_work_week("Mon-Thu").words
    'Mon-Thu'
    """
    if not text.strip():
        return None
    try:
        return Calendar.from_text(text)
    except ValueError as error:
        raise InputRefused.at("--work-week", text, str(error), "write it like Mon-Thu") from None


def read_tolerance(
    text: str, saved: Iterable[ToleranceEntry], *, unit: LengthUnit
) -> tuple[ToleranceEntry, ...]:
    """Return the tolerances a job keeps with that of a text laid over them.

    A tolerance without a unit is in its own; `unit` is the ground unit of the line.

    >>> read_tolerance("plumb=0.75: spec 16.3", (), unit=LengthUnit.FOOT)
    (ToleranceEntry(name='plumb', value=0.75, unit='', source='spec 16.3', source_row=0),)
    """
    name, value, source = parts_of_rule(text, "--tolerance", "anchor_lead=0.5 ft: specification 7.3")
    found = _NUMBER.match(value)
    if found is None:
        raise InputRefused.at("--tolerance", text, "gives no number", "write NAME=NUMBER UNIT: SOURCE")
    sign = _UNITS.get(found[2].strip(), found[2].strip())
    key = name.replace(" ", "_")
    given = ToleranceEntry(name=key, value=float(found[1].replace(",", "")), unit=sign, source=source)
    merged = {**{each.name: each for each in saved}, key: given}
    Tolerances.from_entries(merged.values(), unit, file="--tolerance")
    return tuple(merged.values())


def read_catenary(text: str, *, unit: LengthUnit) -> Catenary:
    """Read a catenary constant with its unit and source, into the ground unit of the line.

    >>> read_catenary("4,500 ft: sag table 3", unit=LengthUnit.FOOT)
    Catenary(constant=4500.0, source='sag table 3')
    """
    value, source = _with_source(text)
    found = _NUMBER.match(value)
    remedy = "write it like 4500 ft: sag table 3, 60 F, no load"
    if found is None:
        raise InputRefused.at("--catenary-constant", text, "is no number", remedy)
    number = float(found[1].replace(",", ""))
    try:
        written = LengthUnit.from_text(found[2].strip()) if found[2].strip() else unit
        same = written.symbol == unit.symbol
        constant = number if same else convert_length(number, source=written, target=unit)
        return Catenary(constant=constant, source=source)
    except ValueError as error:
        raise InputRefused.at("--catenary-constant", text, str(error), remedy) from None


def rule_words(
    tolerances: Tolerances, evidence: Mapping[str, EvidenceRule], catenary: Catenary | None
) -> tuple[str, ...]:
    """Say how work is judged, one sentence for each tolerance and rule, with its source."""
    limits = [f"{each.name}: {each} ({each.source})" for each in tolerances.listed]
    proofs = [
        f'"{step}" counts as verified by {rule.words} ({rule.source})' for step, rule in evidence.items()
    ]
    wire = NO_CATENARY if catenary is None else catenary.words(tolerances.unit)
    return (*limits, *proofs, f"weight span: {wire}")


def parts_of_rule(text: str, option: str, example: str) -> tuple[str, str, str]:
    """Read a rule with its source: name, value, source, of 'name=value: source'."""
    name, equals, rest = text.partition("=")
    if not (equals and name.strip() and rest.strip()):
        raise InputRefused.at(option, text, "names nothing and its value", f"write it like {example}")
    value, source = _with_source(rest)
    return " ".join(name.casefold().split()), value, source


def _with_source(text: str) -> tuple[str, str]:
    value, _, source = text.partition(":")
    return value.strip(), source.strip() or _NO_SOURCE
