"""The web application, put together in one place from the settings it is given."""

from __future__ import annotations

import datetime as dt
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from fastapi import FastAPI
from starlette.staticfiles import StaticFiles

from linemap import __version__
from linemap.settings import Settings
from linemap.store.database import open_job
from linemap.web.assets import LEAFLET, STATIC, asset_version
from linemap.web.cache import AnswerCache
from linemap.web.errors import register_error_handlers
from linemap.web.guard import GuardChanges, GuardHeaders, content_policy
from linemap.web.page import page_templates
from linemap.web.routes import files, health, line, pages, survey

__all__ = ["app_from_environment", "create_app"]


def create_app(settings: Settings, *, today: Callable[[], dt.date] | None = None) -> FastAPI:
    """Build the application over one job.

    Parameters
    ----------
    settings : Settings
        Names the job; the job must exist.
    today : callable, optional
        The clock; the machine's local date by default.

    Raises
    ------
    NotFound, JobUnreadable
        If the job cannot be opened.
    """
    database = open_job(settings.job)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        yield
        database.close()

    app = FastAPI(
        title="linemap",
        lifespan=lifespan,
        version=__version__,
        description="Structures of a power line: stationing, orientation check, framing records.",
        docs_url=None,
        redoc_url=None,
    )
    app.state.answers = AnswerCache(database, settings, today=today or _local_date)
    app.state.asset_version = asset_version()
    app.state.templates = page_templates()
    register_error_handlers(app)
    for module in (pages, line, survey, files, health):
        app.include_router(module.router)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.mount("/vendor/leaflet", StaticFiles(directory=LEAFLET), name="leaflet")
    app.add_middleware(GuardChanges)
    app.add_middleware(GuardHeaders, policy=content_policy(settings.tile_url))
    return app


def app_from_environment() -> FastAPI:
    """Build the application from LINEMAP_ environment variables, for servers with several workers."""
    return create_app(Settings())  # type: ignore[call-arg]


def _local_date() -> dt.date:
    return dt.datetime.now().astimezone().date()
