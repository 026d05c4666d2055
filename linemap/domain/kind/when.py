"""The two times of records: from which day they are true, and on which day they came in.

Whatever is kept has both. A question names a day for each: as of which day, as known by which. Of the states
of one list, the last that had come by then, and is true by then, answers it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class When:
    """As of the end of which day something is asked, and as known by the end of which; None = now."""

    as_of: date | None = None
    known_by: date | None = None

    @property
    def is_now(self) -> bool:
        """Say whether neither day is asked for: then what is kept now answers."""
        return self.as_of is self.known_by is None

    @property
    def words(self) -> str:
        """Say it for people; "" = now.

        >>> When(as_of=date(2026, 5, 10), known_by=date(2026, 5, 12)).words
        'as of 2026-05-10, as known by 2026-05-12'
        """
        known = f"as known by {self.known_by}" if self.known_by else ""
        return ", ".join(filter(None, (f"as of {self.as_of}" if self.as_of else "", known)))


NOW = When()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A question about a job that began on a day: the first on which it had a structure list.

    Of days before, nothing older is known than what came first of each list by then: that is taken as known
    on every such day, and as true unless it says from which day it is true.
    """

    when: When
    #: None = the job has no structure list; then everything that came answers.
    begun: date | None

    @property
    def is_before(self) -> bool:
        """Say whether it is asked about days before the job began."""
        days = (self.when.as_of, self.when.known_by)
        return self.begun is not None and any(day is not None and day < self.begun for day in days)

    def knows(self, came: date, *, first: bool = False) -> bool:
        """Say whether what came on a day, perhaps `first` of its list, was known by the day asked for."""
        return self._by(self.when.known_by, came, first=first)

    def holds(self, came: date, true_from: date | None = None, *, first: bool = False) -> bool:
        """Say whether what came on a day was known then, and true by the day asked for.

        >>> asked = Asked(when=When(as_of=date(2026, 5, 10)), begun=date(2026, 5, 1))
        >>> asked.holds(date(2026, 5, 11)), asked.holds(date(2026, 5, 11), date(2026, 5, 9))
        (False, True)
        >>> before = Asked(when=When(as_of=date(2026, 4, 1)), begun=date(2026, 5, 1))
        >>> before.holds(date(2026, 5, 1)), before.holds(date(2026, 5, 1), first=True)
        (False, True)
        """
        if not self.knows(came, first=first):
            return False
        as_of = self.when.as_of
        if true_from is not None and as_of is not None:
            return true_from <= as_of
        return self._by(as_of, came, first=first)

    def _by(self, day: date | None, came: date, *, first: bool) -> bool:
        if day is None or self.begun is None:
            return True
        return came <= (max(day, self.begun) if first else day)

    def happened(self, day: date) -> bool:
        """Say whether what happened on a day had happened, and can have been known, by the days asked for."""
        return all(last is None or day <= last for last in (self.when.as_of, self.when.known_by))


@dataclass(frozen=True, slots=True, kw_only=True)
class Answering:
    """What answers a question about another time, by its identifiers in the job."""

    asked: Asked
    #: States of lists in force then, and all that had come and were true, replaced ones among them.
    in_force: frozenset[int]
    ever: frozenset[int]
    #: Files that did not count: those set aside then, those not there yet, and those that came too late for
    #: rows which do not say from which day they are true.
    aside: frozenset[int]
    unknown: frozenset[int]
    later: frozenset[int]
