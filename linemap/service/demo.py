"""Build the invented line: generate its files, make a job of them."""

from __future__ import annotations

import datetime as dt
import hashlib
import importlib.metadata
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import linemap
from linemap.errors import LinemapError, NotFound
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.job.job import create_job
from linemap.store.database import open_job

#: Loaded one after the other: Rev B first, so that Rev C shows what it changed.
_FIRST = (
    "centreline.csv",
    "equations.csv",
    "structure_types.csv",
    "structures_revB.csv",
    "pole_schedule.xlsx",
)
_REVISION_C = ("structures_revC.csv", "pole_schedule_revC.xlsx")
_TOLERANCE_NAMES = {
    "rotation_deg": "rotation_deg",
    "along_ft": "along_tangent",
    "along_at_angle_ft": "along_angle",
    "across_ft": "across",
    "spacing_ft": "spacing",
    "collinearity_ft": "collinearity",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltDemo:
    """Where the demo job is."""

    job: Path
    #: True when it was built now, False when it stood there from before.
    fresh: bool


def build_demo(folder: Path, *, now: dt.datetime) -> BuiltDemo:
    """Build the demo job in a folder, unless it stands there already for this version of the files.

    The generator runs as a program of its own (`NotFound` when it is not installed); its files are kept in
    ``files`` beside the job.
    """
    generator = _generator()
    job, files, stamp = folder / "demo.linemap", folder / "files", folder / "built-from.txt"
    fingerprint = _fingerprint(generator)
    if job.exists() and stamp.exists() and stamp.read_text(encoding="utf-8") == fingerprint:
        return BuiltDemo(job=job, fresh=False)
    folder.mkdir(parents=True, exist_ok=True)
    stamp.unlink(missing_ok=True)
    for path in folder.glob("demo.linemap*"):
        path.unlink()
    shutil.rmtree(files, ignore_errors=True)
    _generate(generator, files)
    _load(job, files, now=now)
    stamp.write_text(fingerprint, encoding="utf-8")
    return BuiltDemo(job=job, fresh=True)


def _generator() -> Path:
    """Find the generator: beside a checkout's package, or among the data of an installed one."""
    beside = Path(linemap.__file__).parents[1] / "demo" / "generator"
    if (beside / "__main__.py").exists():
        return beside
    for file in importlib.metadata.files("linemap") or ():
        if file.match("share/linemap/generator/__main__.py"):
            return Path(str(file.locate())).resolve().parent
    raise NotFound("the generator of the invented line is not installed; install linemap again")


def _fingerprint(generator: Path) -> str:
    digest = hashlib.sha256(linemap.__version__.encode())
    for path in sorted(generator.glob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def _generate(generator: Path, files: Path) -> None:
    files.mkdir(parents=True)
    done = subprocess.run(  # noqa: S603 - our own generator, no shell
        [sys.executable, "-B", str(generator), str(files)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise LinemapError(f"the generator of the invented line failed: {done.stderr.strip()[-400:]}")


def _load(job: Path, files: Path, *, now: dt.datetime) -> None:
    with (files / "job.toml").open("rb") as file:
        declared = tomllib.load(file)
    create_job(str(job), _rules(declared), now=now)
    tolerances = _tolerance_file(files, declared)
    rest = sorted(
        path
        for path in files.iterdir()
        if path.is_file()
        and path.suffix != ".toml"
        and path.name not in (*_FIRST, *_REVISION_C, tolerances.name)
    )
    with open_job(str(job)) as database:
        for names, label in ((_FIRST, "B"), (_REVISION_C, "C")):
            paths = tuple(files / name for name in names)
            load_files(database, LoadRequest(paths=paths, label=label, loaded_by="demo"), now=now)
        others = LoadRequest(paths=(tolerances, *rest), shot_order="pnezdh", loaded_by="demo")
        load_files(database, others, now=now)


def _rules(declared: Mapping[str, Any]) -> dict[str, str]:
    line = declared["line"]
    of_line = (
        "crs name back_end ahead_end combined_factor start_station pole_a base_point vertical_datum source"
    )
    return {
        **{name: str(line[name]) for name in of_line.split()},
        **{name: str(declared["job"][name]) for name in ("data_date", "blocks_owned", "work_week")},
        "line": line["name"],
    }


def _tolerance_file(files: Path, declared: Mapping[str, Any]) -> Path:
    """Write the declared tolerances as a table that the ordinary reader loads."""
    path = files / "tolerances.csv"
    rows = ["name,value,unit,source"]
    for key, name in _TOLERANCE_NAMES.items():
        unit = "deg" if key.endswith("_deg") else "ft"
        rows.append(f"{name},{declared['tolerances'][key]},{unit},common practice; no source")
    rows.append(f"shot_sigma,{declared['survey']['shot_sigma_ft']},ft,")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path
