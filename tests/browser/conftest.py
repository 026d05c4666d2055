"""An invented line served by a small application, and Chromium to look at it.

The application answers the map's addresses with payloads made here, so that the page can be tried with any
number of structures and with hostile names; `demo_url` serves the demo job with the real application.
"""

from __future__ import annotations

import datetime as dt
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Literal

import pytest
import uvicorn
from fastapi import FastAPI
from playwright.sync_api import Browser, expect, sync_playwright
from sample_line import Sample, sample_app
from watched_page import CHROMIUM, FLAGS, Watched

from linemap.settings import Settings
from linemap.web.app import create_app

Scheme = Literal["light", "dark"]

# a busy machine takes its time; what never comes is waited for so long
expect.set_options(timeout=30_000)


class Serving:
    """Uvicorn servers, each in a thread on a free port of this machine."""

    def __init__(self) -> None:
        self.running: list[tuple[uvicorn.Server, threading.Thread]] = []

    def start(self, app: FastAPI) -> str:
        """Serve an application; gives its address."""
        sock = socket.create_server(("127.0.0.1", 0))
        server = uvicorn.Server(
            uvicorn.Config(app, log_level="error", ws="none", timeout_graceful_shutdown=2)
        )
        thread = threading.Thread(target=server.run, kwargs={"sockets": [sock]}, daemon=True)
        self.running.append((server, thread))
        thread.start()
        while not server.started and thread.is_alive():
            time.sleep(0.01)
        return f"http://127.0.0.1:{sock.getsockname()[1]}"

    def stop(self) -> None:
        """Answer what was asked, then close the applications with their jobs."""
        for server, _ in self.running:
            server.should_exit = True
        for _, thread in self.running:
            thread.join(30.0)
            assert not thread.is_alive()


@pytest.fixture(scope="session")
def serve() -> Iterator[Callable[[FastAPI], str]]:
    """Serve an application for the length of the session; gives its address."""
    serving = Serving()
    yield serving.start
    serving.stop()


@pytest.fixture
def serve_here() -> Iterator[Callable[[FastAPI], str]]:
    """Serve an application for the length of a test; gives its address."""
    serving = Serving()
    yield serving.start
    serving.stop()


@pytest.fixture(scope="session")
def demo_url(open_demo_job: Path, serve: Callable[[FastAPI], str]) -> str:
    """Address of the demo job, which is not to be changed."""
    return serve(create_app(Settings(job=str(open_demo_job)), today=lambda: dt.date(2026, 5, 16)))


@pytest.fixture
def own_job(demo_job: Path, tmp_path: Path, serve_here: Callable[[FastAPI], str]) -> tuple[str, FastAPI]:
    """Address and application of the demo job's own copy, which a test may change."""
    job = shutil.copy(demo_job, tmp_path / "demo.linemap")
    application = create_app(Settings(job=str(job)), today=lambda: dt.date(2026, 5, 16))
    return serve_here(application), application


@pytest.fixture
def job_url(own_job: tuple[str, FastAPI]) -> str:
    """Address of the demo job's own copy, which a test may change."""
    return own_job[0]


@pytest.fixture(scope="session")
def make_sample() -> type[Sample]:
    return Sample


@pytest.fixture(scope="session")
def serve_sample(serve: Callable[[FastAPI], str]) -> Callable[[Sample], str]:
    return lambda sample: serve(sample_app(sample))


@pytest.fixture(scope="session")
def line_url(serve_sample: Callable[[Sample], str]) -> str:
    """Address of a line of 121 structures."""
    return serve_sample(Sample())


@pytest.fixture(scope="session")
def long_line_url(serve_sample: Callable[[Sample], str]) -> str:
    """Address of a line of 20,000 structures."""
    return serve_sample(Sample(count=20_000))


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture
def watch(browser: Browser) -> Iterator[Callable[..., Watched]]:
    """Open a watched page: desktop by default, `phone=True` for 390 x 844 with touch."""
    contexts = []

    def start(*, phone: bool = False, scheme: Scheme = "light") -> Watched:
        shape: dict[str, Any] = (
            {
                "viewport": {"width": 390, "height": 844},
                "device_scale_factor": 3,
                "is_mobile": True,
                "has_touch": True,
            }
            if phone
            else {"viewport": {"width": 1400, "height": 900}}
        )
        context = browser.new_context(color_scheme=scheme, **shape)
        contexts.append(context)
        return Watched(context.new_page())

    yield start
    for context in contexts:
        context.close()
