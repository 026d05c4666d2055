"""The page of settings: what is declared, by whom and from which document, and declaring it."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Body, Query, Request
from starlette.responses import HTMLResponse, Response

from linemap.answers.office import Declarations, NamingAnswer
from linemap.domain.kind.when import NOW
from linemap.service.job.job import declarations, declare
from linemap.service.job.naming_now import preview_naming
from linemap.service.job.registry import SETTINGS
from linemap.service.job.setting import NOT_DECLARED
from linemap.service.record.keeping import keeping_words
from linemap.web.cache import Answers, AtTime, json_answer
from linemap.web.errors import refusals
from linemap.web.office_requests import DeclareRequest
from linemap.web.page import render_page
from linemap.web.session import Asking, Now, signed_as

router = APIRouter(tags=["settings"], responses=refusals(404, 422))


@router.get("/settings", response_class=HTMLResponse, summary="What the job declares")
def settings_page(request: Request, cache: Answers) -> Response:
    """Return the page of declarations."""
    view = cache.view()
    kept = keeping_words(cache.database)
    return render_page(request, "settings.html", title=view.name, waits=view.waits, kept=kept)


@router.get("/api/declarations", response_model=Declarations, summary="Everything the job declares")
def declared(cache: Answers, asking: Asking, when: AtTime) -> Response:
    """Return every setting with its value, who declared it, when and from which document."""
    return json_answer(declarations(cache.database, asking, when), headers={"cache-control": "no-store"})


_Words = Query(max_length=200, description="as it would be declared; empty = as it is")
#: Numbers and words shown of a preview.
_MOST_SHOWN = 24


@router.get(
    "/api/declarations/preview",
    response_model=NamingAnswer,
    responses=refusals(422),
    summary="How numbers and poles would be read",
)
def preview(
    cache: Answers, numbering: Annotated[str, _Words] = "", pole_words: Annotated[str, _Words] = ""
) -> Response:
    """Return how the job's own numbers and poles would be read and printed; nothing is declared."""
    with cache.database.reading() as connection:
        found = preview_naming(connection, numbering=numbering, pole_words=pole_words)
    shown, unclear = found.numbers[:_MOST_SHOWN], found.unclear[:_MOST_SHOWN]
    return json_answer(replace(found, numbers=shown, unclear=unclear))


@router.post(
    "/api/declarations",
    response_model=Declarations,
    responses=refusals(400, 403, 409, 413, 422),
    summary="Declare something",
)
def declaring(cache: Answers, asking: Asking, now: Now, given: Annotated[DeclareRequest, Body()]) -> Response:
    """Keep all that is declared, or nothing, and return what is declared then.

    Texts that cannot be read are answered 422: a line of the message for each, and their settings (with the
    part, "tolerance.across") in the same order as `where`, parted by semicolons.
    """
    texts: dict[str, list[str]] = {}
    for change in given.changes:
        setting = SETTINGS.get(change.name)
        written = change.text.strip() or NOT_DECLARED
        text = written if setting is None else setting.text_of(change.part, written, given.source)
        texts.setdefault(change.name, []).append(text)
    declare(
        cache.database,
        texts,
        now=now,
        who=signed_as(asking, given.who),
        source=given.source,
        asking=asking,
        true_from=given.true_from,
    )
    return declared(cache, asking, NOW)
