"""How long lists of 100,000 rows take to read and compare, to load, review and serve for the first time."""

from __future__ import annotations

import os
import subprocess
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from jobs import LINEMAP, served, write_files
from rich.console import Console
from rich.table import Table

from linemap.domain.design.revision import compare
from linemap.domain.design.structure import Structures
from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.geometry.station import format_stations
from linemap.io.design.structures import read_structures
from linemap.io.source.read import read_source
from linemap.io.survey.shots import read_shots
from linemap.units import LengthUnit

ROWS = 100_000


def main() -> None:
    """Print the CPU seconds of each piece of work, then loads and a first answer as whole processes."""
    console = Console()
    table = Table(title=f"{ROWS:,} rows")
    table.add_column("work")
    table.add_column("CPU s", justify="right")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for words, work in _works(folder):
            start = time.process_time()
            work()
            table.add_row(words, f"{time.process_time() - start:.2f}")
        console.print(table)
        console.print(_whole(folder))


class _Took(NamedTuple):
    """What one process took: by the clock, of the processors, and of memory at most."""

    wall_s: float
    cpu_s: float
    peak_gb: float


def _whole(folder: Path) -> Table:
    """Load into one job after the other, each by a process of its own, and serve the last one."""
    table = Table(title=f"{ROWS:,} structures, shots of a third, records of two thirds: whole processes")
    for heading in ("work", "wall s", "CPU s", "peak GB"):
        table.add_column(heading, justify="left" if heading == "work" else "right")
    files = write_files(folder, ROWS, 100)
    job = folder / "all.linemap"
    for words, target, some, more in (
        ("load of centreline and structures", folder / "lists.linemap", files[:2], ()),
        ("load of all files", job, files, ()),
        ("review of a list of which a tenth is moved", job, [_moved(files[1])], ("--dry-run",)),
    ):
        took = _load(target, some, *more)
        table.add_row(words, f"{took.wall_s:.1f}", f"{took.cpu_s:.1f}", f"{took.peak_gb:.2f}")
    start = time.perf_counter()
    with served(job):
        table.add_row(
            "serve, from start to the first structures", f"{time.perf_counter() - start:.1f}", "", ""
        )
    return table


def _moved(structures: Path) -> Path:
    """Write a structure list again with every tenth structure 3 ft further north."""
    rows = [line.split(",") for line in structures.read_text(encoding="utf-8").splitlines()]
    for row in rows[1::10]:
        row[2] = f"{float(row[2]) + 3.0:.3f}"
    path = structures.with_name("structures_moved.csv")
    path.write_text("\n".join(map(",".join, rows)) + "\n", encoding="utf-8")
    return path


def _load(job: Path, files: list[Path], *more: str) -> _Took:
    """Load files into a job, made when it is not there; the memory is that of the loading process alone."""
    if not job.exists():
        made = [*LINEMAP, "new", str(job), "--crs", "EPSG:6515", "--combined-factor", "0.9995"]
        subprocess.run(made, check=True, capture_output=True)
    start = time.perf_counter()
    loading = [*LINEMAP, "load", str(job), *map(str, files), *more]
    process = subprocess.Popen(loading, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"linemap load of {len(files)} files ended with {process.returncode}")
    return _Took(wall_s, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024**2)


def _works(folder: Path) -> list[tuple[str, Callable[[], object]]]:
    projection = Projection.from_text("EPSG:6515")
    structures, shots, endless = folder / "structures.csv", folder / "shots.txt", folder / "one_line.csv"
    structures.write_text(
        "Line,Str No,Easting (ft),Northing (ft),Type\n"
        + "".join(
            f"L{i // 1000},{i % 1000 // 5 + 1}/{i % 5 + 1},{2e6 + i * 3.1:.3f},{9e5 + i * 1.7:.3f},H-TAN\n"
            for i in range(ROWS)
        )
    )
    shots.write_text(
        "".join(
            f"{i},{900000 + i},{2250000 + i * 3.1:.3f},4000.12,S {i // 5 + 1}/{i % 5 + 1} {'AB'[i % 2]}\n"
            for i in range(ROWS)
        )
    )
    endless.write_bytes(b"1," * (5 * 1024 * 1024))
    ground = np.arange(ROWS, dtype=np.float64)
    old = Structures.from_columns(number=[str(n) for n in range(ROWS)], easting=ground, northing=ground)
    moved = replace(old, easting=np.where(ground == 7, ground + 8.0, ground))
    return [
        (
            "structure list read",
            lambda: read_structures(read_source(structures).tables[0], projection=projection),
        ),
        ("shots read", lambda: read_shots(read_source(shots).tables[0], projection=projection)),
        ("two revisions compared", lambda: compare(old, moved, unit=LengthUnit.FOOT)),
        ("stations written", lambda: format_stations(ground * 3.7)),
        ("a line of ten megabytes refused", lambda: _refused(endless)),
    ]


def _refused(path: Path) -> None:
    try:
        read_source(path)
    except InputRefused:
        return
    raise SystemExit(f"not refused: {path}")


if __name__ == "__main__":
    main()
