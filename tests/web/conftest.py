"""The real application over the invented line's job."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from linemap.settings import Settings
from linemap.web.app import create_app


@pytest.fixture(scope="session")
def application(demo_job: Path) -> FastAPI:
    return create_app(Settings(job=str(demo_job)), today=lambda: dt.date(2026, 5, 16))


@pytest.fixture(scope="session")
def client(application: FastAPI) -> Iterator[TestClient]:
    with TestClient(application, raise_server_exceptions=False) as opened:
        yield opened
