"""Who asks: the session cookie, and the person behind it.

A job without people, served to this machine only, is asked by its own manager. Everywhere else somebody
without a session is nobody.
"""

from __future__ import annotations

import datetime as dt
import ipaddress
import threading
import time
from collections.abc import Callable
from functools import lru_cache
from typing import Annotated
from urllib.parse import urlsplit

from fastapi import Depends
from starlette.datastructures import Headers
from starlette.requests import HTTPConnection, Request
from starlette.responses import Response
from starlette.types import Scope

from linemap.domain.record.person import Person, same_words
from linemap.errors import NotAllowed
from linemap.service.people.people import PASSWORD_LIFE, has_people, identify
from linemap.store.database import Database
from linemap.web.cache import PERSON

#: Name of the session cookie of version 0.1.0, whatever the job; it is still read.
_OLDER_COOKIE = "linemap_session"
#: Browsers keep a cookie no longer than this (RFC 6265bis, 5.5: 400 days).
_LINK_LIFE = dt.timedelta(days=400)
#: So many sessions are remembered at most; then all are looked up again.
_MOST_REMEMBERED = 4096
_FORWARDED = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip")


def cookie_name(identity: str) -> str:
    """Return the name of a job's session cookie: browsers keep cookies by machine, not by port.

    >>> cookie_name("7d444840-9dc0-11d1-b245-5ffdce74fad2")
    'linemap_session_7d4448409dc0'
    """
    return f"{_OLDER_COOKIE}_{identity.replace('-', '')[:12]}"


class Entrance:
    """Finds out who asks. May be shared between threads.

    What the database says of a session is remembered for `remember_s`: a map asks for many things at once.
    So long does a worker still let in a device that was just revoked.
    """

    def __init__(
        self,
        database: Database,
        *,
        network: bool,
        remember_s: float = 1.0,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._database = database
        self._network = network
        self._remember_s = remember_s
        self._clock = clock
        self._lock = threading.Lock()
        self._known: dict[str, tuple[float, Person]] = {}
        self._empty_until = 0.0
        self._has_people = False

    def remembered(self, scope: Scope) -> Person | None:
        """Return who asks when that is remembered, None when the database must be asked."""
        token, now = token_of(scope), self._clock()
        with self._lock:
            until, known = self._known.get(token, (0.0, None))
            if known is not None and now < until:
                return known
            if now < self._empty_until and not token and self._here_alone(scope):
                return Person.at_the_machine()
        return None

    def find(self, scope: Scope) -> Person | None:
        """Return who asks, by the database; None = nobody it knows."""
        if not self._asks_for_names():
            return Person.at_the_machine() if self._here_alone(scope) else None
        token = token_of(scope)
        if not token:
            return None
        found = identify(self._database, token, now=dt.datetime.now(dt.UTC))
        if found is not None:
            self._remember(token, found)
        return found

    def forget(self, token: str) -> None:
        """Ask the database again the next time this session comes."""
        with self._lock:
            self._known.pop(token, None)

    def forget_all(self) -> None:
        """Ask the database again for every session: somebody was let in or kept out here."""
        with self._lock:
            self._known.clear()
            self._empty_until = 0.0

    def _remember(self, token: str, found: Person) -> None:
        with self._lock:
            if len(self._known) >= _MOST_REMEMBERED:
                self._known.clear()
            self._known[token] = (self._clock() + self._remember_s, found)

    def _here_alone(self, scope: Scope) -> bool:
        return not self._network and from_this_machine(scope)

    def _asks_for_names(self) -> bool:
        """Say whether the job has people; once it has, it has them for good."""
        if not self._has_people:
            self._has_people = has_people(self._database)
            if not self._has_people:
                self._empty_until = self._clock() + self._remember_s
            else:
                self._empty_until = 0.0
        return self._has_people


def from_this_machine(scope: Scope) -> bool:
    """Say whether a request can only come from this machine.

    A proxy in front says so in its headers. A page elsewhere whose name was pointed at this machine (DNS
    rebinding) sends that name as the host; a name with a dot is none of ours.
    """
    headers = Headers(scope=scope)
    forwarded = any(name in headers for name in _FORWARDED)
    return not forwarded and _is_this_machine(headers.get("host", ""))


@lru_cache(maxsize=64)
def _is_this_machine(address: str) -> bool:
    host = urlsplit(f"//{address}").hostname or ""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host != "" and ("." not in host or host.endswith(".localhost"))


def token_of(scope: Scope) -> str:
    """Return the session token a request brings to its job, "" when it brings none."""
    cookies = HTTPConnection({**scope, "type": "http"}).cookies
    return cookies.get(_name(scope)) or cookies.get(_OLDER_COOKIE, "")


def _name(scope: Scope) -> str:
    return cookie_name(scope["app"].state.identity)


async def person(request: Request) -> Person:
    """Return who asks, `NotAllowed` = nobody; a dependency of routes (`async` spares it a thread)."""
    found: Person | None = request.scope.get(PERSON)
    if found is None:
        raise NotAllowed("nobody is signed in on this device; open the link the manager gave, or /sign-in")
    return found


async def _now(request: Request) -> dt.datetime:
    now: dt.datetime = request.app.state.now()
    return now


#: What a route takes that is open to people only.
Asking = Annotated[Person, Depends(person)]
#: When a request came in, by the application's clock.
Now = Annotated[dt.datetime, Depends(_now)]


def signed_as(asking: Person, who: str) -> str:
    """Return the name a record is signed with: one's own, no other; without people, the one given."""
    if asking.local:
        return who
    if same_words(who) != same_words(asking.name):
        raise NotAllowed(f"signed in as {asking.name}, so it cannot be signed as {who}; {who} signs in first")
    return asking.name


def set_cookie(request: Request, response: Response, token: str, *, by_link: bool, secure: bool) -> None:
    """Give the browser its session; scripts cannot read it, other sites' pages cannot send it."""
    life = _LINK_LIFE if by_link else PASSWORD_LIFE
    response.set_cookie(
        _name(request.scope),
        token,
        max_age=int(life.total_seconds()),
        path="/",
        secure=secure,
        httponly=True,
        samesite="strict",
    )


def clear_cookie(request: Request, response: Response, *, secure: bool) -> None:
    """Take the session back from the browser."""
    name = _name(request.scope)
    if name not in request.cookies:
        name = _OLDER_COOKIE
    response.delete_cookie(name, path="/", secure=secure, httponly=True, samesite="strict")
