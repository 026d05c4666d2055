"""Accepting and undoing a load, killed with SIGKILL at twenty moments each: the old state or the new one."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from linemap.answers.change import Choices
from linemap.errors import NotFound
from linemap.kinds.registry import HOLDS
from linemap.service.files.proposal import add_proposal_file, begin, begin_undo, load_proposal, read_proposal
from linemap.service.record.log import verify_record
from linemap.store.changes import list_changes
from linemap.store.database import Database, open_job
from linemap.store.lists import load_list

pytestmark = pytest.mark.process
NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
KILLS = 20
HOLDS_NOW = "id,activities,structures,reason\n" + "".join(
    f"HZ-{number},framing,{13 + number // 6}/{1 + number % 6},wet ground\n" for number in range(12)
)
#: Forks a process for each line (job, proposal, what it shows); says its number and how it ended.
SERVANT = """
import datetime as dt, os, sys
from linemap.service.files.edit import Signed
from linemap.service.files.proposal import accept
from linemap.store.database import open_job
for line in sys.stdin:
    job, proposal, digest = line.split()
    child = os.fork()
    if not child:
        with open_job(job) as database:
            now = dt.datetime(2026, 5, 16, 7, 31, tzinfo=dt.timezone.utc)
            accept(database, proposal, Signed(who="Otter", removes=["holds"]), digest=digest, now=now)
        os._exit(0)
    print(child, flush=True)
    print(os.waitpid(child, 0)[1], flush=True)
"""


class Servant:
    """Accepts proposals, each in a process that may be killed."""

    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-W", "ignore", "-c", SERVANT],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def accept(self, job: Path, proposal: str, digest: str, *, kill_after_s: float | None) -> float:
        """Accept, or be killed in it; return the seconds it took."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(f"{job} {proposal} {digest}\n")
        self.process.stdin.flush()
        child, began = int(self.process.stdout.readline()), time.perf_counter()
        if kill_after_s is not None:
            time.sleep(kill_after_s)
            with suppress(ProcessLookupError):  # it had done all
                os.kill(child, signal.SIGKILL)
        ended = int(self.process.stdout.readline())
        assert kill_after_s is not None or ended == 0
        return time.perf_counter() - began


@contextmanager
def servant() -> Iterator[Servant]:
    made = Servant()
    try:
        yield made
    finally:
        made.process.communicate()


def hold_ids(database: Database) -> list[str]:
    with database.reading() as connection:
        return sorted(hold.id for hold in load_list(connection, HOLDS))


def proposal_of(job: Path, *, undo: bool) -> tuple[str, str]:
    """Make and read a proposal; return its identifier and what it shows."""
    with open_job(job) as database:
        if undo:
            with database.reading() as connection:
                last = list_changes(connection)[-1].change.id
            made = begin_undo(database, last, who="Otter", now=NOW)
        else:
            made = begin(database, who="Otter", now=NOW)
            add_proposal_file(database, made, "holds.csv", HOLDS_NOW.encode())
        found = read_proposal(database, made, Choices(ends=("holds",)), now=NOW)
        assert found.state == "ready", found.refused
        return made, found.digest


@pytest.mark.parametrize("undo", [False, True], ids=["accept", "undo"])
def test_a_kill_leaves_the_old_state_or_the_new_one(demo_job: Path, tmp_path: Path, *, undo: bool) -> None:
    start = tmp_path / "start.linemap"
    shutil.copy(demo_job, start)
    with servant() as other:
        _kill_it_often(other, start, tmp_path, undo=undo)


def _kill_it_often(servant: Servant, start: Path, tmp_path: Path, *, undo: bool) -> None:
    if undo:
        servant.accept(start, *proposal_of(start, undo=False), kill_after_s=None)
    proposal, digest = proposal_of(start, undo=undo)
    done = tmp_path / "done.linemap"
    shutil.copy(start, done)
    takes_s = servant.accept(done, proposal, digest, kill_after_s=None)
    with open_job(start) as database:
        old = hold_ids(database)
    with open_job(done) as database:
        new = hold_ids(database)
    assert old != new
    seen = []
    for kill in range(KILLS):
        job = tmp_path / f"killed{kill}.linemap"
        shutil.copy(start, job)
        servant.accept(job, proposal, digest, kill_after_s=takes_s * (0.4 + 0.7 * kill / KILLS))
        with open_job(job) as database:
            found, verified = hold_ids(database), verify_record(database)
            assert found in (old, new)
            assert verified.broken is verified.change_broken is None
            seen.append(found == new)
            if found == new:
                with pytest.raises(NotFound):
                    load_proposal(database, proposal)
            else:
                assert load_proposal(database, proposal).digest == digest
    # kills come from the middle on: storing is the last of it
    assert not all(seen)
