"""The holds of the job, and their release by whom they name."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Body, Depends, Path
from starlette.responses import Response

from linemap.answers.crew import HoldList, ReleaseAnswer
from linemap.domain.record.person import Person
from linemap.service.crew.holds import holds_answer, release_hold
from linemap.web.cache import AnswerCache, answers, json_answer
from linemap.web.errors import ErrorAnswer
from linemap.web.models.people import ReleaseRequest
from linemap.web.session import person, signed_as

router = APIRouter(prefix="/api/holds", tags=["holds"], responses={404: {"model": ErrorAnswer}})
_Cache = Annotated[AnswerCache, Depends(answers)]
_Person = Annotated[Person, Depends(person)]
_REFUSALS: dict[int | str, dict[str, type[ErrorAnswer]]] = {
    status: {"model": ErrorAnswer} for status in (400, 409, 413, 422)
}


@router.get("", response_model=HoldList, summary="All holds with their releases")
def holds(cache: _Cache, asking: _Person) -> Response:
    """Return all holds, released ones included; the reason of a restricted one is its kind."""
    headers = {"cache-control": "private, no-cache", "vary": "cookie"}
    return json_answer(holds_answer(cache.view(), asking), headers=headers)


@router.post(
    "/{hold_id}/release",
    status_code=201,
    response_model=ReleaseAnswer,
    responses=_REFUSALS,
    summary="Release a hold",
)
def release(
    cache: _Cache,
    asking: _Person,
    hold_id: Annotated[str, Path(max_length=200, description="identifier of the hold, like HW-1")],
    given: Annotated[ReleaseRequest, Body()],
) -> Response:
    """Record the release for good; only whom the hold names ("release by") may."""
    made = release_hold(
        cache.database,
        hold_id,
        person=asking,
        who=signed_as(asking, given.who),
        evidence=given.evidence,
        at=given.at,
        now=dt.datetime.now().astimezone(),
    )
    body = ReleaseAnswer(id=hold_id, sentence=made.sentence(), data_version=cache.data_version())
    return json_answer(body, status=201)
