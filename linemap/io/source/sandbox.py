"""Call functions in child processes that may use little and reach nothing, and take back their values.

A server process forks a child for each group of calls, so that a call costs milliseconds and no library is
started twice. A program with one thread (a command) forks the server from itself, with all it has imported;
one with several threads, where a fork could hang, starts it anew. The server ends when the program does and
is replaced when it dies. What a child sends is taken for data only: values of the floors below, arrays and
dates are made of it, and nothing is called.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from signal import Signals
from typing import Any, Final, Generic, Literal, TypeVar

from linemap.errors import InputRefused, LinemapError, Problem
from linemap.io.source.confine import Limits
from linemap.io.source.fork_server import CHUNK, LENGTH, NO_MEMORY, SERVER, STATUS, ServerGone
from linemap.io.source.parcel import unpacked

T = TypeVar("T")
Why = Literal["memory", "time", "signal", "fault"]
#: Told the bytes of the files that are read, and of all.
Progress = Callable[[int, int], None]

#: Seconds between two looks at whether the caller still wants the answer.
_LOOK_S: Final = 0.1
#: Files smaller than this together are read by one child.
_GROUP_BYTES: Final = 256 * 1024
#: How often another server is started for the same files.
_TRIES: Final = 2
#: As many children at a time as there are processors, whoever asks.
_ROOM: Final = threading.BoundedSemaphore(os.cpu_count() or 1)


class ReadingStopped(InputRefused):
    """The child ended without an answer; the file is refused for it."""

    def __init__(self, file: str, why: Why, reason: str, remedy: str) -> None:
        super().__init__(Problem(file=file, reason=reason, remedy=remedy))
        #: What ended it: a limit, a signal, or an error of linemap's own.
        self.why: Why = why


class Cancelled(LinemapError):  # noqa: N818 - named by what happened
    """Nobody waits for the answer any more; the child was ended."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Call(Generic[T]):
    """A function to be called apart, for one file."""

    #: A function that is found by its name, and its arguments, which must be picklable.
    work: partial[T]
    #: Name of the file that refusals give.
    file: str
    #: Files that may be read; none can be written.
    readable: tuple[Path, ...] = ()
    #: Their bytes.
    size: int = 0
    #: Modules to be brought in once for this and later calls, not in each child; their values may come back.
    modules: tuple[str, ...] = ()


def call_all(
    calls: Sequence[Call[T]],
    *,
    limits: Limits | None = None,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] = lambda: False,
) -> list[T | InputRefused]:
    """Return what the calls return, or what refuses their files; in the same order.

    As many children as there are processors work at a time. Where a system cannot fork, the functions are
    called here.

    Parameters
    ----------
    calls : sequence of Call
        Several small files go to one child, one after the other; when it dies, the file it was reading is
        refused and another child goes on with the rest.
    limits : Limits, optional
        By default those for the bytes that a child reads.
    progress : callable
        Told after each file, by one of the threads that wait for children; one at a time.
    cancelled : callable
        Asked ten times a second; when it says True the children are ended.

    Raises
    ------
    Cancelled
        When `cancelled` said so.
    """
    total, lock = sum(each.size for each in calls), threading.Lock()
    found: dict[int, T | InputRefused] = {}
    apart = hasattr(os, "fork")

    def run(group: Sequence[int]) -> None:
        members = [calls[at] for at in group]
        answers = _apart(members, limits, cancelled) if apart else map(_here, members)
        for at, answer in zip(group, answers, strict=True):
            with lock:
                found[at] = answer
                if progress is not None:
                    progress(sum(calls[each].size for each in found), total)

    if apart:
        SERVER.start()  # before there are threads
    groups = _groups([each.size for each in calls])
    if len(groups) == 1:
        run(groups[0])
    elif groups:
        with ThreadPoolExecutor(min(len(groups), os.cpu_count() or 1)) as pool:
            list(pool.map(run, groups))
    return [found[at] for at in range(len(calls))]


def _groups(sizes: Sequence[int]) -> list[list[int]]:
    """Return which calls one child answers: small files together, large ones alone and first."""
    groups: list[list[int]] = []
    room = 0
    for at in sorted(range(len(sizes)), key=lambda at: -sizes[at]):
        if not groups or sizes[at] > room:
            groups.append([])
            room = _GROUP_BYTES
        groups[-1].append(at)
        room -= sizes[at]
    return groups


def _here(each: Call[T]) -> T | InputRefused:
    try:
        return each.work()
    except InputRefused as refusal:
        return refusal


def _apart(calls: Sequence[Call[Any]], limits: Limits | None, cancelled: Callable[[], bool]) -> Iterator[Any]:
    """Give the answers of one child, and of another for what is left when it dies."""
    left, lost = list(calls), 0
    while left:
        got = 0
        try:
            for answer in _child(
                left, limits or Limits.for_bytes(sum(each.size for each in left)), cancelled
            ):
                got += 1
                yield answer
        except ReadingStopped as stop:
            got += 1
            yield stop
        except ServerGone:
            lost += 1
            if lost > _TRIES:
                words = "the process that reads files ends again and again"
                yield from (ReadingStopped(each.file, "fault", words, "try again") for each in left[got:])
                return
        left = left[got:]


def _child(calls: Sequence[Call[Any]], limits: Limits, cancelled: Callable[[], bool]) -> Iterator[Any]:
    """Give the answers of one child; `ReadingStopped` for the call in which it died."""
    readable = [path.absolute() for each in calls for path in each.readable]
    request = pickle.dumps((limits, readable, [pickle.dumps(each.work, 5) for each in calls]), 5)
    modules = sorted({name for each in calls for name in (each.work.func.__module__, *each.modules)})
    while not _ROOM.acquire(timeout=_LOOK_S):
        if cancelled():
            raise Cancelled(f"reading {calls[0].file} was cancelled")
    with contextlib.ExitStack() as held:  # closing the sockets ends the child
        held.callback(_ROOM.release)
        data, far_data = map(held.enter_context, socket.socketpair())
        watch, far_watch = map(held.enter_context, socket.socketpair())
        with far_data, far_watch:
            SERVER.fork(modules, far_data.fileno(), far_watch.fileno())
        wait = _Wait(until=time.monotonic() + limits.wall_s, limits=limits, cancelled=cancelled)
        with contextlib.suppress(OSError):  # it may die before it takes the request
            data.sendall(LENGTH.pack(len(request)) + request)
        for each in calls:
            head = wait.receive(data, LENGTH.size, each.file)
            length = int.from_bytes(head, sys.byteorder)
            sent = wait.receive(data, length, each.file) if 0 < length <= limits.memory_bytes else b""
            if not sent or len(sent) < length:
                status = wait.receive(watch, STATUS.size, each.file)
                if len(status) < STATUS.size:
                    raise ServerGone
                raise _ended(each.file, limits, *STATUS.unpack(status))
            yield _answer(each, sent)


@dataclass(slots=True, kw_only=True)
class _Wait:
    """How long a child is waited for."""

    until: float
    limits: Limits
    cancelled: Callable[[], bool]
    looked: float = 0.0

    def receive(self, source: socket.socket, size: int, file: str) -> bytes:
        """Return as many bytes as are asked for; fewer when no more come."""
        source.settimeout(_LOOK_S)
        held = bytearray()
        while len(held) < size:
            self._look(file)
            try:
                part = source.recv(min(CHUNK, size - len(held)))
            except TimeoutError:
                continue
            except OSError:
                break
            if not part:
                break
            held += part
        return bytes(held)

    def _look(self, file: str) -> None:
        """Look now and then, also while answers come, whether anybody waits and for how long already."""
        if (now := time.monotonic()) < self.looked + _LOOK_S:
            return
        self.looked = now
        if self.cancelled():
            raise Cancelled(f"reading {file} was cancelled")
        if now > self.until:
            raise _too_long(file, self.limits.wall_s)


def _answer(each: Call[Any], sent: bytes) -> Any:
    try:
        what, value = unpacked(sent, homes=(each.work.func.__module__, *each.modules))
    except Exception as error:  # bytes that are no values, whatever they set off
        what, value = "fault", f"its values do not arrive ({type(error).__name__}: {error})"
    if what == "refused":
        return InputRefused(value)
    if what == "fault":
        reason = f"reading it fails inside linemap: {value}"
        return ReadingStopped(each.file, "fault", reason, "export it again, and report this")
    return value


def _too_long(file: str, seconds: float) -> ReadingStopped:
    reason = f"reading it takes longer than {seconds:g} seconds"
    return ReadingStopped(file, "time", reason, "leave out what is not needed, or split the file")


def _ended(file: str, limits: Limits, code: int) -> ReadingStopped:
    """Return the refusal of a file whose child ended by a limit or a signal."""
    if code == NO_MEMORY:
        reason = f"reading it takes more than {limits.memory_bytes >> 20:,} MB of memory"
        return ReadingStopped(file, "memory", reason, "leave out what is not needed, or split the file")
    name = Signals(-code).name if -code in set(Signals) else f"code {code}"
    if name == "SIGXCPU":
        return _too_long(file, limits.cpu_s)
    # libraries that are refused memory abort
    why: Why = "memory" if name == "SIGABRT" else "signal"
    reason = f"reading it ends the program that does it ({name})"
    return ReadingStopped(file, why, reason, "it is damaged or built to do harm; export it again")
