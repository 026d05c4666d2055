"""What all tests share; the fixtures of several floors lie in tests/fixtures."""

from __future__ import annotations

import gc
import os
from collections.abc import Generator

import pytest
from hypothesis import settings

# nothing that is collected goes away before the tests run
gc.disable()

pytest_plugins = ["demo_line", "every_code", "job_databases", "older_job", "pole_letters"]

# the same examples on every run of CI; a slow machine is no failure
settings.register_profile("linemap", deadline=None, derandomize=bool(os.environ.get("CI")))
# for every day: fewer examples where a test does not say how many (tests/run --quick)
settings.register_profile("quick", settings.get_profile("linemap"), max_examples=20)
settings.load_profile("linemap")

#: What takes longest of a file; two workers that begin with such files end at the same time.
LONG = ("browser", "process", "fuzz")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the files that take longest; within a file the order stays."""
    long = {item.path for item in items if any(map(item.get_closest_marker, LONG))}
    items.sort(key=lambda item: item.path not in long)


@pytest.hookimpl(wrapper=True)
def pytest_collect_file() -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
    """Look for examples in docstrings of linemap alone: files of tests have none."""
    found = yield
    return [each for each in found if type(each) is pytest.Module]


def pytest_collection_finish() -> None:
    """Let the garbage collector pass over what stays: looking at it again took a tenth of the run."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
    gc.enable()
