"""What the routes of the field share: the clock, what records are held against, and whose they are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request

from linemap.domain.record.event import Event
from linemap.domain.record.person import Person, Role
from linemap.service.record.cases import why_not
from linemap.service.record.record import Known, what_is_known
from linemap.service.record.turns import Turns
from linemap.store.database import Database
from linemap.web.cache import PERSON, AnswerCache, answers
from linemap.web.errors import refusals

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

    @property
    def database(self) -> Database:
        """The open job."""
        return self.cache.database

    @property
    def known(self) -> Known:
        """What records are held against."""
        return self.cache.made_of_base("what is known", what_is_known)

    def signed(self, said: str) -> str:
        """Return who a record is of: whoever signed in, else whom the device names."""
        return said if self.person is None or self.person.local else self.person.name

    def why_not(self, event: Event) -> str:
        """Say why whoever asks may not answer a case, or move a record, so; "" = nothing forbids it."""
        if event.what not in {"case", "moved"}:
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
    )


#: What a route takes to store a record.
Recording = Annotated[Recorder, Depends(recorder)]
