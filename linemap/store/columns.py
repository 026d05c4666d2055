"""Values between Python and the tables: moments in time, and numbers that are not given."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from sqlalchemy import DateTime, Dialect
from sqlalchemy.types import TypeDecorator

__all__ = ["Moment", "null_for_nan"]


class Moment(TypeDecorator[dt.datetime]):
    """A moment in time, stored in UTC to the microsecond; comes back with UTC as its time zone.

    A time without a time zone names no moment: the statement fails with "has no time zone".
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        """Store the moment in UTC."""
        if value is None:
            return None
        if value.utcoffset() is None:
            raise ValueError(f"{value} has no time zone; give the moment with one")
        utc = value.astimezone(dt.UTC)
        # SQLite keeps a text without zone, which is UTC by this type's word
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: dt.datetime | None, dialect: Dialect) -> dt.datetime | None:
        """Give the moment back in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=dt.UTC) if dialect.name == "sqlite" else value.astimezone(dt.UTC)


def null_for_nan(value: Any) -> Any:
    """Return None for nan and every other value as it is: "not given" is NULL in the database.

    >>> [null_for_nan(value) for value in (float("nan"), 0.0, "nan", None)]
    [None, 0.0, 'nan', None]
    """
    return None if isinstance(value, float) and math.isnan(value) else value
