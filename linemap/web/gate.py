"""The one place that lets a request through: known route, known person, a role that may."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from linemap.domain.record.person import Person, Role
from linemap.errors import LinemapError
from linemap.web.cache import PERSON
from linemap.web.errors import error_response, refusal_response
from linemap.web.permission import ANYBODY, Permissions
from linemap.web.session import Entrance

__all__ = ["Gate"]

#: Header by which a page says of which job it is, by the job's identity.
JOB_HEADER = "linemap-job"
_ANOTHER_JOB = "this address serves another job now; load the page again for that one"


class Gate:
    """ASGI middleware that asks the permission table before a route runs.

    A request that is meant for another job (`JOB_HEADER`) is refused before anything else is said of it: a
    page that was left open, or what waited on a phone, must not act on the job that is served there now.

    A route that is not in the table is not there: 404. A method that is not in it is 405. The person who
    asks stands in the scope for the routes behind.
    """

    def __init__(self, app: ASGIApp, *, identity: str, entrance: Entrance, permissions: Permissions) -> None:
        self.app = app
        self.identity = identity
        self.entrance = entrance
        self.permissions = permissions

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what is allowed; answer everything else here."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        if Headers(scope=scope).get(JOB_HEADER, self.identity) != self.identity:
            await error_response(409, "another_job", _ANOTHER_JOB)(scope, receive, send)
            return
        methods = self.permissions.methods(scope["path"])
        roles = None if methods is None else _roles(methods, scope["method"])
        if methods is None or roles is None:
            await _not_served(methods)(scope, receive, send)
            return
        try:
            asking = self.entrance.remembered(scope) or await run_in_threadpool(self.entrance.find, scope)
        except LinemapError as error:
            await refusal_response(error)(scope, receive, send)
            return
        if not self.permissions.allows(roles, asking):
            await _refuse(scope, asking, roles)(scope, receive, send)
            return
        scope[PERSON] = asking
        await self.app(scope, receive, send)


def _roles(methods: Mapping[str, frozenset[Role]], method: str) -> frozenset[Role] | None:
    """Return the roles for a method, None when the route has no such method; HEAD is asked for as GET."""
    return methods.get(method, methods.get("GET") if method == "HEAD" else None)


def _not_served(methods: Mapping[str, frozenset[Role]] | None) -> Response:
    if methods is None:
        return error_response(404, "not_found", "nothing is served at this address")
    response = error_response(405, "method_not_allowed", f"this address takes {', '.join(sorted(methods))}")
    response.headers["allow"] = ", ".join(sorted(methods))
    return response


def _refuse(scope: Scope, asking: Person | None, roles: frozenset[Role]) -> Response:
    if asking is not None:
        named = ", ".join(sorted(roles - ANYBODY))
        words = f"signed in as {asking.name}, {asking.role}; this is for: {named}"
        return error_response(403, "not_allowed", words)
    if scope["method"] in ("GET", "HEAD") and "text/html" in Headers(scope=scope).get("accept", ""):
        asked = scope["path"] + (
            f"?{scope['query_string'].decode('latin-1')}" if scope["query_string"] else ""
        )
        headers = {"cache-control": "no-store"}
        return RedirectResponse(f"/sign-in?next={quote(asked, safe='')}", status_code=303, headers=headers)
    words = "sign in first: open the link the manager gave you, or /sign-in with name and password"
    response = error_response(401, "sign_in", words)
    response.headers["www-authenticate"] = 'Session realm="linemap"'
    return response
