"""Signing in and out (the link on a phone, name and password on a desktop), and the monitor's question."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Body, Request
from starlette.responses import HTMLResponse, Response

from linemap.answers.crew import Health, Session
from linemap.domain.record.person import Person
from linemap.service.job.job import waiting_now
from linemap.service.people.people import identify, sign_in_by_code, sign_in_by_password, sign_out
from linemap.store.database import Database
from linemap.web.cache import PERSON, Answers, json_answer
from linemap.web.errors import error_response, refusals
from linemap.web.page import render_page
from linemap.web.requests import ByLink, ByPassword
from linemap.web.session import clear_cookie, set_cookie, token_of

router = APIRouter(tags=["session"])
_REFUSALS = refusals(400, 401, 403, 413, 422, 429)


@router.get("/sign-in", response_class=HTMLResponse, summary="The page to sign in")
def sign_in_page(request: Request) -> Response:
    """Return the page; it holds nothing of the job. The code of a link stays behind the # on the phone."""
    return render_page(request, "sign_in.html", title="")


@router.get("/api/session", response_model=Session, summary="Who is signed in")
def session(request: Request) -> Response:
    """Return who asks, or that nobody is signed in on this device."""
    return _session_answer(request.scope.get(PERSON))


@router.post("/api/session", response_model=Session, responses=_REFUSALS, summary="Sign in")
def open_session(request: Request, given: Annotated[ByLink | ByPassword, Body()]) -> Response:
    """Take a one-time code, or a name and password; the answer sets the session cookie.

    Too many tries for one person or from one address are answered 429 with the seconds to wait.
    """
    database: Database = request.app.state.database
    now = dt.datetime.now(dt.UTC)
    address = request.client.host if request.client is not None else "unknown"
    if isinstance(given, ByLink):
        token = sign_in_by_code(database, given.code, address=address, now=now)
        words = "this link was used or is too old; ask the manager for a new one"
    else:
        with request.app.state.password_turns:
            token = sign_in_by_password(
                database, name=given.name, password=given.password, address=address, now=now
            )
        words = "name and password do not fit; after ten tries in a quarter of an hour there is a pause"
    if token is None:
        return error_response(401, "not_known", words)
    _end(request, database, now=now)
    response = _session_answer(identify(database, token, now=now))
    set_cookie(request, response, token, by_link=isinstance(given, ByLink), secure=_secure(request))
    return response


@router.delete("/api/session", status_code=204, responses=refusals(403), summary="Sign out")
def close_session(request: Request) -> Response:
    """Let this device in no longer; a phone then needs a new link."""
    _end(request, request.app.state.database, now=dt.datetime.now(dt.UTC))
    response = Response(status_code=204)
    clear_cookie(request, response, secure=_secure(request))
    return response


def _end(request: Request, database: Database, *, now: dt.datetime) -> None:
    token = token_of(request.scope)
    if token:
        sign_out(database, token, now=now)
        request.app.state.entrance.forget(token)


def _secure(request: Request) -> bool:
    return bool(request.app.state.https) or request.url.scheme == "https"


def _session_answer(asking: Person | None) -> Response:
    answer = Session(
        signed_in=asking is not None,
        name="" if asking is None else asking.name,
        role=None if asking is None else asking.role,
        device="" if asking is None else asking.device,
        crew="" if asking is None else asking.crew,
        mark="" if asking is None else asking.mark,
        local=asking is not None and asking.local,
    )
    return json_answer(answer, headers={"cache-control": "no-store"})


@router.get("/health", tags=["monitor"], responses=refusals(503), summary="Is the server up?")
def health(cache: Answers) -> Health:
    """Read the job's data version and what it waits for; answers 503 when the job cannot be read."""
    with cache.database.reading() as connection:
        waits = [what for each in waiting_now(connection) for what in each.what]
    return Health(status="up", data_version=cache.data_version(), waits=waits)
