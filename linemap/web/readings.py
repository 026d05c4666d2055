"""Files of proposals while they are read: each proposal once at a time, a few side by side."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from linemap.errors import Conflict, LinemapError

_log = logging.getLogger(__name__)


class Readings:
    """The readings of one server, in threads of their own; shared between its requests.

    What is found, or wrong, is kept with the proposal. A reading ends by itself once its proposal is dropped.
    """

    def __init__(self, *, at_once: int) -> None:
        self._threads = ThreadPoolExecutor(max_workers=at_once, thread_name_prefix="reading")
        self._lock = threading.Lock()
        self._reading: set[str] = set()

    def start(self, proposal_id: str, *, begin: Callable[[], object], read: Callable[[], object]) -> None:
        """Begin now, and read as soon as a thread is free; `Conflict` = these files are being read."""
        with self._lock:
            if proposal_id in self._reading:
                raise Conflict("these files are being read; wait for that, or drop them")
            self._reading.add(proposal_id)
        try:
            begin()
        except BaseException:
            self._done(proposal_id)
            raise
        self._threads.submit(self._read, proposal_id, read)

    def close(self) -> None:
        """Let what is being read end, and start nothing more."""
        self._threads.shutdown(cancel_futures=True)

    def _read(self, proposal_id: str, read: Callable[[], object]) -> None:
        try:
            read()
        except LinemapError as error:
            _log.info("reading %s ended: %s", proposal_id, error)
        except Exception:
            _log.exception("reading %s failed", proposal_id)
        finally:
            self._done(proposal_id)

    def _done(self, proposal_id: str) -> None:
        with self._lock:
            self._reading.discard(proposal_id)
