"""The map page and the script that makes its map."""

from __future__ import annotations

from typing import Annotated

import numpy as np
from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from linemap.report.map_page import MapPage, map_page
from linemap.service.view.view import JobView
from linemap.web.cache import AnswerCache, answers
from linemap.web.errors import ErrorAnswer

router = APIRouter(tags=["pages"], responses={404: {"model": ErrorAnswer}})
_Cache = Annotated[AnswerCache, Depends(answers)]


class _Script(Response):
    media_type = "text/javascript"


@router.get("/", response_class=HTMLResponse, summary="The map")
def page(request: Request, cache: _Cache) -> Response:
    """Return the map page of the job."""
    made = cache.made("page", lambda view: _page(request, view))
    return HTMLResponse(made.html, headers={"cache-control": "no-cache"})


@router.get("/map.js", response_class=_Script, summary="Script that makes the map")
def script(request: Request, cache: _Cache) -> Response:
    """Return the script of the page's map."""
    made = cache.made("page", lambda view: _page(request, view))
    return _Script(made.script, headers={"cache-control": "no-cache"})


def _page(request: Request, view: JobView) -> MapPage:
    lon, lat = view.figures.longitude, view.figures.latitude
    west, east = float(np.nanmin(lon)), float(np.nanmax(lon))
    south, north = float(np.nanmin(lat)), float(np.nanmax(lat))
    return map_page(
        view.name,
        centre=((west + east) / 2.0, (south + north) / 2.0),
        bounds=((west, south), (east, north)),
        asset_version=request.app.state.asset_version,
        job=view.identity,
    )
