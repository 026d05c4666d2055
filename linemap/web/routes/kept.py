"""What a phone keeps of what it sent, held against the job as it is now."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter
from pydantic import Field, StringConstraints
from starlette.responses import Response

from linemap.answers.record import Compared
from linemap.service.record.keeping import compare
from linemap.store.backup import Witness
from linemap.web.cache import json_answer
from linemap.web.recorder import REFUSALS, Recording
from linemap.web.requests import ONE_LINE, OneLine, Strict, WrittenMoment

router = APIRouter(prefix="/api", tags=["record"], responses=REFUSALS)


class Seen(Strict):
    """The newest links of the job that a phone saw, as the index gave them, and when it saw them."""

    newest: Annotated[str, StringConstraints(max_length=400, pattern=ONE_LINE)]
    #: By the clock of the phone.
    at: WrittenMoment


class CompareRequest(Strict):
    """What a phone keeps of what it sent, to be held against the job."""

    device: OneLine = ""
    #: Does the phone find nothing of its own?
    new: bool = False
    seen: Seen | None = None
    records: Annotated[list[UUID], Field(default_factory=list, max_length=2000)]
    photos: Annotated[list[UUID], Field(default_factory=list, max_length=2000)]


@router.post("/events/compare", response_model=Compared, summary="Is what was sent still there?")
def post_compare(said: CompareRequest, recording: Recording) -> Response:
    """Say which records and photos of a phone are not here, and whether what it saw of the record still is.

    A phone asks after it sent, and when the job was brought back from a copy: it sends again what is missing.
    """
    device = recording.device(said.device.strip())
    seen = None
    if said.seen is not None:
        seen = Witness(
            device=device,
            person=recording.sender,
            newest=said.seen.newest,
            seen_at=said.seen.at,
            reported_at=recording.now,
        )
    found = compare(
        recording.database,
        records=[str(each) for each in said.records],
        photos=[str(each) for each in said.photos],
        seen=seen,
        new_device=device if said.new else "",
    )
    return json_answer(found, headers={"cache-control": "no-store"})
