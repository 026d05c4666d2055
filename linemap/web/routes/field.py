"""The field page, what makes it work without a signal, and the packs a phone takes along."""

from __future__ import annotations

import datetime as dt
import gzip
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Literal

import orjson
from fastapi import APIRouter, Query, Request
from starlette.responses import FileResponse, HTMLResponse, Response

from linemap.answers.field import Barrier, FieldContent, FieldIndex, FieldMile
from linemap.answers.tape import CheckPlans
from linemap.errors import NotFound
from linemap.report.page_files import icon_png
from linemap.report.palette import FIELD, OFFICE
from linemap.service.crew.crew_sites import access_network, barriers_of
from linemap.service.crew.field_index import field_index
from linemap.service.crew.field_pack import FieldPacks, load_surroundings
from linemap.service.record.keeping import record_mark
from linemap.service.view.view import JobView
from linemap.web.cache import AnswerCache, Answers, CachedAnswer, cached_response
from linemap.web.errors import refusals
from linemap.web.page import STATIC, VENDOR, Script, render_page

router = APIRouter(tags=["field"], responses=refusals(404))
#: Shared modules the field page uses beside its own.
_SHARED = tuple(
    f"js/shared/{name}.js" for name in ("cases", "hold_release", "html", "number", "person", "request")
)
_WORKER = STATIC / "js" / "field" / "sw.js"
_NO_CACHE = {"cache-control": "no-cache"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    """The index and the packs of one data version."""

    index: FieldContent
    miles: Mapping[tuple[str, int], CachedAnswer]
    check_plans: CachedAnswer


class _Manifest(Response):
    media_type = "application/manifest+json"


class _Picture(Response):
    media_type = "image/png"


def _modules() -> list[str]:
    """Return the addresses of the modules that the page's first one imports."""
    own = sorted(path.relative_to(STATIC).as_posix() for path in (STATIC / "js" / "field").glob("*.js"))
    return [f"/static/{name}" for name in (*own, *_SHARED) if not name.endswith(("/sw.js", "/app.js"))]


def shell_addresses(version: str) -> list[str]:
    """Return the addresses of everything the field page needs to start without a network."""
    return [
        "/field",
        f"/static/css/field.css?v={version}",
        f"/static/js/field/app.js?v={version}",
        "/manifest.webmanifest",
        "/icon-192.png",
        "/vendor/qr.js",
        *_modules(),
    ]


@router.get("/field", response_class=HTMLResponse, summary="The field page")
def field_page(request: Request) -> Response:
    """Return the shell of the field page; it holds nothing of the job but its identity."""
    return render_page(request, "field.html", title="Field", modules=_modules(), bar=OFFICE["bar"].day)


@router.get("/sw.js", response_class=Script, summary="Service worker of the field page")
def service_worker(request: Request) -> Response:
    """Return the worker that keeps the page's files on the phone, by job and fingerprint of the files."""
    state = request.app.state
    version = state.asset_version
    head = f"const VERSION = {orjson.dumps(f'{state.identity}-{version}').decode()};\n"
    files = f"const FILES = {orjson.dumps(shell_addresses(version)).decode()};\n"
    text = head + files + _WORKER.read_text(encoding="utf-8")
    return Script(text, headers={**_NO_CACHE, "service-worker-allowed": "/"})


@router.get("/vendor/qr.js", response_class=Script, summary="Writer and reader of square codes")
def square_codes() -> Response:
    """Return the library that draws and reads square codes where a browser cannot."""
    return FileResponse(VENDOR / "qr.js", media_type="text/javascript")


@router.get(
    "/manifest.webmanifest",
    response_class=_Manifest,
    responses={200: {"content": {"application/manifest+json": {"schema": {"type": "object"}}}}},
    summary="What a phone installs",
)
def manifest() -> Response:
    """Return the manifest that lets a phone keep the field page on its start screen."""
    body = {
        "name": "linemap field",
        "short_name": "field",
        "id": "/field",
        "start_url": "/field",
        "scope": "/",
        "display": "standalone",
        "background_color": FIELD["paper"].day,
        "theme_color": OFFICE["bar"].day,
        "icons": [
            {
                "src": f"/icon-{size}.png",
                "sizes": f"{size}x{size}",
                "type": "image/png",
                "purpose": "any maskable",
            }
            for size in (192, 512)
        ],
    }
    return _Manifest(orjson.dumps(body), headers=_NO_CACHE)


@router.get("/icon-{size}.png", response_class=_Picture, summary="Sign of the application")
def icon(size: Literal["192", "512"]) -> Response:
    """Return the application's sign, 192 or 512 pixels a side."""
    return _Picture(icon_png(int(size)), headers={"cache-control": "max-age=86400"})


@router.get("/api/field/index", response_model=FieldIndex, summary="What there is to take along")
def index(request: Request, cache: Answers) -> Response:
    """Return workflow, crews, lines and miles with their sizes and versions, and the server's clock."""
    known = cache.made("field", lambda view: _made(cache, view)).index
    with cache.database.reading() as connection:
        record, backup = record_mark(connection)
    now = FieldIndex(
        **vars(known),
        record=record,
        backup=backup,
        server_time=request.app.state.now().isoformat(timespec="milliseconds"),
        stale_after_hours=cache.settings.stale_after_hours,
    )
    body = orjson.dumps(now)
    headers = {"cache-control": "no-store", "vary": "accept-encoding, cookie"}
    if "gzip" in request.headers.get("accept-encoding", ""):
        body = gzip.compress(body, 1, mtime=0)
        headers["content-encoding"] = "gzip"
    return Response(body, media_type="application/json", headers=headers)


@router.get(
    "/api/field/mile",
    response_model=FieldMile,
    summary="One mile to take along",
    responses=refusals(422),
)
def mile(
    request: Request,
    cache: Answers,
    mile: Annotated[int, Query(ge=0, le=1_000_000, description="mile, as the index lists it")],
    line: Annotated[str, Query(max_length=200, description="line name; may be empty with one line")] = "",
) -> Response:
    """Return everything a crew needs at the structures of one mile."""
    packs = cache.made("field", lambda view: _made(cache, view)).miles
    names = [line] if line else sorted({name for name, _ in packs})
    found = packs.get((names[0], mile)) if len(names) == 1 else None
    if found is None:
        raise NotFound(f"the job has no mile {mile} on line {line or '(not named)'}; see /api/field/index")
    return cached_response(request, found)


@router.get("/api/field/check_plans", response_model=CheckPlans, summary="How frames are checked by tape")
def check_plans(request: Request, cache: Answers) -> Response:
    """Return the plans by which phones check frames; cards name theirs, the index has their fingerprint."""
    return cached_response(request, cache.made("field", lambda view: _made(cache, view)).check_plans)


def _made(cache: AnswerCache, view: JobView) -> _Made:
    now = dt.datetime.now().astimezone()
    packer = cache.made_of_base("field packs", FieldPacks)
    if not packer.fits(view):  # the job was loaded anew meanwhile
        packer = FieldPacks(view)
    packs = packer.packs(view, load_surroundings(cache.database, now=now))
    barriers = cache.made_of_base("barriers", partial(_barriers, cache))
    plans = packer.check_plans
    raw = orjson.dumps(plans)
    return _Made(
        index=field_index(view, packs, barriers, check_plans=plans.version),
        miles={
            (pack.line, pack.mile): CachedAnswer(etag=f'"{pack.version}"', raw=pack.raw, packed=pack.packed)
            for pack in packs
        },
        check_plans=CachedAnswer(etag=f'"{plans.version}"', raw=raw, packed=gzip.compress(raw, 6, mtime=0)),
    )


def _barriers(cache: AnswerCache, view: JobView) -> dict[str, list[Barrier]]:
    return barriers_of(view, cache.made_of_base("access network", access_network))
