"""Holds and crossings of the demo line. Owners and reasons are invented; no people.

A hold with a `condition` lets work go on while the condition is met; one without stops its activities.
`to date` is the date the hold is expected to end; it ends when `released on` is filled. `release by` is the
office that says so; what it goes by (a drawing revision, an outage order) stands in the reason.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from route import LINE, format_station, station_at
from structures import Structure
from tables import Cell, write_csv

__all__ = ["CROSSINGS", "Crossing", "write_conditions"]

_HOLD_HEADER = (
    "id",
    "line",
    "structures",
    "from structure",
    "to structure",
    "activities",
    "from date",
    "to date",
    "condition",
    "reason",
    "restricted",
    "set by",
    "release by",
    "released on",
)
_FRAME = "framed; set; guyed"
_HOLDS: tuple[tuple[str, ...], ...] = (
    (
        "HW-1", "7/3; 7/4", "", "", "all", "2026-04-15", "2026-05-29", "",
        "wetland: no vehicle before mats are in", "no", "environmental lead", "environmental lead", "",
    ),
    (
        "HE-1", "9/2", "", "", _FRAME, "2026-04-27", "2026-05-22", "",
        "ahead anchors with 45-ft lead fall on the gas pipeline: drawing revision", "no", "engineer",
        "engineer", "",
    ),
    (
        "HL-1", "11/4; 11/5; 11/6", "", "", "all", "2026-05-01", "2026-05-31", "",
        "Tollgate Ranch lambing: no entry, gate G-7", "no", "right-of-way agent", "right-of-way agent", "",
    ),
    (
        "HM-1", "13/2", "", "", "framed; set", "2026-05-04", "2026-06-12", "",
        "two of three 75-H1 poles not received", "no", "material yard", "material yard", "",
    ),
    (
        "HN-1", "14/2", "", "", "all", "2026-05-11", "2026-08-15", "",
        "nest within 660 ft", "yes", "environmental lead", "environmental lead", "",
    ),
    (
        "HN-2", "14/1; 14/3", "", "", "all", "2026-05-11", "2026-08-15", "monitor on site",
        "nest within 1320 ft", "yes", "environmental lead", "environmental lead", "",
    ),
    (
        "HX-1", "", "17/2", "17/3", "wire", "2026-03-02", "2026-09-13", "",
        "crossing of an energized 230 kV line: only within the outage window 14 to 17 September 2026", "no",
        "system operator", "system operator", "",
    ),
    (
        "HC-1", "21/3", "", "", "dug", "2026-03-02", "", "cultural monitor on site",
        "cultural site near the structure", "yes", "environmental lead", "environmental lead", "",
    ),
    (
        "HQ-1", "6/4", "", "", "wire", "2026-05-07", "", "",
        "frame stands turned about: 75-ft pole at B", "no", "engineer", "engineer", "",
    ),
    (
        "HT-1", "4/5", "", "", "dug", "2026-04-10", "2026-04-14", "",
        "locate ticket lapsed", "no", "contractor", "contractor", "2026-04-14",
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One thing the line crosses; distances are true ground feet."""

    what: str
    owner: str
    start: float
    end: float
    #: Line voltage in kV, "" for anything that is not a power line.
    voltage: str
    rule: str
    energized: bool


CROSSINGS = (
    Crossing(
        what="State Route 918", owner="state roads department", start=20440.0, end=20440.0, voltage="",
        rule="guard structures before stringing", energized=False,
    ),
    Crossing(
        what="12.47 kV distribution line", owner="Thistledown Electric", start=20510.0, end=20510.0,
        voltage="12.47", rule="energized, treat as such", energized=True,
    ),
    Crossing(
        what="buried gas pipeline", owner="Ledger Creek Gas", start=43420.0, end=43420.0, voltage="",
        rule="no anchor on it; engineering hold at 9/2", energized=False,
    ),
    Crossing(
        what="Tallow River", owner="", start=57700.0, end=58900.0, voltage="",
        rule="no crossing on the right of way; Lantern Bridge Road detour 9.6 mi", energized=False,
    ),
    Crossing(
        what="Hobnail-Crane 230 kV line", owner="Hobnail Transmission", start=86800.0, end=86800.0,
        voltage="230",
        rule="stringing only in the outage window 14 to 17 September 2026; crane note at 17/2 and 17/3",
        energized=True,
    ),
    Crossing(
        what="Pellet Mill Road", owner="county roads", start=102700.0, end=102700.0, voltage="",
        rule="flaggers", energized=False,
    ),
)  # fmt: skip


def _hold_rows() -> Iterator[tuple[Cell, ...]]:
    yield _HOLD_HEADER
    for hold in _HOLDS:
        yield (hold[0], LINE, *hold[1:])


def _span(structures: list[Structure], distance: float) -> tuple[str, str]:
    return next(
        (back.number, ahead.number)
        for back, ahead in pairwise(structures)
        if back.true <= distance < ahead.true
    )


def _crossing_rows(structures: list[Structure]) -> Iterator[tuple[Cell, ...]]:
    yield (
        "line",
        "what",
        "owner",
        "station",
        "true distance (ft)",
        "to true distance (ft)",
        "span back structure",
        "span ahead structure",
        "voltage (kV)",
        "rule",
        "treat as energized",
    )
    for crossing in CROSSINGS:
        yield (
            LINE,
            crossing.what,
            crossing.owner,
            format_station(station_at(crossing.start)[0]),
            f"{crossing.start:.2f}",
            f"{crossing.end:.2f}",
            *_span(structures, crossing.start),
            crossing.voltage,
            crossing.rule,
            "yes" if crossing.energized else "no",
        )


def write_conditions(folder: Path, structures: list[Structure]) -> None:
    """Write holds.csv and crossings.csv."""
    write_csv(folder / "holds.csv", _hold_rows())
    write_csv(folder / "crossings.csv", _crossing_rows(structures))
