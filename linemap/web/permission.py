"""Who may ask for what: one table from route and method to roles, and the gate that lets requests through.

The gate reads the table before anything of a route runs. HEAD is asked for as GET. Whoever sits at
the machine of a job without people acts as its manager and as its surveyor: there is nobody else.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.responses import RedirectResponse, Response
from starlette.routing import compile_path
from starlette.types import ASGIApp, Receive, Scope, Send

from linemap.domain.record.person import Person, Role
from linemap.errors import LinemapError
from linemap.web.cache import PERSON
from linemap.web.errors import error_response, refusal_response, told
from linemap.web.session import Entrance

#: Open to those who did not sign in as well.
ANYBODY = frozenset[Role]()
_ALL = frozenset(Role)
_CREW, _SURVEYOR, _INSPECTOR, _MANAGER = (
    frozenset({role}) for role in (Role.CREW, Role.SURVEYOR, Role.INSPECTOR, Role.MANAGER)
)
#: Who records work: crews, and those who look at it.
_RECORDERS = _CREW | _INSPECTOR | _SURVEYOR | _MANAGER
_OFFICE = _SURVEYOR | _INSPECTOR | _MANAGER

#: Route template -> method -> roles.
PERMISSIONS: Mapping[str, Mapping[str, frozenset[Role]]] = MappingProxyType(
    {
        # what a phone needs before anybody signed in; no data of the job
        "/health": {"GET": ANYBODY},
        "/sign-in": {"GET": ANYBODY},
        "/api/session": {"GET": ANYBODY, "POST": ANYBODY, "DELETE": ANYBODY},
        "/static/{path:path}": {"GET": ANYBODY},
        "/vendor/leaflet/{path:path}": {"GET": ANYBODY},
        "/vendor/qr.js": {"GET": ANYBODY},
        # the shell of the field page, which a phone installs
        "/field": {"GET": ANYBODY},
        "/sw.js": {"GET": ANYBODY},
        "/manifest.webmanifest": {"GET": ANYBODY},
        "/icon-{size}.png": {"GET": ANYBODY},
        # reading
        "/openapi.json": {"GET": _ALL},
        "/": {"GET": _ALL},
        "/map.js": {"GET": _ALL},
        "/api/job": {"GET": _ALL},
        "/api/structures": {"GET": _ALL},
        "/api/centreline": {"GET": _ALL},
        "/api/context": {"GET": _ALL},
        "/api/structure": {"GET": _ALL},
        "/api/place": {"GET": _ALL},
        "/api/holds": {"GET": _ALL},
        "/api/list": {"GET": _ALL},
        # a crew's phone
        "/api/field/index": {"GET": _RECORDERS},
        "/api/field/mile": {"GET": _RECORDERS},
        "/api/field/check_plans": {"GET": _RECORDERS},
        "/api/next": {"GET": _RECORDERS},
        "/api/where": {"GET": _RECORDERS},
        # recording; records and photos hold names and free words, so viewers do not get them as they are
        # the record as written, with its hashes: a word taken out of a note would break the chain
        "/api/events": {"GET": _MANAGER, "POST": _RECORDERS},
        "/api/events/compare": {"POST": _RECORDERS},
        "/api/photos/{id}": {"GET": _RECORDERS, "HEAD": _RECORDERS, "PUT": _RECORDERS},
        "/api/claims": {"GET": _RECORDERS, "POST": _RECORDERS},
        "/api/briefings": {"POST": _RECORDERS},
        # who answers a case is asked of each record that does: `linemap.domain.record.case.may_close`
        "/api/cases": {"GET": _RECORDERS},
        # every page asks it; viewers are told of none
        "/api/cases/count": {"GET": _ALL},
        # released only by the office the hold names: `linemap.domain.crew.hold_release.may_release`
        "/api/holds/{hold_id}/release": {"POST": _OFFICE},
        # the survey; deciding a cause corrects positions, which the surveyor signs and the manager does not
        "/survey": {"GET": _ALL},
        "/api/survey": {"GET": _ALL},
        "/api/decisions": {"POST": _SURVEYOR},
        # shots that nothing read may be of restricted places, as those on the red marks
        "/api/survey/shots": {"GET": _OFFICE, "POST": _SURVEYOR},
        "/api/survey/shots/alike": {"GET": _OFFICE},
        # what was seen or measured at a structure; what follows from it is worked out, not sent
        "/api/facts": {"POST": _OFFICE},
        "/api/red-marks.{form}": {"GET": _OFFICE},
        "/api/package.zip": {"GET": _SURVEYOR | _MANAGER},
        # progress; the report of a day holds free words of crews
        "/progress": {"GET": _ALL},
        "/api/progress": {"GET": _ALL},
        "/api/progress/period": {"GET": _RECORDERS},
        # what the records lack names punch items and cases, which the public does not see
        "/api/progress/closeout": {"GET": _RECORDERS},
        "/api/progress/closeout.csv": {"GET": _RECORDERS},
        # files and sheets of a selection; a file is made for readers who are told no more than who takes it
        "/exports": {"GET": _OFFICE},
        "/api/selection": {"GET": _OFFICE},
        "/api/exports/{form}": {"GET": _OFFICE},
        "/api/stakeout.{form}": {"GET": _OFFICE},
        # sheets to print, as a crew may see the job
        "/api/sheets/{sheet}.pdf": {"GET": _RECORDERS},
        # what is declared; which role may declare what is said with each setting
        "/settings": {"GET": _OFFICE},
        "/api/declarations": {"GET": _OFFICE, "POST": _OFFICE},
        "/api/declarations/preview": {"GET": _OFFICE},
        # loading: which lists whose work are is said on each kind, `linemap.service.files.permitted`
        "/files": {"GET": _OFFICE},
        "/review": {"GET": _OFFICE},
        "/api/proposals": {"POST": _OFFICE},
        "/api/proposals/{id}": {"GET": _OFFICE, "DELETE": _OFFICE},
        "/api/proposals/{id}/files/{name}": {"PUT": _OFFICE},
        "/api/proposals/{id}/columns": {"POST": _OFFICE},
        "/api/proposals/{id}/read": {"POST": _OFFICE},
        "/api/proposals/{id}/accept": {"POST": _OFFICE},
        "/api/changes": {"GET": _OFFICE},
        "/api/changes/{id}/undo": {"POST": _OFFICE},
        # who may sign in
        "/people": {"GET": _MANAGER},
        "/api/people": {"GET": _MANAGER, "POST": _MANAGER},
        "/api/people/keep-out": {"POST": _MANAGER},
        # loaded files hold what is restricted, byte for byte
        "/api/files": {"GET": _MANAGER},
        "/api/files/{id}/content": {"GET": _MANAGER},
        "/api/files/{id}/answer": {"POST": _MANAGER},
    }
)


class Permissions:
    """The table, ready to be asked. Templates without parameters come before those with."""

    def __init__(self, table: Mapping[str, Mapping[str, frozenset[Role]]]) -> None:
        ordered = sorted((path for path in table if "{" in path), key=lambda template: ":path}" in template)
        self._rules = [(compile_path(template)[0], template) for template in ordered]
        self._table = table

    def methods(self, path: str) -> Mapping[str, frozenset[Role]] | None:
        """Return method -> roles of the route a path belongs to; None when the table has no such route.

        >>> sorted(Permissions(PERMISSIONS).methods("/api/session"))
        ['DELETE', 'GET', 'POST']
        >>> Permissions(PERMISSIONS).methods("/api/nothing") is None
        True
        """
        if "{" not in path and path in self._table:
            return self._table[path]
        matching = (template for pattern, template in self._rules if pattern.match(path))
        return self._table.get(next(matching, ""))

    @staticmethod
    def allows(roles: frozenset[Role], person: Person | None) -> bool:
        """Say whether a person may ask for what these roles may; None is somebody who did not sign in."""
        if not roles:
            return True
        return person is not None and (person.local or person.role in roles)


#: Header by which a page says of which job it is, by the job's identity.
JOB_HEADER = "linemap-job"
_NOTHING_HERE = "nothing is served at this address"
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
            await told(scope, _not_served(methods), _NOTHING_HERE)(scope, receive, send)
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
        return error_response(404, "not_found", _NOTHING_HERE)
    response = error_response(405, "method_not_allowed", f"this address takes {', '.join(sorted(methods))}")
    response.headers["allow"] = ", ".join(sorted(methods))
    return response


def _refuse(scope: Scope, asking: Person | None, roles: frozenset[Role]) -> Response:
    if asking is not None:
        scope[PERSON] = asking
        named = ", ".join(sorted(roles - ANYBODY))
        words = f"signed in as {asking.name}, {asking.role}; this is for: {named}"
        return told(scope, error_response(403, "not_allowed", words), words)
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
