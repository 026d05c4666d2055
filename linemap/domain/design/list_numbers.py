"""The numbers that the lists of a line gave its structures, and which one a record means by an old number."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from linemap.domain.design.number import number_form
from linemap.domain.finding.phrase import date_words


@dataclass(frozen=True, slots=True, kw_only=True)
class ListOfLine:
    """One state of the structure list of a line: what it was called, when it came, whom it renumbered."""

    at: datetime
    #: What its owner calls it; "" = nothing.
    label: str
    #: Number before -> number since, of those that got another one by it.
    renumbered: Mapping[str, str] = field(default_factory=dict)

    @property
    def words(self) -> str:
        """What a phone and a history call it: its label, else the day it came."""
        return self.label or date_words(self.at.date())

    @property
    def revision(self) -> str:
        """What a sentence calls it: "Rev C", or the day it came."""
        return f"Rev {self.label}" if self.label else self.words

    def now(self, number: str) -> str:
        """Return the number since it of what had a number before, however that is written."""
        if not self.renumbered or number in self.renumbered:
            return self.renumbered.get(number, number)
        form = number_form(number)
        return next((now for was, now in self.renumbered.items() if number_form(was) == form), number)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NumbersOfLists:
    """The numbers that the lists of each line gave, oldest first; without any, every number stays."""

    by_line: Mapping[str, Sequence[ListOfLine]] = field(default_factory=dict)

    def now(self, line: str, number: str, *, seen: str, at: datetime, received_at: datetime) -> str:
        """Return the number that a structure has now which a record names as some list did.

        `seen` is what the recorder's list was called, `at` when it was recorded: of lists of one name the
        newest that had come by then was meant. Where no list is called so, or none is named, it was the
        newest one when the record came in.
        """
        for later in self.since(line, seen=seen, at=at, received_at=received_at):
            number = later.now(number)
        return number

    def before(self, line: str, number: str) -> set[str]:
        """Return the numbers that what has a number now ever had, and the number itself."""
        found = {number}
        for each in reversed(self.by_line.get(line, ())):
            found |= {was for was, now in each.renumbered.items() if now in found}
        return found

    def since(self, line: str, *, seen: str, at: datetime, received_at: datetime) -> Sequence[ListOfLine]:
        """Return the lists that are newer than the one a recorder looked at, oldest first."""
        lists = self.by_line.get(line, ())
        called = [place for place, each in enumerate(lists) if seen and each.words == seen]
        if called:
            come = [place for place in called if lists[place].at <= at]
            return lists[max(come, default=called[0]) + 1 :]
        return [each for each in lists if each.at > received_at]


def numbers_of(lists: Iterable[tuple[str, ListOfLine]]) -> NumbersOfLists:
    """Gather the lists of each line, given as (line, list) in the order they came."""
    by_line: dict[str, list[ListOfLine]] = {}
    for line, each in lists:
        by_line.setdefault(line, []).append(each)
    return NumbersOfLists(by_line=by_line)
