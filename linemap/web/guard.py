"""Response headers that keep a page to its own server: content policy, framing, sniffing, referrer.

Pages need no address outside the server. The one exception is a tile source the job's owner configures,
whose origin is then added to the images allowed.
"""

from __future__ import annotations

from urllib.parse import urlsplit

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["GuardHeaders", "content_policy"]

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
            "permissions-policy": "camera=(), microphone=(), geolocation=(self)",
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
