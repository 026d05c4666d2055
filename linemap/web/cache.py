"""Answers kept as bytes per data version: built once, compressed once, revalidated by ETag."""

from __future__ import annotations

import gzip
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from types import MappingProxyType
from typing import Annotated, Any, TypeVar

import orjson
from fastapi import Depends, Query
from starlette.requests import Request
from starlette.responses import Response

from linemap.domain.kind.when import When
from linemap.domain.record.person import Audience, Person
from linemap.service.people.redact import Redactor, redact_view
from linemap.service.record.live import refreshed
from linemap.service.view.build import compute_view
from linemap.service.view.view import Computed, JobView, in_zone
from linemap.settings import Settings
from linemap.store.database import Database
from linemap.web.large_part import LargePart

#: Key of an ASGI scope under which the person stands who asks.
PERSON = "linemap.person"

T = TypeVar("T")

#: So many views of other times are kept, of each audience.
_PAST_VIEWS = 4
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
        #: The open job, and what this server was told.
        self.database, self.settings, self._clock = database, settings, today
        self._zone = ""
        self._lock, self._looking_back = threading.Lock(), threading.Lock()
        self._computed: Computed | None = None
        self._view: JobView | None = None
        self._key: tuple[int, date] | None = None
        self._kept: dict[str, Any] = {}
        self._based: dict[str, tuple[tuple[int, date], Any]] = {}
        self._past: OrderedDict[tuple[When, int, date], JobView] = OrderedDict()
        self._joined: dict[str, tuple[JobView, CachedAnswer]] = {}

    def today(self) -> date:
        """Return the day it is in the job's zone; before the job was looked at, that of the clock."""
        return self._dated(self._clock())

    def _dated(self, moment: date) -> date:
        return in_zone(moment, self._zone).date() if isinstance(moment, datetime) else moment

    def data_version(self) -> int:
        """Return the job's data version as the database has it now."""
        return self.database.versions()[0]

    def view(self) -> JobView:
        """Return the job as it stands now; new records are brought in without computing the rest anew."""
        now = self._clock()
        key = (self.data_version(), self._dated(now))
        with self._lock:
            if self._view is None or self._key != key:
                self._computed = self._as_it_stands(now)
                self._view = self._computed.view
                if isinstance(now, datetime):
                    self._zone = self._view.zone
                self._key = (self._view.data_version, self._dated(now))
                self._kept = {}
            return self._view

    def view_of(self, when: When) -> JobView:
        """Return the job as of a day and as known by a day; the last few that were asked for are kept."""
        key = (when, self.data_version(), self.today())
        if when.is_now:
            return self.view()
        # one at a time: each takes as long as computing the job does
        with self._looking_back:
            kept = self._past.get(key) or self._at(when)
            self._past[key] = kept
            self._past.move_to_end(key)
            while len(self._past) > _PAST_VIEWS:
                self._past.popitem(last=False)
        return kept

    def _at(self, when: When) -> JobView:
        return compute_view(self.database, today=self._clock(), when=when, data_date=self.settings.as_of).view

    def _as_it_stands(self, today: date) -> Computed:
        if self._computed is not None and self._key is not None and self._key[1] == self._dated(today):
            grown = refreshed(self._computed, self.database)
            if grown is not None:
                return grown
        return compute_view(self.database, today=today, data_date=self.settings.as_of)

    def answer(self, name: str, build: Callable[[JobView], object]) -> CachedAnswer:
        """Return the named answer's bytes, built by `build` at most once per data version."""
        return self.made(f"answer {name}", lambda view: _packed(self.etag(view), build(view)))

    def answer_in_parts(
        self,
        name: str,
        base: Callable[[JobView], object],
        numbers: Callable[[JobView], object],
    ) -> CachedAnswer:
        """Return an answer whose `base` no record of the field changes, built and compressed once for all.

        `numbers` is made of the whole job after each record, whoever asks: it must hold no words.
        """
        whole = self.whole_view()
        kept = self._joined.get(name)
        if kept is None or kept[0] is not whole:
            based_on, front = self._of_base(
                f"large part {name}", whole.base_version, lambda view: LargePart.of(base(view))
            )
            if based_on != whole.base_version:  # the job was loaded anew meanwhile
                return self.answer_in_parts(name, base, numbers)
            raw, packed = front.joined(numbers(whole))
            kept = self._joined[name] = (whole, CachedAnswer(etag=self.etag(whole), raw=raw, packed=packed))
        return kept[1]

    def ready(self, name: str) -> CachedAnswer | None:
        """Return what `answer_in_parts` made if nothing was written since; None = ask that, in a thread.

        To hand a request to a thread and back takes longer than all the rest of it.
        """
        made_of, answer = self._joined.get(name, (None, None))
        return answer if self.database.tells_at_once and self.stands(made_of) else None

    def stands(self, whole: JobView | None) -> bool:
        """Say whether a view of the whole job is the newest one."""
        return self._key == (self.data_version(), self.today()) and self._view is whole

    def whole_view(self) -> JobView:
        """Return the job with everything in it; nothing of it may be shown without being looked at."""
        return self.view()

    def made_of_base(self, name: str, make: Callable[[JobView], T]) -> T:
        """Return what `make` makes of the job, made again only when more than the record changed.

        Until then the job is not even brought up to date: whoever stores a record need not wait for that.
        """
        return self._of_base(name, self.database.versions()[1], make)[1]

    def _of_base(self, name: str, base_version: int, make: Callable[[JobView], T]) -> tuple[int, T]:
        """Return what was made, and the base version it was made of, which may be newer."""
        today = self.today()
        kept = self._based.get(name)
        if kept is None or kept[0] != (base_version, today):
            view = self.view()
            kept = self._based[name] = ((view.base_version, today), make(view))
        return kept[0][0], kept[1]

    def etag(self, view: JobView) -> str:
        """Return the tag of what is made from a view: two answers with one tag are the same."""
        return f'"{view.mark}-{view.data_version}-{view.as_of.isoformat()}"'

    def made(self, name: str, make: Callable[[JobView], T]) -> T:
        """Return whatever `make` makes of the job, made at most once per data version and name."""
        view = self.view()
        with self._lock:
            kept = self._kept if self._view is view else {}
        if name not in kept:
            kept[name] = make(view)
        found: T = kept[name]
        return found


class AudienceCache(AnswerCache):
    """The job as one audience may see it: whatever is made here is made from the redacted view."""

    def __init__(self, whole: AnswerCache, audience: Audience) -> None:
        super().__init__(whole.database, whole.settings, today=whole.today)
        self._whole = whole
        self._audience = audience
        self._redactor = Redactor(audience)
        self._redacted_from: JobView | None = None

    def view(self) -> JobView:
        """Return the job without what this audience may not see, redacted once per view of the whole."""
        whole = self._whole.view()
        with self._lock:
            if self._view is None or self._redacted_from is not whole:
                self._view = self._redactor.redacted(whole)
                self._redacted_from = whole
                self._kept = {}
            return self._view

    def _at(self, when: When) -> JobView:
        return redact_view(self._whole.view_of(when), self._audience)

    def stands(self, whole: JobView | None) -> bool:
        """Say whether a view of the whole job is the newest one."""
        return self._whole.stands(whole)

    def whole_view(self) -> JobView:
        """Return the job with everything in it; nothing of it may be shown without being looked at."""
        return self._whole.view()

    def etag(self, view: JobView) -> str:
        """Return a tag that no other audience has: one browser may change hands."""
        return f'"{view.mark}-{view.data_version}-{view.as_of.isoformat()}-{self._audience}"'


def audience_caches(whole: AnswerCache) -> Mapping[Audience, AnswerCache]:
    """Return one cache for each audience over one computed job."""
    return MappingProxyType({audience: AudienceCache(whole, audience) for audience in Audience})


def _packed(etag: str, body: object) -> CachedAnswer:
    raw = orjson.dumps(body, option=orjson.OPT_SERIALIZE_NUMPY)
    packed = gzip.compress(raw, 6, mtime=0) if len(raw) > _WORTH_COMPRESSING else None
    return CachedAnswer(etag=etag, raw=raw, packed=packed)


def cached_response(request: Request, answer: CachedAnswer) -> Response:
    """Send a cached answer: 304 when the caller has it, packed when the caller takes gzip."""
    headers = {"etag": answer.etag, "cache-control": "private, no-cache", "vary": "accept-encoding, cookie"}
    if answer.etag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    if answer.packed is not None and "gzip" in request.headers.get("accept-encoding", ""):
        headers["content-encoding"] = "gzip"
        return Response(answer.packed, media_type="application/json", headers=headers)
    return Response(answer.raw, media_type="application/json", headers=headers)


def answered(
    request: Request, cache: AnswerCache, when: When, name: str, build: Callable[[JobView], object]
) -> Response:
    """Send what `build` makes of the job: kept under its name, or made for this request of another time."""
    if when.is_now:
        return cached_response(request, cache.answer(name, build))
    return json_answer(build(cache.view_of(when)), headers={"cache-control": "private, no-cache"})


def json_answer(
    answer: object, *, status: int = 200, headers: Mapping[str, str] = MappingProxyType({})
) -> Response:
    """Send what the service answers, made for this request alone."""
    return Response(
        orjson.dumps(answer), status_code=status, media_type="application/json", headers=dict(headers)
    )


_AsOf = Annotated[date | None, Query(description="what had happened by the end of this day, and was true")]
_KnownBy = Annotated[date | None, Query(description="and was known by the end of this day")]


async def answers(request: Request) -> AnswerCache:
    """Return the answers for whoever asks; a dependency of the routes (`async` spares it a thread).

    A request that nobody looked at (no `linemap.web.permission` before it) is answered as to the public.
    """
    asking: Person | None = request.scope.get(PERSON)
    audience = Audience.PUBLIC if asking is None else asking.audience
    caches: Mapping[Audience, AnswerCache] = request.app.state.answers
    return caches[audience]


async def asked_when(as_of: _AsOf = None, known_by: _KnownBy = None) -> When:
    """Return the time an answer is asked for; a dependency of the routes."""
    return When(as_of=as_of, known_by=known_by)


#: What a route takes to answer of another time.
AtTime = Annotated[When, Depends(asked_when)]
#: What a route takes to answer whoever asks.
Answers = Annotated[AnswerCache, Depends(answers)]
