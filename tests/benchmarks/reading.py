"""How long lists of 100,000 rows take to read and compare, and a whole load of them with its peak memory."""

from __future__ import annotations

import resource
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from jobs import make_job
from rich.console import Console
from rich.table import Table

from linemap.domain.design.revision import compare
from linemap.domain.design.structure import Structures
from linemap.errors import InputRefused
from linemap.geometry.geodesy import Projection
from linemap.geometry.station import format_stations
from linemap.io.design.structures import read_structures
from linemap.io.source.read import read_source
from linemap.io.survey.shots import read_shots
from linemap.units import LengthUnit

ROWS = 100_000


def main() -> None:
    """Print the CPU seconds of each piece of work, and the whole load by the clock."""
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
        _, taken = make_job(folder / "job", ROWS, 100)
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024**2
    console.print(
        f"linemap load of {ROWS:,} structures, shots of a third, records of two thirds: "
        f"{taken:.1f} s as a whole process, {peak:.2f} GB at most"
    )


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
