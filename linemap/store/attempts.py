"""How often somebody tried to sign in lately."""

from __future__ import annotations

import datetime as dt

from sqlalchemy import Connection, delete, func, insert, select

from linemap.domain.record.person import same_words
from linemap.store import schema

#: How long a try counts.
WINDOW = dt.timedelta(minutes=15)
#: Tries for one person within the window; ten wrong passwords a quarter of an hour is no typing error.
MOST_OF_PERSON = 10
#: Tries from one address within the window; a whole crew may share one address.
MOST_OF_ADDRESS = 60

#: Tries are counted in the database and not in the process: several workers serve one job, and each of them
#: alone would allow as many again.
_TRIES = schema.sign_in_attempt


def begin_attempt(connection: Connection, *, person: str, address: str, now: dt.datetime) -> int:
    """Count a try before it is looked at; return 0, or the seconds to wait when there were too many.

    Counted before the password is looked at, so that tries at the same moment count as well.

    In a write transaction: writers take turns, so no two workers see the same count. `person` is the name
    that was given, known or not, "" for a code; `address` that of the caller.
    """
    connection.execute(delete(_TRIES).where(_TRIES.c.at <= now - WINDOW))
    waits = [
        _wait(connection, column, value, most, now)
        for column, value, most in (
            ("person", same_words(person), MOST_OF_PERSON),
            ("address", address, MOST_OF_ADDRESS),
        )
        if value
    ]
    longest = max(waits, default=0)
    if not longest:
        connection.execute(insert(_TRIES), [{"person": same_words(person), "address": address, "at": now}])
    return longest


def forget_attempts(connection: Connection, *, person: str, address: str) -> None:
    """Forget the tries of a person from an address: they got in."""
    connection.execute(
        delete(_TRIES).where(_TRIES.c.person == same_words(person), _TRIES.c.address == address)
    )


def _wait(connection: Connection, column: str, value: str, most: int, now: dt.datetime) -> int:
    """Return the seconds until fewer than `most` tries lie in the window."""
    mine = select(_TRIES.c.at).where(_TRIES.c[column] == value).subquery()
    count = connection.scalar(select(func.count()).select_from(mine)) or 0
    if count < most:
        return 0
    first = connection.scalar(
        select(_TRIES.c.at).where(_TRIES.c[column] == value).order_by(_TRIES.c.at).offset(count - most)
    )
    end = (first or now) + WINDOW
    return max(1, round((end - now).total_seconds()))
