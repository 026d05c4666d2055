"""What keeps a page to its own server: response headers, the origin of what changes the job, its size.

Pages need no address outside the server. The one exception is a tile source the job's owner configures,
whose origin is then added to the images allowed. What changes the job must come from a page of this server,
told by the Fetch Metadata of the browser, or from a program on this machine.
"""

from __future__ import annotations

import ipaddress
import re
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from linemap.io.source.container import MAX_BYTES
from linemap.web.errors import error_response

#: Bytes a request may bring: an answer with a long note is a few kilobytes.
MOST_BYTES = 64 * 1024
#: Bytes where requests are larger, by the beginning of the address: a batch of records, a part of a photo.
_MORE_BYTES = (("/api/events", 2 * 1024 * 1024), ("/api/photos/", 256 * 1024))
#: A file of a proposal, which is passed on as it comes in.
_FILE = re.compile(r"/api/proposals/[^/]+/files/[^/]+")
#: What is said of a file that is too large.
FILE_TOO_LARGE = f"the file is larger than {MAX_BYTES >> 20} MB; part it, or leave out what is no list"
_READS_ONLY = ("GET", "HEAD", "OPTIONS")

#: FastAPI's documentation pages load from elsewhere; they are switched off, so one policy fits all pages.
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:{tiles}; "
    "connect-src 'self'; worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'"
)


def content_policy(tile_url: str = "") -> str:
    """Return the content security policy, with the origin of a tile source among the images.

    >>> "https://tiles.invalid" in content_policy("https://tiles.invalid/{z}/{x}/{y}.png")
    True
    """
    parts = urlsplit(tile_url)
    origin = f" {parts.scheme}://{parts.netloc}" if parts.scheme in ("http", "https") and parts.netloc else ""
    return _POLICY.format(tiles=origin)


class GuardHeaders:
    """ASGI middleware that adds the guarding headers to every answer."""

    def __init__(self, app: ASGIApp, *, policy: str) -> None:
        self.app = app
        self.headers = {
            "content-security-policy": policy,
            "x-content-type-options": "nosniff",
            "referrer-policy": "no-referrer",
            "cross-origin-opener-policy": "same-origin",
            "cross-origin-resource-policy": "same-origin",
            "permissions-policy": "camera=(self), microphone=(), geolocation=(self)",
        }

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; add the headers when the answer starts."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(self.headers)
            await send(message)

        await self.app(scope, receive, send_guarded)


class GuardChanges:
    """ASGI middleware that lets through only changes that come from this server's pages, and not large.

    A browser says where a request comes from (Sec-Fetch-Site, W3C Fetch Metadata; else Origin). A program
    says neither and is let through from this machine only.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a read on as it is; look at the origin and the size of everything else."""
        if scope["type"] != "http" or scope["method"] in _READS_ONLY:
            await self.app(scope, receive, send)
            return
        if not _from_here(scope):
            words = "a change must come from a page of this server, or from a program on this machine"
            await error_response(403, "other_origin", words)(scope, receive, send)
            return
        if _FILE.fullmatch(scope["path"]):
            await self._pass_file(scope, receive, send)
            return
        most = next((size for path, size in _MORE_BYTES if scope["path"].startswith(path)), MOST_BYTES)
        body = await _read_body(scope, receive, most)
        if body is None:
            words = f"the request is larger than {most // 1024} KiB; shorten it"
            await error_response(413, "too_large", words)(scope, receive, send)
            return
        await self.app(scope, _replay(body, receive), send)

    async def _pass_file(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a file on piece by piece; one that says it is too large is refused before it is sent."""
        if _said_length(scope) > MAX_BYTES:
            await error_response(413, "too_large", FILE_TOO_LARGE)(scope, receive, send)
            return
        await self.app(scope, receive, send)


def _from_here(scope: Scope) -> bool:
    headers = Headers(scope=scope)
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = headers.get("origin")
    if origin is not None:
        return urlsplit(origin).netloc.casefold() == headers.get("host", "").casefold() != ""
    return _is_loopback(scope.get("client"))


def _is_loopback(client: tuple[str, int] | None) -> bool:
    try:
        return client is not None and ipaddress.ip_address(client[0]).is_loopback
    except ValueError:
        return False


async def _read_body(scope: Scope, receive: Receive, most: int) -> bytes | None:
    """Return the whole body, None when it is too large; what it says of its length is not trusted alone."""
    if _said_length(scope) > most:
        return None
    body, more = b"", True
    while more:
        message = await receive()
        body += message.get("body", b"")
        more = message["type"] == "http.request" and message.get("more_body", False)
        if len(body) > most:
            return None
    return body


def _said_length(scope: Scope) -> int:
    said = Headers(scope=scope).get("content-length", "0")
    return int(said) if said.isdecimal() else 0


def _replay(body: bytes, receive: Receive) -> Receive:
    """Give the body once, then whatever comes after it."""
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def replayed() -> Message:
        return waiting.pop() if waiting else await receive()

    return replayed
