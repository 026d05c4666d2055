"""The page of people: who may sign in, on which devices, and who no longer."""

from __future__ import annotations

import io
from typing import Annotated

import segno
from fastapi import APIRouter, Body, Request
from starlette.responses import HTMLResponse, Response

from linemap.answers.office import PeopleAnswer, SignInLink
from linemap.domain.record.person import Role
from linemap.errors import InputRefused
from linemap.report.palette import OFFICE
from linemap.service.people.people import (
    add_person,
    has_people,
    public_address,
    revoke,
    sign_in_link,
)
from linemap.service.people.people_page import people_answer, require_manager_left
from linemap.web.cache import Answers, json_answer
from linemap.web.errors import refusals
from linemap.web.office_requests import KeepOutRequest, PersonRequest
from linemap.web.page import render_page
from linemap.web.session import Now

router = APIRouter(tags=["people"], responses=refusals(404))
_REFUSALS = refusals(400, 403, 404, 409, 413, 422)
_SECRET = {"cache-control": "no-store"}


@router.get("/people", response_class=HTMLResponse, summary="Who may sign in")
def people_page(request: Request, cache: Answers) -> Response:
    """Return the page of people and devices."""
    return render_page(request, "people.html", title=cache.view().name)


@router.get("/api/people", response_model=PeopleAnswer, summary="Everybody with their devices")
def people(request: Request, cache: Answers, now: Now) -> Response:
    """Return everybody, those kept out included, with every device they had; never a code or password."""
    found = people_answer(cache.database, here=_here(request), now=now)
    return json_answer(found, headers=_SECRET)


@router.post(
    "/api/people",
    status_code=201,
    response_model=SignInLink,
    responses=_REFUSALS,
    summary="Let somebody sign in, or give them a device",
)
def adding(request: Request, cache: Answers, now: Now, given: Annotated[PersonRequest, Body()]) -> Response:
    """Add a person, or a device, role or password; the link is answered this once and works once."""
    if given.role is not Role.MANAGER and not has_people(cache.database):
        raise InputRefused.at(
            "role", given.role, "the first person must be a manager", "add one who can add the others"
        )
    known = people_answer(cache.database, here=_here(request), now=now).address
    base = public_address(cache.database, address=given.address.rstrip("/") or known)
    code = add_person(
        cache.database,
        name=given.name,
        role=given.role,
        device=given.device,
        releases=given.releases,
        crew=given.crew,
        password=given.password,
        now=now,
    )
    request.app.state.entrance.forget_all()
    link = sign_in_link(base, code)
    body = SignInLink(name=given.name, link=link, once=bool(code), square=_square(link) if code else "")
    return json_answer(body, status=201, headers=_SECRET)


@router.post(
    "/api/people/keep-out",
    response_model=PeopleAnswer,
    responses=_REFUSALS,
    summary="Keep out a person or a device",
)
def keeping_out(
    request: Request, cache: Answers, now: Now, given: Annotated[KeepOutRequest, Body()]
) -> Response:
    """Let a person in no longer, or one device, and return everybody; their records stay."""
    words = given.name or str(given.device or "")
    require_manager_left(cache.database, words)
    revoke(cache.database, words, now=now)
    request.app.state.entrance.forget_all()
    return people(request, cache, now)


def _here(request: Request) -> str:
    return str(request.base_url).rstrip("/")


def _square(link: str) -> str:
    """Return a link as a square code, dark on light in every theme: cameras want it so."""
    drawn = io.BytesIO()
    dark, light = OFFICE["sheet-ink"].day, OFFICE["sheet"].day
    segno.make_qr(link, error="m").save(drawn, kind="svg", xmldecl=False, scale=6, dark=dark, light=light)
    return drawn.getvalue().decode()
