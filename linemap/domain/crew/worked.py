"""The work that records of one structure say was done, whether they still count or were taken back."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from linemap.domain.record.event import Event
from linemap.domain.record.reading_type import READINGS
from linemap.domain.record.signing import why_not_taken_back


class Work(NamedTuple):
    """One record that a step was done, be it rejected since or not: the work happened."""

    event: Event
    #: When the work was done: what puts its record right later says nothing of that.
    at: datetime
    #: Identifier of the record as it was first sent: that of the one it corrects, and so on.
    first: str
    #: False when it was withdrawn, or corrected by a record of another place.
    stands: bool
    #: True when it was corrected by a record of another place: there it is judged.
    is_elsewhere: bool

    @property
    def names_monitor(self) -> bool:
        """True when it says who watched over the work."""
        return any(reading.name == "monitor" and reading.value for reading in self.event.readings)


def work_at(events: Iterable[Event], corrected: Collection[str]) -> list[Work]:
    """Return the work recorded at one structure, in the order it happened, each record once.

    A record that another one of the structure puts right is not told of beside it. `corrected` names those
    that records of other structures correct.
    """
    steps = {event.id: event for event in events if event.what == "step"}
    followed: dict[str, Event] = {}
    for event in steps.values():
        if event.supersedes in steps:
            followed[event.supersedes] = event
    found: list[Work] = []
    for event in sorted(steps.values(), key=lambda each: each.order_key):
        if event.result == "withdrawn" and not event.supersedes:
            found = [
                each._replace(stands=each.stands and not _takes_back(event, each.event)) for each in found
            ]
        after = followed.get(event.id)
        if event.result == "done" and (after is None or after.result == "withdrawn"):
            elsewhere = after is None and event.id in corrected
            first = _first(event, steps)
            stands = after is None and not elsewhere
            found.append(Work(event, first.moment, first.id, stands, elsewhere))
    return found


def _takes_back(withdrawal: Event, event: Event) -> bool:
    """Say whether a withdrawal that names no record takes one back: of its step, crew and pole."""
    return (
        withdrawal.step == event.step
        and withdrawal.crew in {"", event.crew}
        and (withdrawal.pole in {"", event.pole} or not event.pole)
        and not why_not_taken_back(withdrawal, [event])
    )


def _first(event: Event, steps: Mapping[str, Event]) -> Event:
    known = {event.id}
    while event.supersedes in steps and event.supersedes not in known:
        event = steps[event.supersedes]
        known.add(event.id)
    return event


def by_step(work: Iterable[Work]) -> Iterator[tuple[str, list[Work]]]:
    """Gather work by its step."""
    gathered: dict[str, list[Work]] = {}
    for each in work:
        gathered.setdefault(each.event.step, []).append(each)
    yield from gathered.items()


def last_of(about: Sequence[Work]) -> Work:
    """Return the last record that stands; the last where none does."""
    return [*([each for each in about if each.stands] or about)][-1]


def wind_mph(event: Event) -> float:
    """Return the strongest wind or gust a record reads, miles an hour; 0 = it reads none."""
    if not event.readings:
        return max(event.wind_speed_mph or 0.0, event.wind_gust_mph or 0.0)
    return max(
        (
            READINGS[each.name].in_first(float(each.value), each.unit)
            for each in event.all_readings
            if each.name in {"wind", "gust"} and not isinstance(each.value, str)
        ),
        default=0.0,
    )
