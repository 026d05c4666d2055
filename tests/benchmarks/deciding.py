"""How long a surveyor waits: a decision on a job of 1,000 structures, and the page that shows it."""

from __future__ import annotations

import csv
import json
import statistics
import subprocess
import tempfile
import time
import uuid
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

import confusion
import faulty_lines as make
import numpy as np
from jobs import LINEMAP, load_job, served
from rich.console import Console

SEED, LINES, ROUNDS = 20_261_130, 56, 10
_OF_SHOT = ("point", "northing", "easting", "structure", "pole", "sigma")
#: Faults that keep a file from being loaded.
REFUSED = {"unit of length", "columns exchanged", "wrong zone", "wrong datum"}


def write_files(folder: Path) -> list[Path]:
    """Write 56 lines of 18 structures, every third with a planted fault, and a shot file a day."""
    rng = np.random.default_rng(SEED)
    kinds = [kind for kind in confusion.FAULTS if kind not in REFUSED]
    planted = [[kinds[i % len(kinds)]] if i % 3 == 0 else [] for i in range(LINES)]
    drawn = [confusion.draw(rng, index, kind)[0] for index, kind in enumerate(planted)]
    paths = [folder / "centreline.csv", folder / "structures.csv"]
    _write(
        paths[0],
        ["line", "PI", "Northing (ft)", "Easting (ft)"],
        [
            [made.name, f"PI-{at}", *made.centre[row, ::-1]]
            for made in drawn
            for at, row in enumerate((0, *make.ANGLES, make.SIZE - 1))
        ],
    )
    _write(
        paths[1],
        ["line", "Structure", "Northing (ft)", "Easting (ft)", "Pole Spacing (ft)", "Poles", "Section break"],
        [
            [made.name, made.number[i], *made.centre[i, ::-1], made.spacing[i], made.count[i],
             "yes" if i in (0, make.SIZE - 1) else "no"]
            for made in drawn
            for i in range(make.SIZE)
        ],
    )  # fmt: skip
    for made in drawn:
        for file in sorted({shot.file for shot in made.shots}):
            paths.append(folder / f"shots_{file}")
            _write(
                paths[-1],
                ["line", *_OF_SHOT],
                [
                    [made.name, *(getattr(shot, name) for name in _OF_SHOT)]
                    for shot in made.shots
                    if shot.file == file
                ],
            )
    return paths


def _write(path: Path, headings: list[str], rows: list[list[Any]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(headings)
        writer.writerows(rows)


def main() -> None:
    """Print the medians, with how many causes and exceptions the job has."""
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "deciding.linemap"
        load_job(str(job), write_files(Path(folder)))
        declared = ["--base-point", "none", "--vertical-datum", "NAVD88", "--source", "control sheet"]
        subprocess.run([*LINEMAP, "declare", str(job), *declared], check=True, capture_output=True)
        with served(job) as address:
            _measure(address)


def _measure(address: str) -> None:
    found = _ask(f"{address}/api/survey")
    cause = next(each for each in found["causes"] if each["correctable"] and not each["needs_note"])
    times: dict[str, list[float]] = {"decision": [], "page": [], "same page again": []}
    for turn in range(2 * ROUNDS):
        body = {
            "id": str(uuid.uuid4()),
            "cause": cause["code"],
            "subject": cause["subject"],
            "line": cause["line"],
            "answer": "accepted" if turn % 2 == 0 else "withdrawn",
            "who": "A. Surveyor",
            "note": "measured",
        }
        for name, target, sent in (
            ("decision", "/api/decisions", body),
            ("page", "/api/survey", None),
            ("same page again", "/api/survey", None),
        ):
            begin = time.perf_counter()
            _ask(address + target, sent)
            times[name].append(time.perf_counter() - begin)
    console = Console()
    causes, exceptions = len(found["causes"]), len(found["exceptions"])
    console.print(f"{LINES * make.SIZE} structures, {causes} causes, {exceptions} exceptions")
    for name, taken in times.items():
        median, worst = 1000 * statistics.median(taken), 1000 * max(taken)
        console.print(f"{name}: median {median:.0f} ms, worst {worst:.0f} ms")


def _ask(address: str, body: dict[str, str] | None = None) -> Any:
    data = None if body is None else json.dumps(body).encode()
    with urlopen(Request(address, data=data, headers={"content-type": "application/json"})) as answer:
        return json.load(answer)


if __name__ == "__main__":
    main()
