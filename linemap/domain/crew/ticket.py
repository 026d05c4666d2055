"""Locate tickets: what must be asked for before the ground is opened, and for how long the answer holds.

How long a ticket lives is a rule of the state: 28 calendar days in one, 20 working days in another. The
list of tickets says it, either as the last day or as a life; nothing is assumed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Annotated

from linemap.domain.crew.reach import Reach
from linemap.domain.finding.phrase import date_words
from linemap.domain.kind.kind import Cell, Place
from linemap.domain.kind.words import FROM_STRUCTURE, LINE, STRUCTURE_WORDS, TO_STRUCTURE
from linemap.domain.record.step_words import match_step

#: Steps that open the ground. Common practice, no source.
_DIGGING = frozenset({"dug", "guyed"})
_LIFE = re.compile(r"(\d{1,4})(?:\s*(calendar|working|business))?(?:\s*(?:days?|d))?", re.IGNORECASE)
_OPEN = re.compile(r"pending|waiting|open|no answer|not answered|outstanding", re.IGNORECASE)
_SATURDAY = 6
_SHOWN: tuple[Place, ...] = ("panel", "card", "paper")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """One locate ticket.

    Raises
    ------
    ValueError
        If the number is blank, it names no structure, the life cannot be read, or it ends before it begins.
    """

    #: Number the one-call centre gave.
    number: Annotated[
        str, Cell("ticket ticketno ticketnumber locateticket locate number no id", label="ticket")
    ]
    #: Line name; "" = every line of the job.
    line: Annotated[str, LINE] = ""
    #: Structure numbers named one by one.
    structures: Annotated[tuple[str, ...], Cell(f"{STRUCTURE_WORDS} structures covers", way="reach")] = ()
    #: Ends of a range of structures, both included; "" = no range.
    from_structure: Annotated[str, FROM_STRUCTURE] = ""
    to_structure: Annotated[str, TO_STRUCTURE] = ""
    #: True when it covers the anchors too; they often lie outside of the white paint.
    covers_anchors: Annotated[
        bool,
        Cell("anchors anchor coversanchors anchorscovered", doubt=(False, "not covering the anchors")),
    ] = False
    #: First day work may rely on it; None = not given.
    valid_from: Annotated[date | None, Cell("validfrom from begins start startdate fromdate workfrom")] = None
    #: Last day, itself included; None = by `life`.
    expires: Annotated[
        date | None,
        Cell("expires expiry expiration expirydate expirationdate expireson validto until"),
    ] = None
    #: "28 days" or "20 working days", counted from `valid_from`; "" = not given.
    life: Annotated[str, Cell("life ticketlife lifetime validfor days")] = ""
    #: Answers of the utilities as written: "all marked", "gas pending".
    responses: Annotated[
        str,
        Cell("responses response positiveresponses positiveresponse answers", free=True, on=_SHOWN),
    ] = ""
    #: Who renews it.
    renewed_by: Annotated[str, Cell("renewedby renews renewer contact requestedby", free=True, on=_SHOWN)] = (
        ""
    )
    #: Structures between the ends of the range, where their numbers do not tell which these are.
    between: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.number.strip():
            raise ValueError("a ticket has a blank number; give it one")
        if not (self.structures or self.from_structure):
            raise ValueError(f"ticket {self.number} names no structure; write those it covers")
        if self.life and _LIFE.fullmatch(self.life.strip()) is None:
            raise ValueError(f'ticket {self.number} has the life {self.life!r}; write "28 days"')
        last = self.last_day
        if last is not None and self.valid_from is not None and last < self.valid_from:
            raise ValueError(f"ticket {self.number} ends {last}, before it begins {self.valid_from}")

    @property
    def last_day(self) -> date | None:
        """Last day it is valid, by its expiry or else by its life; None when neither can be known.

        The day it begins is the first of its life; working days are Monday to Friday, holidays not known.

        >>> Ticket(number="1", structures=("9/2",), valid_from=date(2026, 4, 3), life="28 days").last_day
        datetime.date(2026, 4, 30)
        >>> Ticket(number="1", structures=("9/2",), valid_from=date(2026, 4, 3), life="2 working").last_day
        datetime.date(2026, 4, 6)
        """
        match = _LIFE.fullmatch(self.life.strip())
        if self.expires is not None or self.valid_from is None or match is None:
            return self.expires
        days = int(match[1])
        if (match[2] or "calendar").casefold() == "calendar":
            return self.valid_from + timedelta(days=days - 1)
        return _working(self.valid_from, days)

    @property
    def waits_for_answers(self) -> bool:
        """True when the list says that some utility has not answered yet."""
        return _OPEN.search(self.responses) is not None

    def sentence(self, on: date) -> str:
        """Say what it covers and until when, as of a day.

        >>> Ticket(number="1", structures=("9/2",), expires=date(2026, 5, 1)).sentence(date(2026, 5, 15))
        'covers poles only, expired 1 May 2026, 14 days ago'
        """
        return f"covers {self.covers}, {self.term(on)}"

    @property
    def covers(self) -> str:
        """What it covers at its structures."""
        return "poles and anchors" if self.covers_anchors else "poles only"

    def term(self, on: date) -> str:
        """Say how it stands on a day: until when it is valid, or why it is not."""
        last = self.last_day
        if last is None:
            return f"has no last day as of {date_words(on)}"
        if last < on:
            days = (on - last).days
            return f"expired {date_words(last)}, {days} day{'s' if days > 1 else ''} ago"
        if self.valid_from is not None and on < self.valid_from:
            return f"begins {date_words(self.valid_from)}"
        if self.waits_for_answers:
            return f"waits for answers as of {date_words(on)} ({self.responses})"
        return f"valid until {date_words(last)}"

    @property
    def reach(self) -> Reach:
        """The structures it covers; one end of a range alone is that structure."""
        first = self.from_structure
        last = (self.to_structure or first) if first else ""
        return Reach.of(self.line, self.structures, first, last, self.between)

    def valid(self, on: date) -> bool:
        """Say whether a day lies between its first and its last day; False when the last is not known."""
        last = self.last_day
        return last is not None and on <= last and (self.valid_from is None or self.valid_from <= on)

    def serves(self, step: str, on: date) -> bool:
        """Say whether it is valid on a day and, for a step that sets anchors, covers them."""
        return self.valid(on) and (self.covers_anchors or not sets_anchors(step))


def needs_ticket(step: str) -> bool:
    """Say whether a step opens the ground, by its code or by a crew's word for it.

    >>> needs_ticket("dug"), needs_ticket("anchors"), needs_ticket("framed")
    (True, True, False)
    """
    return step in _DIGGING or match_step(step) in _DIGGING


def sets_anchors(step: str) -> bool:
    """Say whether the ticket of a step must cover the anchors."""
    return "guyed" in {step, match_step(step)}


def ticket_for(tickets: Sequence[Ticket], *, step: str, on: date) -> Ticket | None:
    """Return the ticket that serves a step on a day: the one that lasts longest; None when none does.

    Anchors need a ticket that covers them. One whose answers are still waited for serves nothing.
    """
    fits = [ticket for ticket in tickets if ticket.serves(step, on) and not ticket.waits_for_answers]
    return max(fits, key=lambda ticket: (ticket.last_day or on, ticket.number), default=None)


def _working(first: date, days: int) -> date:
    day, left = first, days
    while True:
        left -= day.isoweekday() < _SATURDAY
        if left <= 0:
            return day
        day += timedelta(days=1)
