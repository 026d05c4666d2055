"""The cases of a job: what was recorded against something, and who answers it, which is done by records."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query
from starlette.responses import Response

from linemap.answers.case import CaseCount, CaseList
from linemap.service.record.cases import case_count, case_list
from linemap.web.cache import Answers, AtTime, json_answer
from linemap.web.errors import refusals
from linemap.web.session import Asking

router = APIRouter(prefix="/api", responses=refusals(404, 422), tags=["record"])
_HEADERS = {"cache-control": "private, no-cache", "vary": "cookie"}


@router.get("/cases", response_model=CaseList, summary="Cases, and which of them you answer")
def cases(
    cache: Answers,
    asking: Asking,
    when: AtTime,
    state: Annotated[Literal["open", "closed", "all"], Query(description="answered ones are open")] = "open",
    yours: Annotated[bool, Query(description="those alone that you answer")] = False,
) -> Response:
    """Return the cases. One is answered, closed or opened again by a record of the kind "case"."""
    body = case_list(cache.view_of(when), asking, state=state, yours=yours)
    return json_answer(body, headers=_HEADERS)


@router.get("/cases/count", response_model=CaseCount, summary="How many cases wait, in all and for you")
def count(cache: Answers, asking: Asking) -> Response:
    """Return how many cases are open; a page that is left open asks this every few seconds."""
    return json_answer(case_count(cache.view(), asking), headers=_HEADERS)
