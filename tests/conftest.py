"""What all tests share; the fixtures of several floors lie in tests/fixtures."""

from __future__ import annotations

import os

from hypothesis import settings

pytest_plugins = ["demo_line", "job_databases", "older_job"]

# the same examples on every run of CI; a slow machine is no failure
settings.register_profile("linemap", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("linemap")
