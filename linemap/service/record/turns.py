"""Records of requests that wait at the same time, stored together: one commit for all of them.

A commit waits for the disk, and writers take turns. Whoever's turn it is takes along everything that came in
while it waited, so the rate of single records is not bounded by the disk alone.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass, field

from linemap.domain.record.event import Event
from linemap.service.record.record import Known, Recorded, Refused, record_events
from linemap.store.database import Database

__all__ = ["Turns"]

#: Records stored in one transaction at most, unless one request alone brings more.
_MOST = 2000


@dataclass(slots=True, eq=False)
class _Waiting:
    known: Known
    reported: Sequence[Event | Refused]
    recorded: Recorded | None = field(default=None)


class Turns:
    """The intake of one job; shared between the threads of one server."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._turn = threading.Lock()
        self._door = threading.Lock()
        self._queue: list[_Waiting] = []

    def record(self, known: Known, reported: Sequence[Event | Refused]) -> Recorded:
        """Store records as `record_events` does; return when they are on the disk.

        Raises
        ------
        LinemapError
            If the job cannot be written to; nothing of these records is stored then.
        """
        mine = _Waiting(known, reported)
        with self._door:
            self._queue.append(mine)
        with self._turn:
            if mine.recorded is None:
                self._store(self._taken(mine))
        if mine.recorded is None:  # the one whose turn it was failed; this request stands for itself
            return record_events(self._database, known, reported)
        return mine.recorded

    def _taken(self, mine: _Waiting) -> list[_Waiting]:
        """Take what waits beside one's own and is held against the same, as far as it is not too much."""
        with self._door:
            if mine not in self._queue:  # taken along by another, whose transaction failed
                return []
            self._queue.remove(mine)
            taken, size = [mine], len(mine.reported)
            for other in list(self._queue):
                if other.known is mine.known and size + len(other.reported) <= _MOST:
                    self._queue.remove(other)
                    taken.append(other)
                    size += len(other.reported)
        return taken

    def _store(self, taken: Sequence[_Waiting]) -> None:
        if not taken:
            return
        together = [each for waiting in taken for each in waiting.reported]
        outcomes = iter(record_events(self._database, taken[0].known, together).outcomes)
        for waiting in taken:
            own = tuple(next(outcomes) for _ in waiting.reported)
            stored = sum(outcome.outcome == "stored" for outcome in own)
            waiting.recorded = Recorded(outcomes=own, stored=stored)
