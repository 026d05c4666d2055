"""The demo's working days, and the day each structure was, or would have been, set."""

from __future__ import annotations

from datetime import date, timedelta

from state import done_sequences

__all__ = ["WORKDAYS", "set_days", "setting_order", "workday"]

#: Monday to Thursday, ten hours, from the first stakes on.
WORKDAYS = tuple(
    day for day in (date(2026, 3, 9) + timedelta(days=i) for i in range(120)) if day.isoweekday() <= 4
)
#: Structures set on each Monday ... Thursday, week by week from 23 March.
_SET_PER_DAY = (
    (0, 0, 1, 1),
    (2, 2, 1, 0),
    (3, 3, 2, 0),
    (3, 3, 3, 0),
    (3, 3, 3, 0),
    (3, 3, 3, 1),
    (3, 3, 2, 0),
    (4, 3, 1, 0),
)
_FIRST_SET_WEEK = date(2026, 3, 23)
#: 4/5 waited for its locate ticket: set after 5/2. 22/3 and 22/5 were set on one trip, 50th and 51st.
_LATE, _LATE_AFTER = 21, 24
_TRIP, _TRIP_POSITION = (116, 118), 49
#: Structures a day assumed for those not set yet, to date their earlier steps.
_PACE = 3


def workday(index: int) -> date:
    """Return a working day by number, 0 the first.

    >>> workday(4).isoformat()
    '2026-03-16'
    """
    return WORKDAYS[index]


def setting_order() -> list[int]:
    """Return the sequence numbers of the set structures in the order they were set."""
    order = sorted(done_sequences("set") - set(_TRIP))
    order.remove(_LATE)
    order.insert(order.index(_LATE_AFTER) + 1, _LATE)
    order[_TRIP_POSITION:_TRIP_POSITION] = _TRIP
    return order


def set_days() -> dict[int, int]:
    """Return, by sequence number, the index of the working day of setting.

    Structures passed by take the day of the one before; those farther on follow the last at an even pace.

    >>> days = set_days()
    >>> workday(days[63]).isoformat(), workday(days[24]).isoformat()
    ('2026-05-13', '2026-04-15')
    """
    first = WORKDAYS.index(_FIRST_SET_WEEK)
    slots = [
        first + 4 * week + day
        for week, counts in enumerate(_SET_PER_DAY)
        for day, count in enumerate(counts)
        for _ in range(count)
    ]
    days = dict(zip(setting_order(), slots, strict=True))
    last = max(slots)
    for sequence in range(1, 122):
        if sequence not in days:
            days[sequence] = days[sequence - 1] if sequence < 64 else last + 1 + (sequence - 64) // _PACE
    return days
