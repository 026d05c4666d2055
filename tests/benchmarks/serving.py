"""How long a job takes to load, and how many answers a second its server gives (measured with wrk)."""

from __future__ import annotations

import re
import resource
import subprocess
import tempfile
from pathlib import Path

from jobs import make_job, served
from rich.console import Console
from rich.table import Table


def main() -> None:
    """Print loading and serving tables for 10,000 and 100,000 structures."""
    console = Console()
    loading = Table(title="linemap load, whole process: structures, shots of a third, records of two thirds")
    serving = Table(title="GET /api/structures, 4 connections, 5 s")
    for heading in ("structures", "load s", "peak MB of any child so far"):
        loading.add_column(heading, justify="right")
    for heading in ("structures", "answer", "requests/s", "p50"):
        serving.add_column(heading, justify="right")
    with tempfile.TemporaryDirectory() as folder:
        for count in (10_000, 100_000):
            job, taken = make_job(Path(folder) / str(count), count, count // 1_000)
            peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
            loading.add_row(f"{count:,}", f"{taken:.1f}", f"{peak:,.0f}")
            with served(job) as address:
                for name, headers in (("gzip", ["-H", "Accept-Encoding: gzip"]), ("plain", [])):
                    serving.add_row(f"{count:,}", name, *_wrk(f"{address}/api/structures", headers))
    console.print(loading)
    console.print(serving)


def _wrk(address: str, headers: list[str]) -> tuple[str, str]:
    done = subprocess.run(
        ["wrk", "-t1", "-c4", "-d5s", "--latency", *headers, address],
        check=True,
        capture_output=True,
        text=True,
    )
    rate = re.search(r"Requests/sec:\s+([\d.]+)", done.stdout)
    median = re.search(r"50%\s+(\S+)", done.stdout)
    if rate is None or median is None:
        raise SystemExit(f"wrk did not say: {done.stdout}")
    return rate[1], median[1]


if __name__ == "__main__":
    main()
