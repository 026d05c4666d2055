"""One table from error to HTTP status, and the one shape of every error the server answers.

The shape is ``{"error": {"code", "message", "where"}}``: a short stable code, a sentence for a person, and
the place (a parameter, a file and row, or "").
"""

from __future__ import annotations

import logging
from collections.abc import Mapping

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response
from starlette.types import Scope

from linemap.errors import Conflict, InputRefused, JobUnreadable, LinemapError, NotAllowed, NotFound
from linemap.service.job.job import DeclarationRefused
from linemap.service.people.people import TooManyTries

STATUS: Mapping[type[LinemapError], tuple[int, str]] = {
    InputRefused: (422, "input_refused"),
    NotFound: (404, "not_found"),
    Conflict: (409, "conflict"),
    NotAllowed: (403, "not_allowed"),
    TooManyTries: (429, "too_many_tries"),
    JobUnreadable: (503, "job_unreadable"),
}

_HTTP_CODES = {404: "not_found", 405: "method_not_allowed", 400: "bad_request", 413: "too_large"}
_log = logging.getLogger(__name__)


class ErrorBody(BaseModel):
    """What went wrong."""

    #: Short stable key.
    code: str
    #: One sentence for a person.
    message: str
    #: Parameter, or file and row; "" when the whole request is meant.
    where: str = ""


class ErrorAnswer(BaseModel):
    """The one shape of every error."""

    error: ErrorBody


def refusals(*statuses: int) -> dict[int | str, dict[str, type[ErrorAnswer]]]:
    """Return what OpenAPI is told of the errors a route may answer with."""
    return {status: {"model": ErrorAnswer} for status in statuses}


def error_response(status: int, code: str, message: str, where: str = "") -> Response:
    """Return an error in the one shape."""
    body = ErrorAnswer(error=ErrorBody(code=code, message=message, where=where))
    return JSONResponse(body.model_dump(), status_code=status)


def wants_page(scope: Scope) -> bool:
    """Say whether a person opened an address in a browser, who is to read words and not JSON."""
    opened = scope["method"] in ("GET", "HEAD") and not scope["path"].startswith("/api/")
    return opened and "text/html" in Headers(scope=scope).get("accept", "")


def told(scope: Scope, response: Response, words: str) -> Response:
    """Return an error as it is, or as a page of the job where a person opened the address."""
    if not wants_page(scope):
        return response
    page: Response = scope["app"].state.refused_page(Request(scope), response.status_code, words)
    return page


def register_error_handlers(app: FastAPI) -> None:
    """Answer every error of the app in the one shape; nothing internal reaches the caller."""
    app.add_exception_handler(LinemapError, _linemap_error)
    app.add_exception_handler(RequestValidationError, _validation_error)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(Exception, _unexpected_error)


def _linemap_error(request: Request, error: Exception) -> Response:
    return told(request.scope, refusal_response(error), str(error))


def refusal_response(error: Exception) -> Response:
    """Return what linemap refuses as an answer; how long to wait goes into a header.

    What cannot be declared is told setting by setting: a line of the message for each, and their places in
    the same order, parted by semicolons.
    """
    status, code = next(
        (answer for kind, answer in STATUS.items() if isinstance(error, kind)), (500, "failure")
    )
    words, where = str(error), ""
    if isinstance(error, DeclarationRefused):
        words = "\n".join("; ".join(filter(None, (each.reason, each.remedy))) for each in error.problems)
        where = ";".join(error.places)
    elif isinstance(error, InputRefused):
        first = error.problems[0]
        where = ", ".join(part for part in (first.file, first.column) if part)
    response = error_response(status, code, words, where)
    if isinstance(error, TooManyTries):
        response.headers["retry-after"] = str(error.wait_s)
    return response


def _validation_error(_request: Request, error: Exception) -> Response:
    """Answer a request that does not fit its model, without echoing the input (it may hold NaN)."""
    problems = error.errors() if isinstance(error, RequestValidationError) else []
    first = problems[0] if problems else {"loc": (), "msg": "the request cannot be read"}
    # names of unknown fields come from the caller and may be no text at all
    where = ".".join(str(part) for part in first["loc"]).encode("utf-8", "replace").decode("utf-8")
    return error_response(422, "invalid_request", str(first["msg"]), where)


def _http_error(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    detail = str(error.detail) if isinstance(error, HTTPException) else "failure"
    response = error_response(status, _HTTP_CODES.get(status, "http_error"), detail, request.url.path)
    if isinstance(error, HTTPException) and error.headers:
        response.headers.update(error.headers)
    return response


def _unexpected_error(request: Request, error: Exception) -> Response:
    _log.error("unexpected error at %s", request.url.path, exc_info=error)
    return error_response(500, "failure", "the server failed on this request; its log says why")
