"""How many records a second a server takes: one a request, as phones send them, and in batches.

Both go to a server process over HTTP from this machine. What a commit costs on this disk is measured beside
it, as it bounds the first: SQLite in WAL mode with synchronous=FULL waits for the disk once a commit.
"""

from __future__ import annotations

import http.client
import json
import os
import sqlite3
import tempfile
import threading
import time
import uuid
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import urlopen

import psycopg
from jobs import load_job, make_job, served, write_files
from rich.console import Console
from rich.table import Table

STRUCTURES = 10_000
#: Connections at once; a second process or core is not assumed.
CLIENTS = 4
SINGLE = 2_000
AT = "2026-05-15T12:00:00-06:00"


def main() -> None:
    """Print what a commit costs, and on both databases the rates of intake and the answer after a record."""
    console = Console()
    with tempfile.TemporaryDirectory() as folder:
        console.print(_commits(Path(folder) / "commits.db"))
        job, _ = make_job(Path(folder) / "job", STRUCTURES, 10)
        _print_rates(console, "SQLite", str(job))
        server = os.environ.get("LINEMAP_TEST_POSTGRES")
        if server is None:
            raise SystemExit("no PostgreSQL: use bash tests/benchmarks/run intake")
        with psycopg.connect(server, autocommit=True) as admin:
            admin.execute("CREATE DATABASE intake")
        there = server.replace("/postgres?", "/intake?")
        load_job(there, write_files(Path(folder), STRUCTURES, 10))
        _print_rates(console, "PostgreSQL", there)


def _print_rates(console: Console, name: str, job: str) -> None:
    table = Table(title=f"POST /api/events, {name}, {STRUCTURES:,} structures, {CLIENTS} connections")
    for heading in ("records a request", "requests/s", "records/s", "p50 ms", "p99 ms"):
        table.add_column(heading, justify="right")
    with served(job) as address:
        for batch, requests in ((1, SINGLE), (20, 400), (100, 100), (1000, 12)):
            rate, times = _post(address, batch, requests)
            p50, p99 = times[len(times) // 2], times[int(len(times) * 0.99)]
            cells = f"{batch:,}", f"{rate:,.0f}", f"{rate * batch:,.0f}", f"{p50:.1f}", f"{p99:.1f}"
            table.add_row(*cells)
        first = _first_answers(address)
    console.print(table)
    console.print(
        f"first GET /api/structures after a record: median {first[len(first) // 2]:.0f} ms, "
        f"worst of {len(first)} {first[-1]:.0f} ms"
    )


def _commits(path: Path) -> str:
    """Time bare commits of one small row, with nothing above the database."""
    connection = sqlite3.connect(path, isolation_level=None)
    for pragma in ("journal_mode = WAL", "synchronous = FULL"):
        connection.execute(f"PRAGMA {pragma}")
    connection.execute("CREATE TABLE row (id INTEGER PRIMARY KEY, note TEXT)")
    start, count = time.perf_counter(), 1_000
    for at in range(count):
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO row VALUES (?, ?)", (at, "n" * 300))
        connection.execute("COMMIT")
    taken = time.perf_counter() - start
    connection.close()
    return f"one commit, WAL, synchronous=FULL, nothing above it: {1e3 * taken / count:.2f} ms"


def _post(address: str, batch: int, requests: int) -> tuple[float, list[float]]:
    """Post from several connections at once; return requests a second and the times in ms, ascending."""
    bodies = [
        [_body(batch, turn * CLIENTS + at) for turn in range(requests // CLIENTS)] for at in range(CLIENTS)
    ]
    times: list[float] = []

    def run(own: list[str]) -> None:
        connection = http.client.HTTPConnection(urlsplit(address).netloc)
        for body in own:
            start = time.perf_counter()
            _send(connection, body)
            times.append(1e3 * (time.perf_counter() - start))
        connection.close()

    threads = [threading.Thread(target=run, args=(own,)) for own in bodies]
    start = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    taken = time.perf_counter() - start
    return len(times) / taken, sorted(times)


def _send(connection: http.client.HTTPConnection, body: str) -> None:
    connection.request("POST", "/api/events", body, {"content-type": "application/json"})
    answer = connection.getresponse()
    said = json.loads(answer.read())
    results = said.get("results", [said])
    if answer.status != 200 or any(each.get("outcome") != "stored" for each in results):
        raise SystemExit(f"not stored: {answer.status} {results[:2]}")


def _body(batch: int, at: int) -> str:
    # structures of all lines in turn, as many crews would
    numbers = (1 + (7919 * (at * batch + each)) % STRUCTURES for each in range(batch))
    events = [
        {
            "id": str(uuid.uuid4()),
            "line": f"R{(number - 1) * 10 // STRUCTURES}",
            "structure": str(number),
            "step": "inspected",
            "happened_at": AT,
            "crew": "Heron",
        }
        for number in numbers
    ]
    return json.dumps({"sent_at": AT, "events": events})


def _first_answers(address: str) -> list[float]:
    """Time the first answer of all structures after each of some records, ms, ascending."""
    connection = http.client.HTTPConnection(urlsplit(address).netloc)
    times = []
    for at in range(40):
        _send(connection, _body(1, at))
        start = time.perf_counter()
        with urlopen(f"{address}/api/structures") as answer:
            answer.read()
        times.append(1e3 * (time.perf_counter() - start))
    connection.close()
    return sorted(times[1:])


if __name__ == "__main__":
    main()
