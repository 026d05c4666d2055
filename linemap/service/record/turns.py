"""Records of requests that wait at the same time, stored together: one commit for all of them.

A commit waits for the disk, and writers take turns. One thread writes for all requests of a server, and takes
along everything that came in while it wrote: neither the disk nor the handing over between threads bounds the
rate of single records alone.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from itertools import groupby
from typing import TypeAlias

from linemap.answers.record import EventResult
from linemap.domain.record.event import Event
from linemap.service.record.known import Known
from linemap.service.record.record import Refused, record_events
from linemap.store.database import Database

#: What records are held against, and the records of one request as they were read.
Reported: TypeAlias = tuple[Known, Sequence[Event | Refused]]
#: Reads the records of one request; called in the writing thread.
Prepare: TypeAlias = Callable[[], Reported]

#: Records stored in one transaction at most, unless one request alone brings more.
_MOST = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """What became of the records of one request."""

    outcomes: tuple[EventResult, ...]
    #: Of the job when they were on the disk.
    data_version: int


@dataclass(slots=True, eq=False)
class _Waiting:
    prepare: Prepare
    answer: Future[Stored] = field(default_factory=Future)
    #: Set once it is prepared.
    reported: Reported = field(init=False)


class Turns:
    """The intake of one job; shared between the threads of one server."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._queue: deque[_Waiting] = deque()
        self._writer = _writer()

    def record(self, prepare: Prepare) -> Future[Stored]:
        """Store the records that `prepare` reads, as `record_events` does.

        Returns
        -------
        Future
            Done when they are on the disk. It holds the error when they could not be read or stored; nothing
            of these records is stored then.
        """
        mine = _Waiting(prepare)
        self._queue.append(mine)
        self._writer.submit(self._take_turn)
        return mine.answer

    def close(self) -> None:
        """Store what still waits and let the thread go; whoever records after that starts another."""
        writer, self._writer = self._writer, _writer()
        writer.shutdown()

    def _take_turn(self) -> None:
        """Store everything that waits; what comes meanwhile has a turn of its own."""
        ready = [waiting for waiting in self._waiting() if _prepared(waiting)]
        for _known, group in groupby(ready, key=lambda waiting: id(waiting.reported[0])):
            for together in _portions(list(group)):
                self._store(together)

    def _waiting(self) -> Iterator[_Waiting]:
        while self._queue:
            waiting = self._queue.popleft()
            if waiting.answer.set_running_or_notify_cancel():
                yield waiting

    def _store(self, together: Sequence[_Waiting]) -> None:
        try:
            self._store_as_one(together)
        except Exception as error:  # it belongs to one of them, or to all: each stands for itself
            if len(together) == 1:
                together[0].answer.set_exception(error)
                return
            for waiting in together:
                self._store([waiting])

    def _store_as_one(self, together: Sequence[_Waiting]) -> None:
        records = [each for waiting in together for each in waiting.reported[1]]
        outcomes = iter(record_events(self._database, together[0].reported[0], records))
        version = self._database.versions()[0]
        for waiting in together:
            own = tuple(next(outcomes) for _ in waiting.reported[1])
            waiting.answer.set_result(Stored(outcomes=own, data_version=version))


def _writer() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(max_workers=1, thread_name_prefix="intake")


def _prepared(waiting: _Waiting) -> bool:
    """Read the records of a request; a request that cannot be read is told so."""
    try:
        waiting.reported = waiting.prepare()
    except Exception as error:
        waiting.answer.set_exception(error)
        return False
    return True


def _portions(group: Sequence[_Waiting]) -> Iterator[list[_Waiting]]:
    """Part requests into transactions that are not too large."""
    portion: list[_Waiting] = []
    size = 0
    for waiting in group:
        if portion and size + len(waiting.reported[1]) > _MOST:
            yield portion
            portion, size = [], 0
        portion.append(waiting)
        size += len(waiting.reported[1])
    if portion:
        yield portion
