"""The field records: who did which step of which structure, when it happened and when it was received.

The rows fold to the state on the data date. Planted among them: a structure framed by two crews, a late
re-send, a phone clock two hours fast, a rejected and repeated framing, groundings without a reading.
Crews only, no people.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta, timezone
from pathlib import Path

from route import LINE
from state import STEPS, done
from structures import Structure
from tables import Cell, write_csv
from workdays import set_days, setting_order, workday

__all__ = ["Record", "field_records", "write_records"]

_ZONE = timezone(timedelta(hours=-6))
_NAMESPACE = uuid.uuid5(uuid.NAMESPACE_DNS, "demo.invalid")
_HEADER = (
    "id",
    "line",
    "structure",
    "pole",
    "step",
    "result",
    "crew",
    "device",
    "happened at",
    "received at",
    "ohms",
    "note",
)
#: Working days from a step to the setting of the same structure.
_LEAD = {
    "spotted": -9,
    "dug": -8,
    "framed": -6,
    "blocks hung": -6,
    "set": 0,
    "guyed": 1,
    "grounded": 1,
    "inspected": 5,
}
_CREW = {
    "staked": "Lark",
    "spotted": "Otter",
    "dug": "Badger",
    "set": "Otter",
    "guyed": "Mole",
    "grounded": "Mole",
    "inspected": "Four Tines",
}
_PER_POLE = ("spotted", "dug", "set")
_STAKED_PER_DAY = 11
#: Raven framed miles 4 and 8, the run 10/3 to 11/3, and the far end; Heron all others.
_RAVEN = frozenset({*range(17, 23), *range(39, 44), *range(52, 58), *range(115, 119)})
#: Badger's second phone, used from 9/3 on, has a clock two hours fast.
_FAST_FROM = 46
_FAST_CLOCK = timedelta(hours=2)
_NO_OHMS = ("3/1", "6/2", "9/5")
_NOTES = {
    ("6/4", "inspected", ""): "right-hand pole looking ahead is branded 75 ft: frame turned, see HQ-1",
    ("13/2", "spotted", "B"): "75-1 sent for 75-H1, see HM-1",
    ("13/2", "spotted", "C"): "75-1 sent for 75-H1, see HM-1",
}
#: Steps dated by hand: (structure, step, pole) -> day and time.
_BY_HAND = {
    ("4/5", "dug", "A"): "2026-04-09 14:10",
    ("4/5", "dug", "B"): "2026-04-15 07:40",
    ("4/5", "framed", ""): "2026-04-15 09:50",
    ("4/5", "blocks hung", ""): "2026-04-15 10:20",
    ("4/5", "set", "A"): "2026-04-15 15:20",
    ("4/5", "set", "B"): "2026-04-15 15:40",
    ("5/2", "blocks hung", ""): "2026-04-09 11:40",
    ("12/4", "framed", ""): "2026-05-11 10:30",
    ("12/5", "framed", ""): "2026-05-12 10:40",
    ("13/1", "framed", ""): "2026-05-13 07:45",
    ("13/3", "framed", ""): "2026-05-13 09:25",
    ("13/4", "framed", ""): "2026-05-13 11:05",
    ("21/5", "dug", "A"): "2026-04-20 08:10",
    ("21/5", "dug", "B"): "2026-04-20 09:30",
    ("22/1", "dug", "A"): "2026-04-20 12:20",
    ("22/1", "dug", "B"): "2026-04-20 13:40",
    ("22/2", "dug", "A"): "2026-04-21 08:00",
    ("22/2", "dug", "B"): "2026-04-21 09:15",
    ("22/3", "dug", "A"): "2026-04-21 12:10",
    ("22/3", "dug", "B"): "2026-04-21 13:25",
    ("22/4", "dug", "A"): "2026-04-22 07:50",
    ("22/4", "dug", "B"): "2026-04-22 09:05",
    ("22/4", "dug", "C"): "2026-04-22 10:30",
    ("22/5", "dug", "A"): "2026-04-22 13:00",
    ("22/5", "dug", "B"): "2026-04-22 14:15",
    ("22/2", "framed", ""): "2026-04-28 09:10",
    ("22/4", "framed", ""): "2026-04-28 13:50",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One row of the field record, times in local time of the zone of the line."""

    structure: str
    #: Pole letter, "" = the whole structure.
    pole: str
    step: str
    crew: str
    device: str
    day: date
    #: Place in the crew's day.
    order: tuple[int, int]
    result: str = "done"
    #: Ground resistance as measured, "" = not measured.
    ohms: str = ""
    note: str = ""
    #: True time of the work; None until the day is laid out.
    at: datetime | None = None
    #: How far the phone's clock is fast.
    clock: timedelta = timedelta(0)
    #: When it was received; None = a few minutes after it happened.
    received: datetime | None = None


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(f"{text}-06:00")


def _crew(step: str, structure: Structure) -> str:
    return _CREW.get(step) or ("Raven" if structure.sequence in _RAVEN else "Heron")


def _ohms(structure: Structure, step: str) -> str:
    if step == "grounded" and structure.number not in _NO_OHMS:
        return f"{6 + structure.sequence * 37 % 120 / 10:.1f}"
    return ""


def _day_index(structure: Structure, step: str, days: dict[int, int]) -> int:
    if step == "staked":
        return (structure.sequence - 1) // _STAKED_PER_DAY
    return days[structure.sequence] + _LEAD[step]


def _plain_records(structures: list[Structure]) -> Iterator[Record]:
    days = set_days()
    places = {sequence: place for place, sequence in enumerate(setting_order())}
    for step_number, step in enumerate(STEPS):
        if step == "surveyed":
            continue  # known from the survey files
        for structure in done(structures, step):
            fast = step == "dug" and structure.sequence >= _FAST_FROM
            crew = _crew(step, structure)
            for pole in structure.type_row.poles if step in _PER_POLE else ("",):
                by_hand = _BY_HAND.get((structure.number, step, pole))
                at = _moment(by_hand) if by_hand else None
                yield Record(
                    structure=structure.number,
                    pole=pole,
                    step=step,
                    crew=crew,
                    device=f"{crew.lower().replace(' ', '-')}-{2 if fast else 1}",
                    day=at.date() if at else workday(_day_index(structure, step, days)),
                    order=(places.get(structure.sequence, structure.sequence), step_number),
                    ohms=_ohms(structure, step),
                    note=_NOTES.get((structure.number, step, pole), ""),
                    at=at,
                    clock=_FAST_CLOCK if fast else timedelta(0),
                )


def _planted_records() -> Iterator[Record]:
    base = Record(
        structure="5/2",
        pole="",
        step="framed",
        crew="Heron",
        device="heron-1",
        day=date(2026, 4, 8),
        order=(0, 0),
    )
    yield replace(
        base,
        crew="Four Tines",
        device="four-tines-1",
        result="rejected",
        note="arm bolted to the back face",
        at=_moment("2026-04-08 10:30"),
    )
    yield replace(base, note="arm moved to the ahead face", at=_moment("2026-04-09 11:10"))
    yield replace(
        base,
        structure="13/4",
        crew="Raven",
        device="raven-1",
        at=_moment("2026-05-13 12:55"),
        received=_moment("2026-05-13 18:47"),
    )
    yield replace(
        base,
        structure="12/3",
        device="heron-2",
        note="phone offline 11 to 14 May, sent again",
        at=_moment("2026-05-11 08:05"),
        received=_moment("2026-05-14 17:42"),
    )


def _laid_out(records: list[Record]) -> Iterator[Record]:
    """Spread each crew's undated records evenly over its ten-hour day."""
    groups: dict[tuple[str, date], list[Record]] = {}
    for record in records:
        if record.at is None:
            groups.setdefault((record.crew, record.day), []).append(record)
        else:
            yield record
    for (_, day), group in sorted(groups.items()):
        start = datetime.combine(day, time(7, 20), tzinfo=_ZONE)
        for place, record in enumerate(sorted(group, key=lambda r: (r.order, r.pole))):
            yield replace(record, at=start + timedelta(minutes=560 * place // len(group)))


def _received(record: Record, at: datetime, place: int) -> datetime:
    if record.received is not None:
        return record.received
    if record.crew == "Heron" and record.day == date(2026, 5, 13):
        return _moment("2026-05-13 18:32")  # no coverage all day; all rows arrived together
    return at + timedelta(minutes=1 + place % 4)


def _row(record: Record, place: int) -> tuple[Cell, ...]:
    at = record.at or datetime.combine(record.day, time(7, 20), tzinfo=_ZONE)
    happened = (at + record.clock).isoformat()
    key = "|".join((record.structure, record.pole, record.step, record.result, record.device, happened))
    return (
        str(uuid.uuid5(_NAMESPACE, key)),
        LINE,
        record.structure,
        record.pole,
        record.step,
        record.result,
        record.crew,
        record.device,
        happened,
        _received(record, at, place).isoformat(),
        record.ohms,
        record.note,
    )


def field_records(structures: list[Structure]) -> list[Record]:
    """Return every record with its time, in order of the work."""
    records = list(_laid_out([*_plain_records(structures), *_planted_records()]))
    return sorted(records, key=lambda r: (r.at or _moment("2026-01-01 00:00"), r.crew, r.order, r.pole))


def write_records(folder: Path, structures: list[Structure]) -> None:
    """Write framing_records.csv in the order the rows were received."""
    rows = [_row(record, place) for place, record in enumerate(field_records(structures))]
    rows.sort(key=lambda row: (str(row[_HEADER.index("received at")]), str(row[0])))
    write_csv(folder / "framing_records.csv", [_HEADER, *rows])
