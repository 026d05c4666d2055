"""A crew's questions (where to next, where am I), the holds of the job, and their release."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Body, Path, Query
from starlette.responses import Response

from linemap.answers.crew import HoldList, NextAnswer, ReleaseAnswer, WhereAnswer
from linemap.errors import NotFound
from linemap.service.crew.crew import Fix, NextRequest, next_answer, where_answer
from linemap.service.crew.crew_sites import access_network
from linemap.service.crew.holds import holds_answer, release_hold
from linemap.web.cache import Answers, AtTime, json_answer
from linemap.web.errors import refusals
from linemap.web.requests import ReleaseRequest
from linemap.web.session import Asking, signed_as

router = APIRouter(prefix="/api", responses=refusals(404, 422), tags=["crew"])
_Longitude = Annotated[float | None, Query(ge=-180.0, le=180.0, description="WGS 84 degrees")]
_Latitude = Annotated[float | None, Query(ge=-90.0, le=90.0, description="WGS 84 degrees")]
_Accuracy = Annotated[float | None, Query(ge=0.0, le=1e7, description="accuracy of the fix, metres")]
_HEADERS = {"cache-control": "private, no-cache", "vary": "cookie"}


@router.get(
    "/next",
    responses=refusals(422),
    response_model=NextAnswer,
    summary="Where a crew may go next by the records",
)
def next_structure(
    cache: Answers,
    when: AtTime,
    crew: Annotated[str, Query(min_length=1, max_length=200)],
    line: Annotated[str, Query(max_length=200, description="line name; empty for all lines")] = "",
    from_: Annotated[str, Query(alias="from", max_length=40, description="structure to start from")] = "",
    longitude: _Longitude = None,
    latitude: _Latitude = None,
    accuracy_m: _Accuracy = None,
    step: Annotated[
        str, Query(max_length=100, description="step; the one the crew has done most by default")
    ] = "",
    limit: Annotated[int, Query(ge=1, le=100_000, description="workable structures listed at most")] = 1000,
) -> Response:
    """Return the workable structures, nearest by travel first, and why each other one is not workable."""
    request = NextRequest(
        crew=crew,
        line=line,
        structure=from_,
        fix=_fix(longitude, latitude, accuracy_m),
        step=step,
        limit=limit,
    )
    network = cache.made_of_base("access network", access_network) if when.is_now else None
    found = next_answer(cache.view_of(when), request, now=dt.datetime.now().astimezone(), network=network)
    return json_answer(found.body(), headers=_HEADERS)


@router.get(
    "/where", responses=refusals(422), response_model=WhereAnswer, summary="Where a fix lies on the line"
)
def where(
    cache: Answers,
    longitude: Annotated[float, Query(ge=-180.0, le=180.0, description="WGS 84 degrees")],
    latitude: Annotated[float, Query(ge=-90.0, le=90.0, description="WGS 84 degrees")],
    accuracy_m: _Accuracy = None,
) -> Response:
    """Return between which structures a fix lies, its station and offset, never better than the fix."""
    body = where_answer(cache.view(), Fix(longitude=longitude, latitude=latitude, accuracy_m=accuracy_m))
    return json_answer(body, headers=_HEADERS)


def _fix(longitude: float | None, latitude: float | None, accuracy_m: float | None) -> Fix | None:
    if longitude is None and latitude is None:
        return None
    if longitude is None or latitude is None:
        missing = "longitude" if longitude is None else "latitude"
        raise NotFound(f"no place without its {missing}; give longitude and latitude, or neither")
    return Fix(longitude=longitude, latitude=latitude, accuracy_m=accuracy_m)


@router.get("/holds", response_model=HoldList, summary="All holds with their releases")
def holds(cache: Answers, asking: Asking, when: AtTime) -> Response:
    """Return all holds, released ones included; the reason of a restricted one is its kind."""
    return json_answer(holds_answer(cache.view_of(when), asking), headers=_HEADERS)


@router.post(
    "/holds/{hold_id}/release",
    status_code=201,
    response_model=ReleaseAnswer,
    responses=refusals(400, 409, 413, 422),
    summary="Release a hold",
)
def release(
    cache: Answers,
    asking: Asking,
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
