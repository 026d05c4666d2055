"""Read dirty and damaged files: nothing but refusals, every row used or listed. Then time a long file."""

from __future__ import annotations

import datetime as dt
import importlib
import os
import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

from dirty import dirty_file
from rich.console import Console
from rich.progress import track

from linemap.errors import InputRefused, Severity
from linemap.geometry.projection import Projection
from linemap.io.cells.table import KINDS, Loaded, RawTable
from linemap.io.source.read import read_source, recognise
from linemap.io.survey.shots import read_shots
from linemap.service.files.reading import ReaderContext, understand
from linemap.store.database import open_job

GENERATOR = Path(__file__).parents[2] / "demo" / "generator"
#: Where what tests and benchmarks share lies.
FIXTURES = Path(__file__).parents[1] / "fixtures"

#: Files read; a smaller number may be set for a quick look.
FILES = int(os.environ.get("LINEMAP_FUZZ_FILES", "20000"))
#: Damaged files of every format, read in children; every fourth of those that are read is loaded too.
MUTANTS = int(os.environ.get("LINEMAP_FUZZ_MUTANTS", "100000"))
FIRST = int(os.environ.get("LINEMAP_FUZZ_FIRST", "0"))
LOADED = 4
TOGETHER = 500
HANG_S, GROWTH_BYTES = 10.0, 1 << 30
LONG_ROWS = 100_000
LIMIT_S = 5.0
NOW = dt.datetime(2026, 5, 15, tzinfo=dt.UTC)


def main() -> None:
    """Read the files of seeds 1, 2, ... and print what became of them; stop at the first that fails."""
    console = Console()
    declared = ReaderContext(projection=Projection.from_text("EPSG:6515"), line_default="North", settings={})
    counts: Counter[str] = Counter()
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        for seed in track(range(1, FILES + 1), description="dirty files", console=console):
            counts.update(_one(Path(folder), seed, declared))
    taken = time.perf_counter() - start
    console.print(
        f"dirty files: {FILES:,} read in {taken:.0f} s, {counts['used']:,} loaded, "
        f"{counts['refused']:,} refused with words"
    )
    rows_in, used, listed = (counts[f"rows {what}"] for what in ("in", "used", "listed"))
    console.print(f"rows of the loaded ones: {rows_in:,} in, {used:,} used, {listed:,} listed, none lost")
    _long_file(console, declared)


def mutants() -> None:
    """Read damaged files of every kind and format in child processes; print what became of them."""
    console = Console()
    sys.path.append(str(FIXTURES))
    made = importlib.import_module("mutants")
    counts: Counter[str] = Counter()
    wrong = []
    longest = grown = made.Outcome(seed=0, what="")
    start = time.perf_counter()
    with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as name:
        demo, maps, folder = (Path(name) / each for each in ("demo", "maps", "mutants"))
        for each in (maps, folder):
            each.mkdir()
        subprocess.run([sys.executable, str(GENERATOR), str(demo)], check=True, capture_output=True)
        known = made.originals(demo, maps)
        with open_job(made.job_of(known, maps)) as job:
            for first in track(
                range(FIRST, FIRST + MUTANTS, TOGETHER), description="mutants", console=console
            ):
                seeds = range(first, min(first + TOGETHER, FIRST + MUTANTS))
                for outcome in made.outcomes(seeds, known, job, folder, loaded=LOADED):
                    counts[outcome.what] += 1
                    longest = max(longest, outcome, key=lambda each: each.seconds)
                    grown = max(grown, outcome, key=lambda each: each.grown_bytes)
                    if outcome.what not in {"read", "loaded", "refused"}:
                        wrong.append(outcome)
    became = ", ".join(f"{number:,} {what}" for what, number in counts.most_common())
    console.print(f"damaged files: {MUTANTS:,} in {time.perf_counter() - start:.0f} s: {became}")
    console.print(f"longest {longest.seconds:.2f} s of processor time (seed {longest.seed}), ", end="")
    console.print(f"largest growth {grown.grown_bytes / 2**20:.0f} MB (seed {grown.seed})")
    for outcome in wrong:
        console.print(f"seed {outcome.seed}: {outcome.what}: {outcome.words}", markup=False)
    if counts["exception"] or longest.seconds > HANG_S or grown.grown_bytes > GROWTH_BYTES:
        raise SystemExit("damaged files must be read or refused, soon and in little memory")


def _one(folder: Path, seed: int, declared: ReaderContext) -> dict[str, int]:
    suffix, data, kind = dirty_file(seed)
    path = folder / f"list{suffix}"
    path.write_bytes(data)
    said = next(each for each in KINDS if each == kind) if seed % 2 else None
    try:
        source = read_source(path, kind=said)
        known = said or source.kind or recognise(source.tables[0])
        table = source.table(known)
        loaded = understand(table, known, declared, now=NOW)
    except InputRefused as refusal:
        if not all(problem.reason for problem in refusal.problems):
            raise SystemExit(f"seed {seed}: a refusal without words") from refusal
        return {"refused": 1}
    except Exception as failure:
        raise SystemExit(f"seed {seed}: {type(failure).__name__}: {failure}") from failure
    return _counted(seed, table, loaded)


def _counted(seed: int, table: RawTable, loaded: Loaded[Any]) -> dict[str, int]:
    """Check that no row of a file is lost."""
    listed = len(loaded.rows_left_out)
    above = sum(problem.severity is Severity.LEFT_OUT for problem in table.problems)
    if loaded.rows_in != len(table.rows) + above or loaded.rows_in != loaded.rows_used + listed:
        raise SystemExit(
            f"seed {seed}: {loaded.rows_in} rows in, {loaded.rows_used} used, {listed} listed, {above} before"
        )
    return {"used": 1, "rows in": loaded.rows_in, "rows used": loaded.rows_used, "rows listed": listed}


def _long_file(console: Console, declared: ReaderContext) -> None:
    """Time a point file of 100,000 rows, from the bytes on the disk to the shots."""
    rng = random.Random(5)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long_2026-05-13.txt"
        with path.open("w", encoding="utf-8") as stream:
            for row in range(LONG_ROWS):
                north, east = 900_000 + row * 0.4 + rng.random(), 2_250_000 + row * 0.9
                what = f"STR {row // 10 + 1}/{row % 10 // 2 + 1} {'AB'[row % 2]}" if row % 20 else "NG"
                stream.write(f"{5001 + row},{north:.3f},{east:.3f},{4000 + rng.random():.3f},{what}\n")
        times = []
        for _ in range(3):
            start = time.perf_counter()
            loaded = read_shots(read_source(path).tables[0], projection=declared.projection)
            times.append(time.perf_counter() - start)
        taken = min(times)
    console.print(
        f"point file: {loaded.rows_used:,} rows in {taken:.1f} s, the best of three (at most {LIMIT_S:.0f} s)"
    )
    if taken > LIMIT_S or loaded.rows_used != LONG_ROWS:
        raise SystemExit("the long point file is too slow or loses rows")


if __name__ == "__main__":
    main()
