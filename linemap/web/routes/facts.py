"""What was seen at structures: second evidence, plumb and arm level, one fact at a time."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Body, Depends, Request
from starlette.responses import Response

from linemap.answers.survey import FactAnswer
from linemap.domain.record.person import Person
from linemap.service.survey.seen import SeenThing, fact_changes, record_fact
from linemap.web.cache import AnswerCache, answers, json_answer
from linemap.web.errors import ErrorAnswer
from linemap.web.models.survey import FactRequest
from linemap.web.session import person, signed_as

__all__ = ["router"]

router = APIRouter(prefix="/api/facts", tags=["survey"], responses={404: {"model": ErrorAnswer}})
_Cache = Annotated[AnswerCache, Depends(answers)]
_Person = Annotated[Person, Depends(person)]
_SAID = frozenset({"line", "structure", "what", "who", "at", "note"})
_REFUSALS: dict[int | str, dict[str, type[ErrorAnswer]]] = {
    status: {"model": ErrorAnswer} for status in (400, 403, 409, 413, 422)
}


@router.post(
    "",
    status_code=201,
    response_model=FactAnswer,
    responses={200: {"model": FactAnswer}, **_REFUSALS},
    summary="Record one thing seen at a structure",
)
def record(
    request: Request, cache: _Cache, asking: _Person, given: Annotated[FactRequest, Body()]
) -> Response:
    """Record a fact for good and say what it changes; the very same one again answers 200."""
    before = cache.view()
    seen = SeenThing(
        line=given.line,
        structure=given.structure,
        what=given.what,
        values=given.model_dump(exclude=set(_SAID)),
        who=signed_as(asking, given.who),
        at=given.at,
        note=given.note,
    )
    now: dt.datetime = request.app.state.now()
    fact, recorded = record_fact(cache.database, before, seen, now=now)
    after = cache.view()
    body = FactAnswer(
        recorded=recorded, data_version=after.data_version, **vars(fact_changes(before, after, fact))
    )
    return json_answer(body, status=201 if recorded else 200)
