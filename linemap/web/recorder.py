"""What the routes of the field share: the clock, what records are held against, and whose they are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Annotated

from fastapi import Depends, Request

from linemap.domain.record.event import Event
from linemap.domain.record.person import Person, Role
from linemap.domain.record.signing import Said, SignIn, Signing, signing_of
from linemap.service.record.cases import why_not
from linemap.service.record.known import Known, what_is_known
from linemap.service.record.turns import Turns
from linemap.store.database import Database
from linemap.store.people import find_sign_in
from linemap.web.cache import PERSON, AnswerCache, answers
from linemap.web.errors import refusals
from linemap.web.record_requests import EventRequest

#: Kinds of records that are acts of whoever is signed in.
_OF_OFFICE = frozenset({"case", "moved"})
#: Errors that every route of the field may answer with.
REFUSALS = refusals(400, 401, 403, 404, 409, 413, 422, 503)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorder:
    """Everything it takes to store a record of whoever asks."""

    cache: AnswerCache
    now: dt.datetime
    #: Through which events are stored.
    turns: Turns
    #: None = nobody signed in.
    person: Person | None
    #: Identity of the job.
    identity: str
    #: Sign-ins of records that came in, by their marks.
    sign_ins: dict[str, SignIn | None] = field(default_factory=dict)

    @property
    def database(self) -> Database:
        """The open job."""
        return self.cache.database

    @property
    def known(self) -> Known:
        """What records are held against."""
        return self.cache.made_of_base("what is known", what_is_known)

    def signing(self, said: EventRequest, *, skew_s: float) -> Signing:
        """Return who stands behind a record.

        An act of an office (what is done about a case, a record moved) is its own: whoever signed in did it.
        """
        # what is less than half a minute is the way of the message, as in `Event.clock_error`
        at = said.happened_at - dt.timedelta(minutes=round(skew_s / 60.0))
        actor = said.actor.strip() if said.what not in _OF_OFFICE or self._nobody else ""
        told = Said(actor, said.device.strip(), said.signed_by.strip(), by_its_sender=said.mark is None)
        return signing_of(told, self._made_under(said.mark), self.person, at=at)

    def _made_under(self, mark: str | None) -> SignIn | None:
        if not mark or self._nobody:
            return None
        if mark not in self.sign_ins:
            with self.database.reading() as connection:
                self.sign_ins[mark] = find_sign_in(connection, mark)
        return self.sign_ins[mark]

    @property
    def sender(self) -> str:
        """Name of who signed in; "" = nobody, or whoever sits at the machine of a job without people."""
        return "" if self.person is None or self.person.local else self.person.name

    @property
    def _nobody(self) -> bool:
        return self.person is None or self.person.local

    def why_not(self, event: Event) -> str:
        """Say why whoever asks may not answer a case, or move a record, so; "" = nothing forbids it."""
        if event.what not in _OF_OFFICE:
            return ""
        person = self.person or Person(name="", role=Role.CREW)
        return why_not(self.cache.whole_view(), person, event)

    def device(self, said: str) -> str:
        """Return the label of the device as the job knows it, else as it says."""
        return said if self.person is None or self.person.local else self.person.device or said


async def recorder(request: Request) -> Recorder:
    """Return what a route needs to store a record; a dependency (`async` spares it a thread)."""
    clock: Callable[[], dt.datetime] = request.app.state.now
    return Recorder(
        cache=await answers(request),
        now=clock(),
        turns=request.app.state.turns,
        person=request.scope.get(PERSON),
        identity=request.app.state.identity,
    )


#: What a route takes to store a record.
Recording = Annotated[Recorder, Depends(recorder)]
