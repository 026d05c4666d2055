"""How long `linemap compute` takes on the invented line from a cold start, as a whole process."""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from jobs import LINEMAP
from rich.console import Console

GENERATOR = Path(__file__).parents[2] / "demo" / "generator"
RUNS = 5


def main() -> None:
    """Print minimum, median and maximum of five runs after one that is not counted."""
    with tempfile.TemporaryDirectory() as folder:
        files = Path(folder)
        subprocess.run([sys.executable, str(GENERATOR), folder], check=True, capture_output=True)
        command = [
            *LINEMAP,
            "compute",
            *("--centreline", str(files / "centreline.csv")),
            *("--structures", str(files / "structures_revB.csv")),
            *("--equations", str(files / "equations.csv")),
            *("--crs", "EPSG:6515"),
            *("--combined-factor", "0.999217"),
            *("--out", str(files / "result.csv")),
        ]
        for shots in sorted(files.glob("shots_*.csv")):
            command += ["--shots", str(shots)]
        taken = []
        for _ in range(RUNS + 1):
            start = time.perf_counter()
            subprocess.run(command, check=True, capture_output=True)
            taken.append(time.perf_counter() - start)
    counted = taken[1:]
    Console().print(
        f"linemap compute, invented line, cold start to file: "
        f"min {min(counted):.2f} s, median {statistics.median(counted):.2f} s, max {max(counted):.2f} s"
    )


if __name__ == "__main__":
    main()
