"""Sheets of paper as PDF."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from linemap.domain.record.person import Audience
from linemap.report import Paper, Sheet
from linemap.service.sheets.sheets import Chosen, sheet_pdf
from linemap.web.cache import AnswerCache, AtTime
from linemap.web.errors import refusals
from linemap.web.page import download

router = APIRouter(tags=["sheets"], responses=refusals(404))
_MOST_STRUCTURES = 500


async def _crews_answers(request: Request) -> AnswerCache:
    """Return the answers for crews, whoever asks: paper goes from hand to hand."""
    found: AnswerCache = request.app.state.answers[Audience.CREW]
    return found


@router.get(
    "/api/sheets/{sheet}.pdf",
    response_class=Response,
    responses={
        200: {"content": {"application/pdf": {}}, "description": "The sheets"},
        **refusals(422),
    },
    summary="Sheets to print",
)
def sheet(
    sheet: Sheet,
    cache: Annotated[AnswerCache, Depends(_crews_answers)],
    when: AtTime,
    paper: Annotated[Paper, Query(description="cards are half of it")] = "letter",
    structures: Annotated[
        list[str] | None, Query(max_length=_MOST_STRUCTURES, description="only these")
    ] = None,
    line: Annotated[str, Query(max_length=200, description="on this line")] = "",
    mile: Annotated[int | None, Query(ge=0, le=100_000, description="of this mile")] = None,
    crew: Annotated[str, Query(max_length=200, description="where this crew has recorded anything")] = "",
) -> Response:
    """Return cards, tables or lists of all structures, or of those chosen, as a crew may see the job."""
    chosen = Chosen(
        structures=tuple(structures or ()),
        line=line,
        mile=mile,
        crew=crew,
    )
    made = sheet_pdf(cache.database, cache.view_of(when), sheet, chosen=chosen, paper=paper)
    return download(made, "application/pdf", f"{sheet}.pdf", shown=True)
