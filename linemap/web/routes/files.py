"""The page of files: what linemap understood of each, the original bytes, and what people say of columns."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from fastapi import APIRouter, Body, Path, Request
from starlette.responses import HTMLResponse, Response

from linemap.answers.lists import AnswerKept, FileList
from linemap.domain.record.person import Role
from linemap.io.source.container import MAX_BYTES
from linemap.service.files.file_page import answer_file, files_answer, find_file, original
from linemap.service.files.permitted import loadable
from linemap.web.cache import Answers, cached_response, json_answer
from linemap.web.errors import refusals
from linemap.web.page import download, render_page
from linemap.web.requests import AnswerRequest
from linemap.web.session import Asking, signed_as

router = APIRouter(tags=["files"], responses=refusals(404))
#: Identifiers are whole numbers of the database's 64 bits.
_FileId = Annotated[
    int, Path(alias="id", ge=1, le=2**63 - 1, description="identifier of the file, from /api/files")
]


@router.get("/files", response_class=HTMLResponse, summary="Load files, and what linemap understood")
def files_page(request: Request, cache: Answers, asking: Asking) -> Response:
    """Return the page on which files are loaded, and the loaded ones are found."""
    own = "" if asking.role is Role.MANAGER else ", ".join(loadable(asking))
    view = cache.view()
    return render_page(
        request,
        "files.html",
        title=view.name,
        waits=view.waits,
        most_bytes=MAX_BYTES,
        role=asking.role.value,
        loads=own,
    )


@router.get("/api/files", response_model=FileList, summary="Every loaded file and how it was understood")
def files(request: Request, cache: Answers) -> Response:
    """Return all files, the latest first, with mapping, rows and problems."""
    return cached_response(request, cache.answer("files", lambda view: files_answer(cache.database, view)))


@router.get(
    "/api/files/{id}/content",
    response_class=Response,
    responses={
        200: {"content": {"application/octet-stream": {}}, "description": "The original bytes"},
        **refusals(422),
    },
    summary="A file as it was loaded",
)
def content(cache: Answers, file_id: _FileId) -> Response:
    """Return the original bytes, to be saved and never shown by the browser."""
    record = find_file(cache.database, file_id)
    return download(original(cache.database, file_id), "application/octet-stream", record.name)


@router.post(
    "/api/files/{id}/answer",
    status_code=201,
    response_model=AnswerKept,
    responses={
        200: {"model": AnswerKept},
        **refusals(400, 403, 409, 413, 422),
    },
    summary="Say what the columns of files of this shape are",
)
def answer(
    cache: Answers, asking: Asking, file_id: _FileId, said: Annotated[AnswerRequest, Body()]
) -> Response:
    """Keep the answer for the next file of the same shape; nothing is read again by itself."""
    recorded = answer_file(
        cache.database,
        file_id,
        kind=said.kind,
        fields=said.fields,
        by=signed_as(asking, said.by),
        at=dt.datetime.now().astimezone(),
    )
    kept = AnswerKept(recorded=recorded, data_version=cache.data_version())
    return json_answer(kept, status=201 if recorded else 200)
