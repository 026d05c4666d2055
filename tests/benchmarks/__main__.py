"""Run the benchmarks: ``python tests/benchmarks [NAME] ...``, all of them by default."""

from __future__ import annotations

import sys

import calibration
import cold
import compute
import confusion
import drawing
import fuzz
import intake
import reading
import serving

ALL = {
    "compute": compute.main,
    "serving": serving.main,
    "drawing": drawing.main,
    "intake": intake.main,
    "reading": reading.main,
    "cold": cold.main,
    "confusion": confusion.main,
    "calibration": calibration.main,
    "fuzz": fuzz.main,
}

if __name__ == "__main__":
    for name in sys.argv[1:] or ALL:
        if name not in ALL:
            raise SystemExit(f"no benchmark {name!r}; choose from {', '.join(ALL)}")
        ALL[name]()
