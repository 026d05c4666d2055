"""What is served where there is no job yet: a page on which a person at the machine makes or opens one."""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Body, Depends, FastAPI, Query, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from linemap.answers.change import ProposalId
from linemap.answers.office import FoundReference, LookedAt, Opened, Start
from linemap.domain.kind.kind import Code as Kind
from linemap.domain.record.person import Person
from linemap.errors import Conflict, NotFound
from linemap.geometry.crs import find_references
from linemap.io.source.container import MAX_BYTES
from linemap.service.files.brought import FilesBrought
from linemap.service.files.start import make_job, start_answer
from linemap.settings import Settings
from linemap.web.app import create_app, serve_pages
from linemap.web.cache import PERSON, json_answer
from linemap.web.errors import error_response
from linemap.web.guard import GuardChanges, GuardHeaders, content_policy
from linemap.web.office_requests import LookRequest, MakeRequest, OpenRequest
from linemap.web.page import render_page
from linemap.web.readings import Readings
from linemap.web.routes.changes import FileName, whole_body
from linemap.web.session import from_this_machine

router = APIRouter()
_NOTHING = LookedAt(state="ready", share=1.0, files=[], drawn=[], crs="", unit="", where=[])
_READING = replace(_NOTHING, state="reading", share=0.0)
_FAILED = "linemap failed on these files; the log of the server says why."


class StartOrJob:
    """ASGI application that makes or opens a job for a person at this machine, and serves it from then on.

    Parameters
    ----------
    settings : Settings
        Of the server; its `job` is the path where no job is yet, or a folder.
    """

    def __init__(self, settings: Settings, *, now: Callable[[], dt.datetime] | None = None) -> None:
        self.settings = settings
        self.place = Path(settings.job)
        self.now = now or (lambda: dt.datetime.now().astimezone())
        self.job: FastAPI | None = None
        self.kept = tempfile.TemporaryDirectory(prefix="linemap-")
        self.brought = FilesBrought(self.files)
        self.looked = _NOTHING
        self.readings = Readings(at_once=1)
        self._looks = 0
        self.asking = _asking(self)

    @property
    def files(self) -> Path:
        """Folder of the files that were brought so far."""
        return Path(self.kept.name)

    def open(self, path: Path) -> None:
        """Serve a job from now on; only one can be opened."""
        if self.job is not None:
            raise Conflict("a job is served here already; load the page again")
        self.job = create_app(self.settings.model_copy(update={"job": str(path)}))
        self.end_look()

    def look(self, crs: str, kinds: Mapping[str, Kind]) -> None:
        """Begin to read the files brought, in place of a reading that goes on."""
        self.end_look()
        this, self.looked = self._looks, _READING

        def progress(done: int, of: int) -> None:
            self._show(this, replace(_READING, share=done / max(of, 1)))

        def read() -> None:
            look = partial(self.brought.look, crs, kinds, now=self.now(), progress=progress)
            try:
                self._show(this, look(cancelled=lambda: self._looks != this))
            except Exception:
                self._show(this, replace(_NOTHING, where=[_FAILED]))
                raise

        self.readings.start(str(this), begin=lambda: None, read=read)

    def end_look(self) -> None:
        """Let a reading end that goes on: what it found is of other files than there are now."""
        self._looks += 1
        self.looked = _NOTHING

    def _show(self, look: int, looked: LookedAt) -> None:
        if look == self._looks:
            self.looked = looked

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer as the job does, once there is one."""
        if scope["type"] == "lifespan":
            await self._live(receive, send)
            return
        await (self.job or self.asking)(scope, receive, send)

    async def _live(self, receive: Receive, send: Send) -> None:
        await receive()
        await send({"type": "lifespan.startup.complete"})
        await receive()
        if self.job is not None:
            async with self.job.router.lifespan_context(self.job):
                pass
        self.end_look()
        self.readings.close()
        self.kept.cleanup()
        await send({"type": "lifespan.shutdown.complete"})


def _asking(start: StartOrJob) -> FastAPI:
    app = FastAPI(title="linemap", docs_url=None, redoc_url=None, openapi_url=None)
    app.state.start = start
    app.state.identity = ""
    serve_pages(app)
    app.include_router(router)
    app.add_middleware(_HereOnly)
    app.add_middleware(GuardChanges)
    app.add_middleware(GuardHeaders, policy=content_policy(""))
    return app


class _HereOnly:
    """ASGI middleware that answers this machine alone: whoever asks makes the job."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http" and not from_this_machine(scope):
            words = "a job is made at the machine where it is kept"
            await error_response(403, "not_allowed", words)(scope, receive, send)
            return
        scope[PERSON] = Person.at_the_machine()
        await self.app(scope, receive, send)


async def _start(request: Request) -> StartOrJob:
    start: StartOrJob = request.app.state.start
    return start


_Start = Annotated[StartOrJob, Depends(_start)]
_NOT_KEPT = {"cache-control": "no-store"}


@router.get("/", response_class=HTMLResponse)
def page(request: Request) -> Response:
    """Return the page on which a job is made."""
    return render_page(request, "start.html", title="linemap", most_bytes=MAX_BYTES)


@router.get("/health")
def health() -> dict[str, object]:
    """Say that the server is up, and that there is no job yet."""
    return {"status": "up", "data_version": 0, "waits": ["job"]}


@router.get("/api/start", response_model=Start)
def found(start: _Start) -> Response:
    """Return what can be opened and declared here."""
    return json_answer(start_answer(start.place), headers=_NOT_KEPT)


@router.post("/api/start/look", status_code=202, response_model=LookedAt)
def look(start: _Start, given: Annotated[LookRequest, Body()]) -> Response:
    """Begin to read the files brought; `GET` says how far that is, and then what was found."""
    start.look(given.crs, given.kinds)
    return json_answer(start.looked, status=202)


@router.get("/api/start/look", response_model=LookedAt)
def looked(start: _Start) -> Response:
    """Return how the files brought read, and where they lie; as of the last `POST`."""
    return json_answer(start.looked, headers=_NOT_KEPT)


@router.put("/api/proposals/new/files/{name}", response_model=ProposalId)
def bring(start: _Start, name: FileName, content: Annotated[bytes, Depends(whole_body)]) -> Response:
    """Keep a file until the job is made."""
    (start.files / name).write_bytes(content)
    return json_answer(ProposalId(id="new"))


@router.delete("/api/proposals/new/files/{name}", response_model=ProposalId)
def put_back(start: _Start, name: FileName) -> Response:
    """Leave out a file that was brought."""
    start.end_look()
    (start.files / name).unlink(missing_ok=True)
    return json_answer(ProposalId(id="new"))


@router.get("/api/references", response_model=list[FoundReference])
def references(start: _Start, words: Annotated[str, Query(max_length=100)]) -> Response:
    """Return projected coordinate references by words of their names, and where each puts the files."""
    lies = start.brought.lies
    return json_answer(
        [FoundReference(crs=crs, name=name, lies=lies(crs)) for crs, name in find_references(words)]
    )


@router.post("/api/start", status_code=201, response_model=Opened)
def make(start: _Start, given: Annotated[MakeRequest, Body()]) -> Response:
    """Make the job with what is declared, and serve it; files that were brought wait in it to be read."""
    path, opened = make_job(start.place, given.declared, start.files, who=given.who, now=start.now())
    start.open(path)
    return json_answer(opened, status=201)


@router.post("/api/start/open", response_model=Opened)
def open_one(start: _Start, given: Annotated[OpenRequest, Body()]) -> Response:
    """Serve a job of the folder from now on."""
    names = start_answer(start.place).jobs
    if given.job not in names:
        raise NotFound(f"the folder has no job {given.job}")
    start.open(start.place / given.job)
    return json_answer(Opened(name=given.job, proposal=""))


@router.get("/{path:path}", include_in_schema=False)
def elsewhere(path: str) -> Response:
    """Lead every page to the one there is."""
    if path.startswith("api/"):
        raise NotFound("there is no job yet: make one at /")
    return RedirectResponse("/", status_code=303)
