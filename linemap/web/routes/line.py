"""The job and its lines: head, structures, centrelines, context layers, one structure's panel."""

from __future__ import annotations

from typing import Annotated

import orjson
from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from linemap.answers.line import Centrelines, FeatureCollection, Job, Structures
from linemap.answers.structure import Panel
from linemap.service.view.panel import structure_panel
from linemap.service.view.payload import (
    centreline_answer,
    context_answer,
    job_answer,
    structures_base,
    structures_record,
)
from linemap.web.cache import AnswerCache, answers, cached_response
from linemap.web.errors import ErrorAnswer

router = APIRouter(prefix="/api", tags=["line"], responses={404: {"model": ErrorAnswer}})
_Cache = Annotated[AnswerCache, Depends(answers)]


@router.get("/job", response_model=Job, summary="Head of the job: names, counts, dates, caution")
def job(request: Request, cache: _Cache) -> Response:
    """Return names, counts, dates, the legend's words and the caution line."""
    return cached_response(request, cache.answer("job", job_answer))


@router.get("/structures", response_model=Structures, summary="All structures as columns")
def structures(request: Request, cache: _Cache) -> Response:
    """Return every structure of every line in line order, as columns."""
    return cached_response(request, cache.answer_in_parts("structures", structures_base, structures_record))


@router.get("/centreline", response_model=Centrelines, summary="Centrelines with station ticks")
def centreline(request: Request, cache: _Cache) -> Response:
    """Return the centrelines as polylines with ticks at round stations."""
    return cached_response(request, cache.answer("centreline", centreline_answer))


@router.get("/context", response_model=FeatureCollection, summary="Roads, river, other lines, gates, access")
def context(request: Request, cache: _Cache) -> Response:
    """Return the context layers; restricted features are left out."""
    return cached_response(request, cache.answer("context", context_answer))


@router.get(
    "/structure",
    response_model=Panel,
    summary="Everything known of one structure",
    responses={422: {"model": ErrorAnswer}},
)
def structure(
    request: Request,
    cache: _Cache,
    number: Annotated[str, Query(min_length=1, max_length=40, description="structure number, like 9/2")],
    line: Annotated[str, Query(max_length=200, description="line name; may be empty with one line")] = "",
) -> Response:
    """Return the panel of one structure."""
    view = cache.view()
    etag = cache.etag(view)
    headers = {"etag": etag, "cache-control": "private, no-cache", "vary": "cookie"}
    if etag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    body = orjson.dumps(structure_panel(view, line, number))
    return Response(body, media_type="application/json", headers=headers)
