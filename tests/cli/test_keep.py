"""`linemap backup`, `restore` and `log verify --phones`: what is printed, and the exit codes."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest
from command import linemap

from linemap.service.record.keeping import compare
from linemap.service.record.log import newest_of_job
from linemap.store.backup import Witness
from linemap.store.database import open_job

NOW = dt.datetime(2026, 5, 15, 18, tzinfo=dt.UTC)


@pytest.fixture
def job(demo_job: Path, tmp_path: Path) -> Path:
    (tmp_path / "own.linemap").write_bytes(demo_job.read_bytes())
    return tmp_path / "own.linemap"


def test_a_copy_is_made_and_brought_back(job: Path, tmp_path: Path) -> None:
    copy, again = tmp_path / "copy.linemap", tmp_path / "again.linemap"
    code, out, _ = linemap("backup", job, "--to", copy)
    assert code == 0
    assert f"{copy.stat().st_size:,} bytes, SHA-256 " in out
    code, _, err = linemap("backup", job, "--to", copy)
    assert (code, "is there already; name a new file" in err) == (2, True)
    code, out, _ = linemap("restore", copy, "--to", again)
    head = linemap("log", job, "verify").stdout.split("newest hash ")[1].split()[0]
    assert (code, head in out) == (0, True)
    assert linemap("log", again, "verify", "--noted", head)[0] == 0
    code, _, err = linemap("restore", copy, "--to", again)
    assert (code, "already exists" in err) == (2, True)


def test_log_verify_tells_what_phones_saw(job: Path) -> None:
    code, out, _ = linemap("log", job, "verify", "--phones")
    assert (code, " saw " in out) == (0, False)
    with open_job(job) as database:
        with database.reading() as connection:
            newest = newest_of_job(connection)
        for device, saw in (("truck phone", newest), ("van phone", f"events 5 {'0' * 64}")):
            seen = Witness(
                device=device,
                person="Ada",
                newest=saw,
                seen_at=NOW,
                reported_at=NOW,
            )
            compare(database, records=[], photos=[], seen=seen)
    code, out, _ = linemap("log", job, "verify", "--phones")
    assert code == 1
    assert f"truck phone (Ada) saw {newest} on " in out
    (lost,) = [line for line in out.splitlines() if "van phone" in line]
    assert "NOT HERE ARE ITS events: cut, exchanged, or brought back from a copy" in lost
    assert linemap("log", job, "verify")[0] == 0
    answer = json.loads(linemap("log", job, "verify", "--phones", "--json").stdout)
    assert [each["lost"] for each in answer["phones"]] == [[], ["events"]]
