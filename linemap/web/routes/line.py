"""The map page, the job and its lines, one structure's panel, and the lists as they are declared."""

from __future__ import annotations

from functools import partial
from typing import Annotated

import orjson
from fastapi import APIRouter, Query, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, Response

from linemap.answers.line import Centrelines, FeatureCollection, Job, Places, Structures
from linemap.answers.lists import ListAnswer
from linemap.answers.panel import Panel
from linemap.domain.kind.kind import Code
from linemap.domain.record.person import Role
from linemap.errors import NotAllowed
from linemap.kinds.registry import DECLARED
from linemap.report.map_page import MapPage, map_page
from linemap.service.files.states import state_answer, states_of_lists
from linemap.service.view.lists import as_it_stands, list_answer
from linemap.service.view.panel import structure_panel
from linemap.service.view.payload import (
    bounds_of,
    centreline_answer,
    context_answer,
    job_answer,
    structures_answer,
    structures_base,
    structures_record,
)
from linemap.service.view.places import places_answer
from linemap.service.view.view import JobView
from linemap.web.cache import PERSON, Answers, AtTime, answered, cached_response, json_answer
from linemap.web.errors import refusals
from linemap.web.page import Script, ways_of
from linemap.web.session import Asking

router = APIRouter(responses=refusals(404, 422), tags=["line"])


@router.get("/api/job", response_model=Job, summary="Head of the job: names, counts, dates, caution")
def job(request: Request, cache: Answers, when: AtTime) -> Response:
    """Return names, counts, dates, the legend's words and the caution line."""
    url, attribution = cache.settings.tile_url, cache.settings.tile_attribution
    head = partial(job_answer, tile_url=url, tile_attribution=attribution)
    return answered(request, cache, when, "job", head)


@router.get("/api/structures", response_model=Structures, summary="All structures as columns")
async def structures(request: Request, cache: Answers, when: AtTime) -> Response:
    """Return every structure of every line in line order, as columns."""
    if not when.is_now:
        return await run_in_threadpool(answered, request, cache, when, "structures", structures_answer)
    answer = cache.ready("structures")
    if answer is None:
        build = partial(cache.answer_in_parts, "structures", structures_base, structures_record)
        answer = await run_in_threadpool(build)
    return cached_response(request, answer)


@router.get("/api/centreline", response_model=Centrelines, summary="Centrelines with station ticks")
def centreline(request: Request, cache: Answers, when: AtTime) -> Response:
    """Return the centrelines as polylines with ticks at round stations."""
    return answered(request, cache, when, "centreline", centreline_answer)


@router.get(
    "/api/context", response_model=FeatureCollection, summary="Roads, river, other lines, gates, access"
)
def context(request: Request, cache: Answers, when: AtTime) -> Response:
    """Return the context layers; restricted features are left out."""
    return answered(request, cache, when, "context", context_answer)


@router.get(
    "/api/structure",
    response_model=Panel,
    summary="Everything known of one structure",
    responses=refusals(422),
)
def structure(
    request: Request,
    cache: Answers,
    when: AtTime,
    number: Annotated[str, Query(min_length=1, max_length=40, description="structure number, like 9/2")],
    line: Annotated[str, Query(max_length=200, description="line name; may be empty with one line")] = "",
) -> Response:
    """Return the panel of one structure."""
    if not when.is_now:
        return answered(request, cache, when, "", lambda view: structure_panel(view, line, number))
    view = cache.view()
    etag = cache.etag(view)
    headers = {"etag": etag, "cache-control": "private, no-cache", "vary": "cookie"}
    if etag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    body = orjson.dumps(structure_panel(view, line, number))
    return Response(body, media_type="application/json", headers=headers)


@router.get("/api/place", response_model=Places, summary="Where a structure, station or coordinates lie")
def place(
    cache: Answers,
    when: AtTime,
    text: Annotated[
        str,
        Query(
            min_length=1,
            max_length=120,
            description="12/3, 434+20 12 R, 914050.99 N 2276177.43 E, or 46.71312, -108.37717",
        ),
    ],
) -> Response:
    """Return every place a text may mean, where each stands on the lines, and why there is none."""
    return json_answer(
        places_answer(cache.view_of(when), text), headers={"cache-control": "private, no-cache"}
    )


_Kind = Annotated[Code, Query(description="what files of the list are called")]
_State = Annotated[
    int | None, Query(ge=1, le=2**63 - 1, description="an earlier state, by its identifier; for the manager")
]


@router.get(
    "/api/list",
    response_model=ListAnswer,
    responses=refusals(403, 422),
    summary="A list with its fields and its states",
)
def whole_list(
    request: Request, cache: Answers, asking: Asking, when: AtTime, kind: _Kind, state: _State = None
) -> Response:
    """Return every record of a list with what its fields are, as the reader may see it.

    A state is as its file made it, whenever is asked for.
    """
    # names of files and labels are free words
    managing = asking.role is Role.MANAGER
    if state is not None and not managing:
        raise NotAllowed("earlier states of lists are read by the manager; ask for the list as it stands")
    if state is not None:
        whole = cache.whole_view()
        with cache.database.reading() as connection:
            return json_answer(state_answer(whole, connection, kind, state, audience=asking.audience))

    def build(view: JobView) -> ListAnswer:
        with cache.database.reading() as connection:
            listed = states_of_lists(view, connection, kind) if managing else []
            records = as_it_stands(view, connection, DECLARED[kind], audience=asking.audience)
            return list_answer(view, DECLARED[kind], records, [each for one in listed for each in one.states])

    return answered(request, cache, when, f"list {kind} {managing}", build)


@router.get("/", response_class=HTMLResponse, summary="The map")
def page(request: Request, cache: Answers) -> Response:
    """Return the map page of the job."""
    asking = request.scope[PERSON]
    made = cache.made(f"page {asking.role}", lambda view: _page(request, view))
    return HTMLResponse(made.html, headers={"cache-control": "no-cache"})


@router.get("/map.js", response_class=Script, summary="Script that makes the map")
def script(request: Request, cache: Answers) -> Response:
    """Return the script of the page's map."""
    made = cache.made("page", lambda view: _page(request, view))
    return Script(made.script, headers={"cache-control": "no-cache"})


def _page(request: Request, view: JobView) -> MapPage:
    corners = bounds_of(view)
    (west, south), (east, north) = corners
    return map_page(
        view.name,
        centre=((west + east) / 2.0, (south + north) / 2.0),
        bounds=corners,
        asset_version=request.app.state.asset_version,
        job=view.identity,
        ways=ways_of(request.scope.get(PERSON)),
        waits=view.waits,
    )
