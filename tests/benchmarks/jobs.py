"""Jobs of a wished size for the benchmarks, loaded through the command line as a user would."""

from __future__ import annotations

import csv
import subprocess
import sys
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

import numpy as np
from network import synthetic

LINEMAP = [sys.executable, "-m", "linemap"]
PORT = 8799


def write_files(folder: Path, count: int, routes: int) -> list[Path]:
    """Write a centreline, a structure list, shots of every third structure and records of two thirds."""
    made = synthetic(count, routes, 60)
    rng = np.random.default_rng(7)
    paths = [
        folder / name for name in ("centreline.csv", "structures.csv", "shots_2026-05-01.csv", "records.csv")
    ]
    with paths[0].open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["line", "PI", "Northing (ft)", "Easting (ft)"])
        for line in made.lines:
            points = zip(line.centreline.northing, line.centreline.easting, strict=True)
            writer.writerows(
                [line.name, f"PI-{at}", f"{n:.3f}", f"{e:.3f}"] for at, (n, e) in enumerate(points)
            )
    structures = made.structures
    with paths[1].open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["line", "Structure", "Northing (ft)", "Easting (ft)", "Type", "Pole Spacing (ft)"])
        writer.writerows(
            [line, number, f"{n:.3f}", f"{e:.3f}", "H-TAN", "12.5"]
            for line, number, n, e in zip(
                structures.line, structures.number, structures.northing, structures.easting, strict=True
            )
        )
    with paths[2].open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["line", "point", "northing", "easting", "elevation", "description"])
        for row in range(0, count, 3):
            for pole, letter in enumerate("AB"):
                e, n = made.set_poles[row, pole]
                name = f"STR {structures.number[row]} {letter}"
                writer.writerow([structures.line[row], 2 * row + pole, f"{n:.3f}", f"{e:.3f}", "", name])
    with paths[3].open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["id", "line", "structure", "step", "result", "crew", "happened at", "received at"])
        steps = ("staked", "spotted", "dug", "framed", "set")
        for row in range(2 * count // 3):
            for step in steps[: int(rng.integers(1, 6))]:
                when = "2026-05-01T08:00:00-06:00"
                name = uuid.UUID(bytes=rng.bytes(16), version=4)
                writer.writerow(
                    [name, structures.line[row], structures.number[row], step, "done", "Heron", when, when]
                )
    return paths


def make_job(folder: Path, count: int, routes: int) -> tuple[Path, float]:
    """Make and load a job; return its path and the seconds the load took as a whole process."""
    folder.mkdir(parents=True, exist_ok=True)
    job = folder / f"bench{count}.linemap"
    return job, load_job(str(job), write_files(folder, count, routes))


def load_job(job: str, files: list[Path]) -> float:
    """Make a job at a path or URL and load files; return the seconds the load took as a whole process."""
    made = [*LINEMAP, "new", job, "--crs", "EPSG:6515", "--combined-factor", "0.9995"]
    subprocess.run(made, check=True, capture_output=True)
    start = time.perf_counter()
    subprocess.run([*LINEMAP, "load", job, *map(str, files)], check=True, capture_output=True)
    return time.perf_counter() - start


@contextmanager
def served(job: Path | str) -> Iterator[str]:
    """Serve a job in a process of its own; gives its address once it answers."""
    server = subprocess.Popen(
        [*LINEMAP, "serve", str(job), "--port", str(PORT)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    address = f"http://127.0.0.1:{PORT}"
    try:
        for _ in range(300):
            try:
                with urlopen(f"{address}/health"):
                    break
            except URLError:
                time.sleep(0.1)
        with urlopen(f"{address}/api/structures"):
            yield address
    finally:
        server.terminate()
        server.wait()
