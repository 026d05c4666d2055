"""Answers kept as bytes per data version: built once, compressed once, revalidated by ETag."""

from __future__ import annotations

import gzip
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

import orjson
from starlette.requests import Request
from starlette.responses import Response

from linemap.service.view import JobView, build_view
from linemap.settings import Settings
from linemap.store.database import Database
from linemap.store.job import load_data_version

__all__ = ["AnswerCache", "CachedAnswer", "answers", "cached_response"]

T = TypeVar("T")

#: Below this many bytes compression costs more than it saves.
_WORTH_COMPRESSING = 1400


@dataclass(frozen=True, slots=True, kw_only=True)
class CachedAnswer:
    """The bytes of one answer for one data version."""

    etag: str
    raw: bytes
    packed: bytes | None


class AnswerCache:
    """The computed job and its answers for the newest data version; may be shared between threads."""

    def __init__(self, database: Database, settings: Settings, *, today: Callable[[], date]) -> None:
        self._database = database
        self._settings = settings
        self._today = today
        self._lock = threading.Lock()
        self._view: JobView | None = None
        self._key: tuple[int, date] | None = None
        self._kept: dict[str, Any] = {}

    @property
    def database(self) -> Database:
        """The open job."""
        return self._database

    def data_version(self) -> int:
        """Return the job's data version as the database has it now."""
        with self._database.reading() as connection:
            return load_data_version(connection)

    def view(self) -> JobView:
        """Return the job as it stands now, computed anew only when its data or the day changed."""
        key = (self.data_version(), self._today())
        with self._lock:
            if self._view is None or self._key != key:
                self._view = build_view(
                    self._database,
                    today=key[1],
                    as_of=self._settings.as_of,
                    tile_url=self._settings.tile_url,
                    tile_attribution=self._settings.tile_attribution,
                )
                self._key = key
                self._kept = {}
            return self._view

    def answer(self, name: str, build: Callable[[JobView], dict[str, Any]]) -> CachedAnswer:
        """Return the named answer's bytes, built by `build` at most once per data version."""
        return self.made(f"answer {name}", lambda view: _packed(view, build(view)))

    def made(self, name: str, make: Callable[[JobView], T]) -> T:
        """Return whatever `make` makes of the job, made at most once per data version and name."""
        view = self.view()
        with self._lock:
            kept = self._kept if self._view is view else {}
        if name not in kept:
            kept[name] = make(view)
        found: T = kept[name]
        return found


def _packed(view: JobView, body: dict[str, Any]) -> CachedAnswer:
    raw = orjson.dumps(body, option=orjson.OPT_SERIALIZE_NUMPY)
    packed = gzip.compress(raw, 6, mtime=0) if len(raw) > _WORTH_COMPRESSING else None
    return CachedAnswer(etag=f'"{view.data_version}-{view.as_of.isoformat()}"', raw=raw, packed=packed)


def cached_response(request: Request, answer: CachedAnswer) -> Response:
    """Send a cached answer: 304 when the caller has it, packed when the caller takes gzip."""
    headers = {"etag": answer.etag, "cache-control": "no-cache", "vary": "accept-encoding"}
    if answer.etag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    if answer.packed is not None and "gzip" in request.headers.get("accept-encoding", ""):
        headers["content-encoding"] = "gzip"
        return Response(answer.packed, media_type="application/json", headers=headers)
    return Response(answer.raw, media_type="application/json", headers=headers)


def answers(request: Request) -> AnswerCache:
    """Return the application's answer cache; a dependency of the routes."""
    cache: AnswerCache = request.app.state.answers
    return cache
