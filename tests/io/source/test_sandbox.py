"""Children that read files: what they may use, what they reach, and what the program hears when they die."""

from __future__ import annotations

import contextlib
import os
import pickle
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from functools import partial
from pathlib import Path
from typing import Any

import apart
import numpy as np
import pytest
import shapely

from linemap.domain.record.event import Event
from linemap.errors import InputRefused, Severity
from linemap.io.source.confine import Limits, landlock_version
from linemap.io.source.fork_server import SERVER
from linemap.io.source.parcel import packed, unpacked
from linemap.io.source.sandbox import Call, Cancelled, ReadingStopped, call_all

pytestmark = pytest.mark.process

FILE = "list.csv"
SOON = Limits(cpu_s=1, wall_s=30)


def of(
    function: Callable[..., Any], *arguments: Any, readable: tuple[Path, ...] = (), size: int = 0
) -> Call[Any]:
    return Call(work=partial(function, *arguments), file=FILE, readable=readable, size=size)


def call(each: Call[Any], *, limits: Limits | None = None) -> Any:
    """Return what one call returns, or raise what refuses its file."""
    (answer,) = call_all([each], limits=limits)
    if isinstance(answer, InputRefused):
        raise answer
    return answer


@contextlib.contextmanager
def a_second_thread() -> Iterator[None]:
    """Be a program with several threads, which starts its server anew."""
    end = threading.Event()
    thread = threading.Thread(target=end.wait)
    thread.start()
    try:
        yield
    finally:
        end.set()
        thread.join()


def is_there(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    # one that ended and was not waited for yet
    return Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")", 1)[1].split()[0] != "Z"


def until(condition: Callable[[], bool]) -> bool:
    end = time.monotonic() + 20
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.02)
    return True


def test_a_value_comes_back_from_another_process() -> None:
    assert call(of(apart.triple, 4)) == 12
    assert call(of(apart.process)) not in {os.getpid(), SERVER.pid}


@pytest.mark.parametrize(
    ("function", "argument", "why", "words"),
    [
        (apart.allocate, (3 << 30,), "memory", "takes more than 1,024 MB of memory"),
        (apart.loop, (), "time", "takes longer than 1 seconds"),
        (apart.end_by, (signal.SIGSEGV,), "signal", "SIGSEGV"),
        (apart.end_by, (signal.SIGABRT,), "memory", "SIGABRT"),
        (apart.end_by, (signal.SIGKILL,), "signal", "SIGKILL"),
        (apart.leave, (0,), "signal", "code 0"),
        (apart.fail, (), "fault", r"KeyError in apart\.py, line \d+"),
    ],
)
def test_a_child_that_dies_is_one_refusal_with_file_and_reason(
    function: Callable[..., Any], argument: tuple[Any, ...], why: str, words: str
) -> None:
    with pytest.raises(ReadingStopped, match=words) as stopped:
        call(of(function, *argument), limits=SOON)
    assert stopped.value.why == why
    (problem,) = stopped.value.problems
    assert problem.file == FILE
    assert problem.remedy


def test_a_child_that_only_waits_is_ended_too() -> None:
    with pytest.raises(ReadingStopped, match=r"longer than 0\.3 seconds"):
        call(of(apart.wait, 600), limits=Limits(wall_s=0.3))


def test_the_network_is_not_reached() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port = listening.getsockname()[1]
        with pytest.raises(ReadingStopped, match="PermissionError"):
            call(of(apart.connect, port))
        apart.connect(port)  # from here it is


@pytest.mark.parametrize("function", [apart.run_a_program, apart.fork])
def test_no_program_is_started(function: Callable[[], None]) -> None:
    with pytest.raises(ReadingStopped, match="PermissionError"):
        call(of(function))


def test_only_the_file_that_is_meant_can_be_read_and_none_written(tmp_path: Path) -> None:
    assert landlock_version(), "these tests want a kernel with Landlock (Linux 5.13)"
    meant, other = tmp_path / "meant.csv", tmp_path / "other.csv"
    for path in (meant, other):
        path.write_text(path.stem, encoding="utf-8")
    assert call(of(apart.read, meant, readable=(meant,))) == "meant"
    for refused in (of(apart.read, other, readable=(meant,)), of(apart.write, meant, readable=(meant,))):
        with pytest.raises(ReadingStopped, match="PermissionError"):
            call(refused)
    with pytest.raises(ReadingStopped, match="PermissionError"):
        call(of(apart.read, Path("/etc/passwd")))
    assert meant.read_text(encoding="utf-8") == "meant"


def test_a_death_concerns_its_file_alone() -> None:
    told: list[tuple[int, int]] = []
    calls = [
        of(apart.triple, 1, size=10),
        of(apart.end_by, signal.SIGSEGV, size=9),
        of(apart.fail, size=8),
        of(apart.triple, 2, size=1),
    ]
    first, second, third, last = call_all(calls, progress=lambda done, total: told.append((done, total)))
    assert (first, last) == (3, 6)
    assert isinstance(second, ReadingStopped)
    assert isinstance(third, ReadingStopped)
    assert (second.why, third.why) == ("signal", "fault")
    assert told == [(10, 28), (19, 28), (27, 28), (28, 28)]


def test_large_files_are_read_beside_each_other_and_come_back_in_order() -> None:
    calls = [of(apart.triple, number, size=number << 20) for number in range(6)]
    assert call_all(calls) == [0, 3, 6, 9, 12, 15]
    assert call_all([]) == []


def test_reading_can_be_cancelled() -> None:
    begun = time.monotonic()
    with pytest.raises(Cancelled):
        call_all([of(apart.wait, 600)], cancelled=lambda: time.monotonic() > begun + 0.2)
    assert time.monotonic() - begun < 60
    assert call(of(apart.triple, 1)) == 3


def test_no_more_children_than_processors_work_at_a_time() -> None:
    most = os.cpu_count() or 1
    begun = time.monotonic()
    with ThreadPoolExecutor(4 * most) as pool:
        spans = list(pool.map(lambda _: call(of(apart.wait_between, 0.05)), range(4 * most)))
    assert time.monotonic() - begun < 60
    at_once = [sum(start <= begin < end for start, end in spans) for begin, _ in spans]
    assert max(at_once) <= most


def test_two_threads_ask_at_once() -> None:
    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(lambda number: call(of(apart.triple, number)), range(20)))
    assert found == [number * 3 for number in range(20)]


def test_a_server_that_was_ended_is_replaced_also_while_a_child_reads() -> None:
    call(of(apart.triple, 1))
    first = SERVER.pid
    os.kill(first, signal.SIGKILL)
    assert call(of(apart.triple, 2)) == 6
    second = SERVER.pid
    assert second != first
    with ThreadPoolExecutor(1) as pool:
        answer = pool.submit(call, of(apart.wait, 0.5))
        time.sleep(0.2)
        os.kill(second, signal.SIGKILL)
        assert answer.result() == "waited"


@pytest.mark.parametrize("threads", [1, 2])
def test_the_server_and_its_children_end_with_the_program(threads: int, tmp_path: Path) -> None:
    script = f"""
import os, sys, threading, time
sys.path.insert(0, {str(Path(apart.__file__).parent)!r})
import apart
from functools import partial
from linemap.io.source.fork_server import SERVER
from linemap.io.source.sandbox import Call, call_all
if {threads} > 1:
    threading.Thread(target=time.sleep, args=(600,), daemon=True).start()
call_all([Call(work=partial(apart.process), file="f")])
waits = [Call(work=partial(apart.wait, 600), file="f")]
threading.Thread(target=call_all, args=(waits,), daemon=True).start()
time.sleep(0.5)
print(SERVER.pid, flush=True)
time.sleep(600)
"""
    with subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True) as program:
        assert program.stdout is not None
        server = int(program.stdout.readline())
        children = Path(f"/proc/{server}/task/{server}/children").read_text(encoding="ascii").split()
        assert is_there(server)
        assert len(children) == 1
        program.kill()
    assert until(lambda: not is_there(server))
    assert until(lambda: not is_there(int(children[0])))


def test_a_program_with_threads_starts_its_server_anew() -> None:
    SERVER.stop()
    with a_second_thread():
        assert call(of(apart.triple, 5)) == 15
        command = Path(f"/proc/{SERVER.pid}/cmdline").read_bytes().split(b"\0")
        assert b"-I" in command
        variables = Path(f"/proc/{SERVER.pid}/environ").read_bytes().split(b"\0")
    assert not {name.split(b"=")[0] for name in variables} & {b"PYTEST_CURRENT_TEST", b"LINEMAP_DATABASE"}


def test_a_refusal_comes_back_with_its_problems() -> None:
    with pytest.raises(InputRefused, match="no such file") as refused:
        call(Call(work=partial(apart.refuse, FILE), file=FILE))
    assert not isinstance(refused.value, ReadingStopped)
    assert refused.value.problems[0].severity is Severity.REFUSED


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """A value of the module that is called."""

    name: str
    many: tuple[Any, ...]


def test_values_are_packed_as_they_are() -> None:
    events = tuple(event(number) for number in range(40))
    points = shapely.points([1.0, 2.0], [3.0, 4.0])
    value = {"events": Own(name="x", many=events), "few": list(events[:2]), "a": np.arange(3), "p": points}
    found = unpacked(packed(value), homes=[__name__])
    assert found["events"].many == events
    assert found["few"] == list(events[:2])
    assert found["a"].tolist() == [0, 1, 2]
    assert shapely.equals(found["p"], points).all()
    assert type(found["events"].many[3].happened_at.tzinfo) is type(events[3].happened_at.tzinfo)


def event(number: int) -> Event:
    at = datetime(2026, 5, 1, 8, number, 1, 5, tzinfo=timezone(timedelta(hours=-6)) if number % 2 else UTC)
    return Event(
        id=f"00000000-0000-0000-0000-{number:012d}",
        line="N",
        structure="1",
        step="dug",
        happened_at=at,
        received_at=at,
    )


def test_nothing_but_values_is_taken_from_a_child() -> None:
    for harmful in (os.system, subprocess.Popen, Path("/"), apart.Stranger()):
        with pytest.raises(pickle.UnpicklingError, match="no value that is taken"):
            unpacked(pickle.dumps(harmful), homes=["apart"])
    with pytest.raises(ReadingStopped, match="values do not arrive"):
        call(of(apart.stranger))
