"""Loading in the browser: files are brought, read, reviewed, accepted or dropped; changes are undone."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Body, Depends, Path, Request
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, Response

from linemap.answers.change import Accepted, ChangeList, Choices, Proposal, ProposalId
from linemap.domain.record.person import Person
from linemap.io.source.container import MAX_BYTES
from linemap.service.files.edit import Signed
from linemap.service.files.file_page import answer_columns
from linemap.service.files.permitted import (
    as_told,
    changes_as_told,
    check_may_accept,
    check_may_see,
    check_may_undo,
)
from linemap.service.files.proposal import (
    accept,
    add_proposal_file,
    begin,
    begin_reading,
    begin_undo,
    drop_proposal,
    load_proposal,
    read_proposal,
)
from linemap.service.files.proposal_answer import changes_answer
from linemap.web.cache import AnswerCache, Answers, json_answer
from linemap.web.errors import refusals
from linemap.web.guard import FILE_TOO_LARGE
from linemap.web.page import render_page
from linemap.web.readings import Readings
from linemap.web.requests import AcceptRequest, ChoicesRequest, ColumnsRequest, SignedRequest
from linemap.web.session import Asking, Now, signed_as

router = APIRouter(tags=["changes"], responses=refusals(404))
_REFUSALS = refusals(400, 403, 404, 409, 413, 422)
_ID = r"^[0-9A-Za-z-]{1,64}$"
_ProposalId = Annotated[str, Path(alias="id", pattern=_ID, description="identifier of the proposal")]
_ChangeId = Annotated[str, Path(alias="id", pattern=_ID, description="identifier of the change")]
#: A file's own name: one line, no folder, and more than dots.
_IN_FOLDER = r"[^\x00-\x1f\x7f/\\]*"
FileName = Annotated[
    str, Path(alias="name", max_length=200, pattern=rf"^{_IN_FOLDER}[^\x00-\x1f\x7f/\\.]{_IN_FOLDER}$")
]
_BODY = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}


def seen_proposal(cache: Answers, asking: Asking, proposal_id: _ProposalId) -> Proposal:
    """Return the proposal a request is about, whole; a dependency that lets through who may see it."""
    proposal = load_proposal(cache.database, proposal_id)
    check_may_see(proposal, asking)
    return proposal


_Seen = Annotated[Proposal, Depends(seen_proposal)]


@router.get("/review", response_class=HTMLResponse, summary="The page on which a change is reviewed")
def review_page(request: Request, cache: Answers) -> Response:
    """Return the page of one proposal, which its address names as ``?id=``."""
    return render_page(request, "review.html", title=cache.view().name)


@router.post(
    "/api/proposals",
    status_code=201,
    response_model=ProposalId,
    responses=_REFUSALS,
    summary="Begin to bring files for review",
)
def begin_load(cache: Answers, asking: Asking, now: Now, said: Annotated[SignedRequest, Body()]) -> Response:
    """Return the identifier of a new proposal, which waits for its files."""
    who = _brought_by(asking, said)
    return _identifier(begin(cache.database, who=who, now=now), status=201)


async def whole_body(request: Request) -> bytes:
    """Return the body as it came in, at most `MAX_BYTES`."""
    content = bytearray()
    async for part in request.stream():
        content += part
        if len(content) > MAX_BYTES:
            raise HTTPException(413, FILE_TOO_LARGE)
    return bytes(content)


@router.put(
    "/api/proposals/{id}/files/{name}",
    response_model=ProposalId,
    responses=_REFUSALS,
    openapi_extra=_BODY,
    summary="Bring one file of a proposal",
)
def put_file(
    cache: Answers, proposal: _Seen, name: FileName, content: Annotated[bytes, Depends(whole_body)]
) -> Response:
    """Keep a file as it is, to be read with the others; one of the same name takes its place."""
    add_proposal_file(cache.database, proposal.id, name, content)
    return _identifier(proposal.id)


@router.post(
    "/api/proposals/{id}/read",
    status_code=202,
    response_model=ProposalId,
    responses=_REFUSALS,
    summary="Read the files",
)
def read(
    request: Request,
    cache: Answers,
    proposal: _Seen,
    now: Now,
    choices: Annotated[ChoicesRequest, Body()],
) -> Response:
    """Read the files in the background, with what is said about them; the proposal tells how far that is."""
    _start(request, cache, now, proposal.id, Choices(**choices.model_dump()))
    return _identifier(proposal.id, status=202)


@router.get("/api/proposals/{id}", response_model=Proposal, responses=_REFUSALS, summary="What would change")
def get_proposal(cache: Answers, asking: Asking, proposal: _Seen) -> Response:
    """Return a proposal as it stands, as whoever asks may read the job."""
    return json_answer(as_told(proposal, cache.whole_view(), asking), headers=_NOT_KEPT)


@router.delete(
    "/api/proposals/{id}",
    response_model=ProposalId,
    responses=_REFUSALS,
    summary="Drop files that wait for review",
)
def drop(cache: Answers, proposal: _Seen) -> Response:
    """Drop the files, and so end their reading; the job stays as it is."""
    drop_proposal(cache.database, proposal.id)
    return _identifier(proposal.id)


@router.post(
    "/api/proposals/{id}/columns",
    response_model=ProposalId,
    responses=_REFUSALS,
    summary="Say what columns of a file of a proposal are",
)
def columns(
    cache: Answers,
    asking: Asking,
    now: Now,
    proposal: _Seen,
    said: Annotated[ColumnsRequest, Body()],
) -> Response:
    """Keep what is said for files of this shape; the files are read again when that is asked for."""
    answer_columns(
        cache.database,
        proposal.id,
        said.file,
        kind=said.kind,
        fields=said.fields,
        by=signed_as(asking, said.by),
        at=now,
    )
    return _identifier(proposal.id)


@router.post(
    "/api/proposals/{id}/accept",
    response_model=Accepted,
    responses=_REFUSALS,
    summary="Accept what was reviewed",
)
def accept_proposal(
    cache: Answers,
    asking: Asking,
    now: Now,
    proposal: _Seen,
    said: Annotated[AcceptRequest, Body()],
) -> Response:
    """Store what the digest stands for, all of it or nothing.

    When the job changed meanwhile so that something else would follow, nothing is stored: `change` is "" and
    the answer holds the proposal as it stands now.
    """
    check_may_accept(proposal, asking, said.removes)
    accepted = accept(
        cache.database,
        proposal.id,
        Signed(who=signed_as(asking, said.by), reason=said.reason.strip(), removes=said.removes),
        digest=said.digest,
        now=now,
        served=cache.whole_view,
    )
    return json_answer(as_told(accepted, cache.whole_view(), asking))


@router.get("/api/changes", response_model=ChangeList, summary="Accepted changes, and what waits")
def changes(cache: Answers, asking: Asking) -> Response:
    """Return every accepted change, the latest first, and the proposals that wait for whoever asks.

    What would follow from each, and its map, are at its own address.
    """
    found = changes_answer(cache.database)
    return json_answer(changes_as_told(found, cache.whole_view(), asking), headers=_NOT_KEPT)


@router.post(
    "/api/changes/{id}/undo",
    status_code=201,
    response_model=ProposalId,
    responses=_REFUSALS,
    summary="Propose to undo a change",
)
def undo(
    request: Request,
    cache: Answers,
    asking: Asking,
    now: Now,
    change_id: _ChangeId,
    said: Annotated[SignedRequest, Body()],
) -> Response:
    """Return the identifier of a proposal that undoes a change, which is reviewed as any other."""
    check_may_undo(changes_answer(cache.database), change_id, asking)
    who = _brought_by(asking, said)
    made = begin_undo(cache.database, change_id, who=who, now=now)
    _start(request, cache, now, made, Choices())
    return _identifier(made, status=201)


_NOT_KEPT = {"cache-control": "no-store"}


def _start(
    request: Request, cache: AnswerCache, now: dt.datetime, proposal_id: str, choices: Choices
) -> None:
    readings: Readings = request.app.state.readings
    readings.start(
        proposal_id,
        begin=partial(begin_reading, cache.database, proposal_id),
        read=partial(
            read_proposal,
            cache.database,
            proposal_id,
            choices,
            now=now,
            served=cache.whole_view,
        ),
    )


def _brought_by(asking: Person, said: SignedRequest) -> str:
    """Return whose a proposal is; "" = somebody's at the machine of a job without people."""
    return signed_as(asking, said.by or ("" if asking.local else asking.name))


def _identifier(proposal_id: str, *, status: int = 200) -> Response:
    return json_answer(ProposalId(id=proposal_id), status=status)
