"""How often somebody tried to sign in lately, by person and by address.

Kept in the database and not in the process: several workers serve one job, and each of them alone would
allow as many tries again.
"""

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

_TABLE = schema.sign_in_attempt


def begin_attempt(connection: Connection, *, person: str, address: str, now: dt.datetime) -> int:
    """Count a try before it is looked at; return 0, or the seconds to wait when there were too many.

    Counted before the password is looked at, so that tries at the same moment count as well.

    Parameters
    ----------
    connection : Connection
        In a write transaction: writers take turns, so no two workers see the same count.
    person : str
        Name that was given, known or not; "" = signed in by a code.
    address : str
        Network address of the caller.
    now : datetime.datetime
    """
    connection.execute(delete(_TABLE).where(_TABLE.c.at <= now - WINDOW))
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
        connection.execute(insert(_TABLE), [{"person": same_words(person), "address": address, "at": now}])
    return longest


def forget_attempts(connection: Connection, *, person: str, address: str) -> None:
    """Forget the tries of a person from an address: they got in."""
    connection.execute(
        delete(_TABLE).where(_TABLE.c.person == same_words(person), _TABLE.c.address == address)
    )


def _wait(connection: Connection, column: str, value: str, most: int, now: dt.datetime) -> int:
    """Return the seconds until fewer than `most` tries lie in the window."""
    mine = select(_TABLE.c.at).where(_TABLE.c[column] == value).subquery()
    count = connection.scalar(select(func.count()).select_from(mine)) or 0
    if count < most:
        return 0
    first = connection.scalar(
        select(_TABLE.c.at).where(_TABLE.c[column] == value).order_by(_TABLE.c.at).offset(count - most)
    )
    end = (first or now) + WINDOW
    return max(1, round((end - now).total_seconds()))
