"""The progress page: counts, plan, forecast, sections, and the report of a day."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse, Response

from linemap.answers.progress import Closeout, Period, Progress
from linemap.domain.kind.when import When
from linemap.service.progress.closeout import By, closeout_csv, closeout_of
from linemap.service.progress.progress_page import period_answer, progress_answer
from linemap.service.record.keeping import keeping_words
from linemap.web.cache import Answers, AtTime, cached_response, json_answer
from linemap.web.errors import refusals
from linemap.web.page import download, render_page

router = APIRouter(tags=["progress"], responses=refusals(404))
_Line = Annotated[str, Query(max_length=200, description="of this line alone")]
_PRIVATE = {"cache-control": "private, no-cache"}
_REFUSED = refusals(422)


@router.get("/progress", response_class=HTMLResponse, summary="The progress page")
def progress_page(request: Request, cache: Answers) -> Response:
    """Return the page of counts, plan, forecast and sections."""
    view = cache.view()
    kept = keeping_words(cache.database)
    return render_page(request, "progress.html", title=view.name, waits=view.waits, kept=kept)


@router.get(
    "/api/progress", response_model=Progress, responses=_REFUSED, summary="Where the job stands, as of a day"
)
def progress(request: Request, cache: Answers, when: AtTime, line: _Line = "") -> Response:
    """Return counts, planned against actual, sections, miles, forecast and charts."""
    if when.is_now and not line:
        return cached_response(request, cache.answer("progress", progress_answer))
    body = progress_answer(cache.view_of(when), line=line)
    return json_answer(body, headers=_PRIVATE)


@router.get(
    "/api/progress/period",
    response_model=Period,
    responses=_REFUSED,
    summary="Report of a day or a period",
)
def period(
    cache: Answers,
    first: Annotated[dt.date, Query(description="first day")],
    last: Annotated[dt.date | None, Query(description="last day; the first by default")] = None,
    known_by: Annotated[dt.date | None, Query(description="as known by the end of this day")] = None,
) -> Response:
    """Return quantities by crew with their structures; the same days give the same numbers later."""
    body = period_answer(cache.view_of(When(known_by=known_by)), first=first, last=last)
    return json_answer(body, headers=_PRIVATE)


@router.get(
    "/api/progress/closeout",
    response_model=Closeout,
    responses=_REFUSED,
    summary="What the records hold and lack, by section",
)
def closeout(
    cache: Answers,
    when: AtTime,
    line: _Line = "",
    by: Annotated[By, Query(description="columns: wire sections, or miles")] = "section",
) -> Response:
    """Return steps and checks by section, n of m with the structures behind each; no acceptance of work."""
    return json_answer(closeout_of(cache.view_of(when), line=line, by=by), headers=_PRIVATE)


@router.get(
    "/api/progress/closeout.csv",
    response_class=Response,
    responses={200: {"content": {"text/csv": {}}, "description": "The table"}, **_REFUSED},
    summary="What the records hold and lack, with all names",
)
def closeout_table(
    cache: Answers,
    when: AtTime,
    line: _Line = "",
    by: Annotated[By, Query(description="columns: wire sections, or miles")] = "section",
) -> Response:
    """Return a row for each step or check of each section, with the structures that have and lack it."""
    view = cache.view_of(when)
    made = closeout_csv(closeout_of(view, line=line, by=by), view.source)
    return download(made, "text/csv", "records-by-section.csv")
