"""The server of `sandbox.call_all`: how a program starts it, how it forks children, what a child does.

The server has one thread, brings in the modules it is told, and looks at no file. It ends when the program
that started it does, and ends a child nobody waits for.
"""

from __future__ import annotations

import atexit
import contextlib
import ctypes
import gc
import importlib
import json
import os
import pickle
import selectors
import signal
import socket
import stat
import struct
import subprocess
import sys
import threading
import traceback
import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final, NoReturn

from linemap.errors import InputRefused
from linemap.io.source.confine import confine
from linemap.io.source.parcel import packed

if sys.platform != "win32":
    import fcntl

#: What goes before a request and before each answer: its length.
LENGTH: Final = struct.Struct("=Q")
#: How a child ended: its exit code, or the signal as a negative number.
STATUS: Final = struct.Struct("=i")
CHUNK: Final = 1 << 20
#: Exit code of a child whose memory did not suffice.
NO_MEMORY: Final = 77
#: Length of what the server is sent for a child: the modules to bring in, as JSON, and two sockets.
ORDER_BYTES: Final = 512
_END_WITH_PARENT: Final = 1
#: Values made before garbage is looked for: what a child makes of a file it sends, and ends.
_MADE: Final = 100_000


class ServerGone(Exception):  # noqa: N818 - named by what happened
    """The server died before a child ended."""


class Server:
    """The process that forks a child for each call; started when it is first asked, and again if it died."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._control: socket.socket | None = None
        self._pid = self._owner = 0

    def fork(self, modules: Sequence[str], data: int, watch: int) -> None:
        """Have a child forked that talks by `data`; the server tells by `watch` how it ended."""
        order = json.dumps([*modules]).encode().ljust(ORDER_BYTES)
        with self._lock:
            for again in (True, False):
                control = self._started()
                try:
                    socket.send_fds(control, [order], [data, watch])
                    return
                except OSError:
                    self._stop()
                    if not again:
                        raise ServerGone from None

    def start(self) -> None:
        """Start the server unless it is there."""
        with self._lock:
            self._started()

    def _started(self) -> socket.socket:
        if self._control is not None and self._owner == os.getpid():
            return self._control
        control, far = socket.socketpair()
        with far:
            if threading.active_count() == 1:
                self._pid = _fork()
                if not self._pid:
                    control.close()
                    serve(far.detach())
            else:
                self._pid = _spawned(far.fileno())
        self._control, self._owner = control, os.getpid()
        return control

    def stop(self) -> None:
        """End the server, if this process started one."""
        with self._lock:
            self._stop()

    def _stop(self) -> None:
        control, self._control = self._control, None
        if control is not None:
            control.close()
            if self._owner == os.getpid():
                with contextlib.suppress(ChildProcessError):
                    os.waitpid(self._pid, 0)

    @property
    def pid(self) -> int:
        """The server's process, 0 before the first call."""
        return self._pid if self._control is not None else 0


def _fork() -> int:
    """Fork; the threads of numpy, of which Python warns, are ended and begun again by numpy itself."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        return os.fork()


SERVER: Final = Server()
atexit.register(SERVER.stop)

_START = """import json, sys
sys.path[:] = json.loads(sys.argv[1])
from linemap.io.source.fork_server import serve
serve(int(sys.argv[2]))"""
#: What the server may know of the program's surroundings: no password, no address of a database.
_KEPT: Final = {
    "PATH",
    "HOME",
    "LANG",
    "TZ",
    "PROJ_DATA",
    "PROJ_LIB",
    "GDAL_DATA",
    "XDG_DATA_HOME",
    "LD_LIBRARY_PATH",
}


def _spawned(control: int) -> int:
    known = {name: value for name, value in os.environ.items() if name in _KEPT or name.startswith("LC_")}
    process = subprocess.Popen(  # noqa: S603 - this Python, with a script that stands above
        [sys.executable, "-I", "-c", _START, json.dumps(sys.path), str(control)],
        pass_fds=(control,),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**known, "OPENBLAS_NUM_THREADS": "1"},
    )
    process.returncode = 0  # it is waited for by its number
    return process.pid


def serve(control: int) -> NoReturn:
    """Be the server until the program at the other end of a socket closes it."""
    serving = _Serving(socket.socket(fileno=control))
    try:
        serving.run()
    finally:
        serving.end()
        os._exit(0)


class _Serving:
    """Children by the socket on which the program watches each."""

    def __init__(self, control: socket.socket) -> None:
        self._control = control
        self._pids: dict[socket.socket, int] = {}
        _let_go(control.fileno())
        self._ended, bell = socket.socketpair()
        for end in (self._ended, bell):
            end.setblocking(False)
        self._bell = bell
        signal.set_wakeup_fd(bell.fileno(), warn_on_full_buffer=False)
        signal.signal(signal.SIGCHLD, lambda *_: None)
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # the program is asked, and closes the socket
        self._selector = selectors.DefaultSelector()
        self._selector.register(control, selectors.EVENT_READ)
        self._selector.register(self._ended, selectors.EVENT_READ)

    def run(self) -> None:
        """Fork, watch and end children."""
        gc.freeze()  # children share what is there; to look for garbage in it would copy it
        gc.set_threshold(_MADE)
        while True:
            for key, _ in self._selector.select():
                if key.fileobj is self._control:
                    if not self._fork():
                        return
                elif key.fileobj is self._ended:
                    self._collect()
                elif key.fileobj in self._pids:  # the program closed it: nobody waits
                    self._selector.unregister(key.fileobj)
                    os.kill(self._pids[key.fileobj], signal.SIGKILL)

    def end(self) -> None:
        """End the children that are there."""
        for pid in self._pids.values():
            os.kill(pid, signal.SIGKILL)

    def _fork(self) -> bool:
        order, handles, _, _ = socket.recv_fds(self._control, ORDER_BYTES, 2, socket.MSG_WAITALL)
        if len(order) < ORDER_BYTES or len(handles) != 2:
            return False
        for name in json.loads(order):
            with contextlib.suppress(ImportError):
                importlib.import_module(name)
        data, watch = (socket.socket(fileno=handle) for handle in handles)
        with data:
            pid = _fork()
            if not pid:
                self._be_child(data, watch)
        self._pids[watch] = pid
        self._selector.register(watch, selectors.EVENT_READ)
        return True

    def _be_child(self, data: socket.socket, watch: socket.socket) -> NoReturn:
        signal.set_wakeup_fd(-1)
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        if sys.platform == "linux":
            ctypes.CDLL(None).prctl(_END_WITH_PARENT, signal.SIGKILL, 0, 0, 0)
        self._selector.close()
        for other in (watch, self._control, self._ended, self._bell, *self._pids):
            other.close()
        _answer(data)

    def _collect(self) -> None:
        """Tell the program of the children that ended."""
        with contextlib.suppress(BlockingIOError):
            while self._ended.recv(64):
                pass
        for watch, pid in list(self._pids.items()):
            ended, status = os.waitpid(pid, os.WNOHANG)
            if ended:
                del self._pids[watch]
                with contextlib.suppress(KeyError):
                    self._selector.unregister(watch)
                with watch, contextlib.suppress(OSError):
                    watch.send(STATUS.pack(os.waitstatus_to_exitcode(status)))


def _let_go(control: int) -> None:
    """Let go of what the program has open for writing or talking: its job, its terminal, its callers."""
    nothing = os.open(os.devnull, os.O_RDWR)
    for standard in (0, 1, 2):
        os.dup2(nothing, standard)
    for name in os.listdir("/dev/fd"):
        handle = int(name)
        with contextlib.suppress(OSError):  # the listing's own handle is gone by now
            written = fcntl.fcntl(handle, fcntl.F_GETFL) & os.O_ACCMODE != os.O_RDONLY
            talks = stat.S_ISSOCK(os.fstat(handle).st_mode)
            if handle > 2 and handle != control and (written or talks):
                os.close(handle)


def _answer(data: socket.socket) -> NoReturn:
    """Be the child: take the request, become confined, call the functions, send what comes of each."""
    code = 1
    try:
        request = _exactly(data, *LENGTH.unpack(_exactly(data, LENGTH.size)))
        limits, readable, calls = pickle.loads(request)  # noqa: S301 - it comes from the program itself
        confine(limits, readable)
        for call in calls:
            answer = packed(_outcome(call))
            data.sendall(LENGTH.pack(len(answer)))
            data.sendall(answer)
        code = 0
    except MemoryError:
        code = NO_MEMORY
    finally:
        os._exit(code)


def _exactly(source: socket.socket, size: int) -> bytes:
    held = bytearray()
    while len(held) < size:
        part = source.recv(min(CHUNK, size - len(held)))
        if not part:
            raise EOFError("the program that asked is gone")
        held += part
    return bytes(held)


def _outcome(call: bytes) -> tuple[str, Any]:
    """Return ("value", ...), ("refused", problems) or ("fault", words)."""
    try:
        return "value", pickle.loads(call)()  # noqa: S301 - from the program itself
    except InputRefused as refusal:
        return "refused", refusal.problems
    except MemoryError:
        raise
    except Exception as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        return "fault", f"{type(error).__name__} in {Path(place.filename).name}, line {place.lineno}: {error}"
