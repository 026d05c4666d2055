"""The web application, put together in one place from the settings it is given."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from functools import cache
from typing import Any

from fastapi import APIRouter, FastAPI
from starlette.routing import BaseRoute
from starlette.staticfiles import StaticFiles

from linemap import __version__
from linemap.service.record.turns import Turns
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.store.job import load_job
from linemap.web.cache import AnswerCache, audience_caches
from linemap.web.errors import register_error_handlers
from linemap.web.guard import GuardChanges, GuardHeaders, content_policy
from linemap.web.page import LEAFLET, PageFiles, asset_version, page_templates, refused_page
from linemap.web.permission import PERMISSIONS, Gate, Permissions
from linemap.web.readings import Readings
from linemap.web.routes import (
    cases,
    changes,
    crew,
    field,
    files,
    kept,
    line,
    people,
    photos,
    progress,
    record,
    session,
    sheets,
    survey,
)
from linemap.web.routes import settings as settings_page
from linemap.web.session import Entrance

#: Answer of the gate, which is JSON even where the route answers with a page.
_REFUSED: dict[str, Any] = {
    "description": "Not signed in, or not for this role",
    "content": {"application/json": {"schema": {"$ref": "#/components/schemas/ErrorAnswer"}}},
}
_ANOTHER_JOB = {**_REFUSED, "description": "Another job is served here than the request was meant for"}
#: Passwords looked at at the same time: argon2id takes 64 MiB for each.
_PASSWORDS_AT_ONCE = 2
#: Proposals read at the same time: each may take a core and much of the memory.
_READINGS_AT_ONCE = 2


def create_app(
    settings: Settings,
    *,
    today: Callable[[], dt.date] | None = None,
    now: Callable[[], dt.datetime] | None = None,
) -> FastAPI:
    """Build the application over one job, which must exist (`NotFound`, `JobUnreadable`).

    `today` and `now` are the clocks, by which the job is shown and records are received: the machine's by
    default. A clock that tells moments shows the job for the day they are in its zone.
    """
    database = open_job(settings.job)
    with database.reading() as connection:
        identity = load_job(connection).identity

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        yield
        app.state.readings.close()
        app.state.turns.close()
        database.close()

    app = FastAPI(
        title="linemap",
        lifespan=lifespan,
        version=__version__,
        description=(
            "Structures of a power line: stationing, orientation check, framing records. A request may "
            "say in the header Linemap-Job which job it is meant for, by its identity; any other refuses it."
        ),
        routes=_routes(),
        docs_url=None,
        redoc_url=None,
    )
    app.state.database = database
    app.state.identity = identity
    app.state.https = settings.https
    app.state.password_turns = threading.BoundedSemaphore(_PASSWORDS_AT_ONCE)
    app.state.entrance = Entrance(database, network=settings.network)
    app.state.answers = audience_caches(AnswerCache(database, settings, today=today or now or _local_time))
    app.state.now = now or _local_time
    app.state.turns = Turns(database)
    app.state.readings = Readings(at_once=_READINGS_AT_ONCE)
    serve_pages(app)
    app.add_middleware(
        Gate, identity=identity, entrance=app.state.entrance, permissions=Permissions(PERMISSIONS)
    )
    app.add_middleware(GuardChanges)
    app.add_middleware(GuardHeaders, policy=content_policy(settings.tile_url))
    return app


def serve_pages(app: FastAPI) -> None:
    """Give an application what its pages are made with and ask for, and the answers of its errors."""
    app.state.asset_version = asset_version()
    app.state.templates = page_templates()
    app.state.refused_page = refused_page
    register_error_handlers(app)
    app.mount("/static", PageFiles(), name="static")
    app.mount("/vendor/leaflet", StaticFiles(directory=LEAFLET), name="leaflet")


@cache
def _routes() -> list[BaseRoute]:
    """Return the routes, which all applications of a process share: their models are made once."""
    every = APIRouter(responses={401: _REFUSED, 403: _REFUSED, 409: _ANOTHER_JOB})
    # looked through in this order at each request: the busiest first
    for module in (
        line,
        record,
        field,
        survey,
        files,
        session,
        photos,
        kept,
        crew,
        progress,
        sheets,
        cases,
        settings_page,
        changes,
        people,
    ):
        every.include_router(module.router)
    return every.routes


def app_from_environment() -> FastAPI:
    """Build the application from LINEMAP_ environment variables, for servers with several workers."""
    return create_app(Settings())  # type: ignore[call-arg]


def _local_time() -> dt.datetime:
    return dt.datetime.now().astimezone()
