"""The demo line's files, written once, and its answer key."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
GENERATOR = ROOT / "demo" / "generator"


def run_generator(folder: Path) -> None:
    subprocess.run([sys.executable, str(GENERATOR), str(folder)], check=True, capture_output=True)


@pytest.fixture(scope="session")
def generator() -> Path:
    return GENERATOR


@pytest.fixture(scope="session")
def demo_files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    run_generator(folder)
    return folder


@pytest.fixture(scope="session")
def key() -> dict[str, list[dict[str, str]]]:
    """Every table of the answer key, by name."""
    tables = {}
    for path in sorted((ROOT / "data" / "demo_key").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            tables[path.stem] = list(csv.DictReader(stream))
    return tables
