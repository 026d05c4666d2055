"""Run the benchmarks: ``python tests/benchmarks [NAME] ...``, all of them by default."""

from __future__ import annotations

import subprocess
import sys

import calibration
import cold
import compute
import confusion
import deciding
import drawing
import fuzz
import intake
import reading
import rover
import serving
import sessions
import tape
import verdicts

ALL = {
    "compute": compute.main,
    "serving": serving.main,
    "drawing": drawing.main,
    "intake": intake.main,
    "reading": reading.main,
    "cold": cold.main,
    "confusion": confusion.main,
    "verdicts": verdicts.main,
    "deciding": deciding.main,
    "calibration": calibration.main,
    "sessions": sessions.main,
    "rover": rover.main,
    "tape": tape.main,
    "fuzz": fuzz.main,
    "mutants": fuzz.mutants,
}

if __name__ == "__main__":
    names = sys.argv[1:] or list(ALL)
    for name in names:
        if name not in ALL:
            raise SystemExit(f"no benchmark {name!r}; choose from {', '.join(ALL)}")
    if len(names) == 1:
        ALL[names[0]]()
    else:
        for name in names:  # each in a process of its own: what one leaves behind is not measured in the next
            subprocess.run([sys.executable, __file__, name], check=True)
