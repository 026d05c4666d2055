"""A crew's phone in Chromium, the invented line behind a signal that can be taken away, and its records."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import shutil
import signal
import socket
import sqlite3
import struct
import threading
import time
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import httpx2
import numpy as np
import pytest
from fastapi import FastAPI
from playwright.sync_api import Browser, BrowserContext, Page
from watched_page import CHROMIUM, FLAGS, Heard

from linemap.domain.record.person import Role
from linemap.service.people.people import add_person
from linemap.settings import Settings
from linemap.web.app import create_app

LINE = "Brindle Gap - Amber Sill 115 kV"
PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 3,
    "is_mobile": True,
    "has_touch": True,
    "timezone_id": "America/Denver",
    "permissions": ["geolocation"],
    "geolocation": {"longitude": -108.2241532, "latitude": 46.7616363, "accuracy": 5.0},
}


class Signal:
    """A relay between the phone and the server: good, gone, cut in the middle, or losing answers."""

    def __init__(self, upstream: int) -> None:
        self.upstream = upstream
        self.good = True
        #: Bytes from the phone after which the connection breaks, one break after the other.
        self.cuts: list[int] = []
        self.breaks = 0
        #: Answers to a POST that get lost on the way back.
        self.lose_answers = 0
        self.posts = 0
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self.listener.getsockname()[1]}"
        self.open: set[socket.socket] = set()
        threading.Thread(target=self._accept, daemon=True).start()

    def lost(self) -> None:
        self.good = False
        for one in list(self.open):
            _close(one)

    def back(self) -> None:
        self.good = True

    def stop(self) -> None:
        self.lost()
        self.listener.close()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                client, _ = self.listener.accept()
                threading.Thread(target=self._relay, args=(client,), daemon=True).start()

    def _relay(self, client: socket.socket) -> None:
        if not self.good:
            _close(client)
            return
        try:
            server = socket.create_connection(("127.0.0.1", self.upstream))
        except OSError:  # the server is dead for now
            _close(client)
            return
        pair = (client, server)
        self.open |= set(pair)
        lossy = threading.Event()
        up = threading.Thread(target=self._pump, args=(client, server, pair, lossy, True), daemon=True)
        up.start()
        self._pump(server, client, pair, lossy, False)
        up.join()
        self.open -= set(pair)

    def _pump(
        self,
        source: socket.socket,
        sink: socket.socket,
        pair: tuple[socket.socket, socket.socket],
        lossy: threading.Event,
        upwards: bool,
    ) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(65536):
                # asking what became of what was sent brings nothing
                if upwards and data.startswith(b"POST") and not data.startswith(b"POST /api/events/compare"):
                    self._posted(lossy)
                if (upwards and self._is_cut(len(data))) or (not upwards and lossy.is_set()):
                    break
                sink.sendall(data)
        for one in pair:
            _close(one)

    def _posted(self, lossy: threading.Event) -> None:
        self.posts += 1
        if self.lose_answers:
            self.lose_answers -= 1
            lossy.set()

    def _is_cut(self, size: int) -> bool:
        if not self.cuts:
            return False
        self.cuts[0] -= size
        if self.cuts[0] > 0:
            return False
        self.cuts.pop(0)
        self.breaks += 1
        return True


def _close(one: socket.socket) -> None:
    with contextlib.suppress(OSError):
        one.shutdown(socket.SHUT_RDWR)
    one.close()


class Field:
    """One server with its signal, and what it has on record."""

    def __init__(self, url: str) -> None:
        self.server = httpx2.Client(base_url=url, timeout=20.0)
        self.signal = Signal(int(url.rsplit(":", 1)[1]))
        self.first = 0

    def begin(self) -> None:
        """Start a test: a good signal, and only events that arrive from now on."""
        self.signal.lost()
        self.signal.cuts, self.signal.breaks, self.signal.lose_answers, self.signal.posts = [], 0, 0, 0
        self.signal.back()
        self.first = self._last_seq()

    def _last_seq(self) -> int:
        return max((event["seq"] for event in self.events(0)), default=0)

    def events(self, since: int | None = None) -> list[dict[str, Any]]:
        """Return the events that arrived since this fixture began, in their order."""
        seq, found = self.first if since is None else since, []
        while True:
            answer = self.server.get("/api/events", params={"since": seq, "limit": 1000}).json()
            found += [{"seq": each["seq"], **each["event"]} for each in answer["events"]]
            if not answer["more"]:
                return found
            seq = found[-1]["seq"]


class Phone(Heard):
    """A page of the field application, behind a signal."""

    # a server that cannot be reached is no fault of the page
    harmless = ("Failed to load resource",)

    def __init__(self, page: Page, url: str) -> None:
        super().__init__(page)
        self.url = self.home = url
        self.taps = 0

    def open(self, view: str = "", number: str = "9/2", **more: str) -> Page:
        """Open the page anew; with a view, at a structure."""
        self.page.goto("about:blank")
        self.page.goto(f"{self.url}/field{address(view, number, **more) if view else ''}")
        self.page.wait_for_selector("html[data-ready='1']", state="attached")
        return self.page

    def go(self, view: str, number: str = "9/2", **more: str) -> None:
        """Change the view without loading anything."""
        self.page.evaluate("hash => { location.hash = hash }", address(view, number, **more)[1:])
        self.page.wait_for_selector(f"html[data-view='{view}']", state="attached")
        self.page.locator("h1", has_text=number if view in ("card", "record", "briefing") else "").wait_for()

    def tap(self, what: str) -> None:
        self.taps += 1
        self.page.locator(what).first.tap()

    def belong(self, crew: str) -> None:
        """Say on the open page of what is sent whose phone it is."""
        self.page.locator("form.who input[name=crew]").fill(crew)
        self.page.locator("form.who button").tap()
        self.page.locator("#toast", has_text=crew).wait_for()
        self.taps = 0

    def load(self) -> None:
        """Take the whole line along, and wait until the shell is kept too."""
        self.open("line")
        self.tap("[data-do=load]")
        self.page.locator("[data-progress]", has_text="The whole line is on this phone").wait_for()
        self.installed()

    def installed(self) -> None:
        """Wait until the page itself is kept on the phone."""
        self.page.evaluate("async () => { await navigator.serviceWorker.ready }")

    def record(self, number: str, step: str, pole: str = "") -> None:
        self.go("record", number, s=step)
        self.tap(f"[data-do=save][data-pole='{pole}']")
        self.page.locator("#toast", has_text="On this phone").wait_for()
        self.page.wait_for_selector("html[data-view='card']", state="attached")

    def waiting(self) -> list[dict[str, Any]]:
        """Return the outbox as it lies on the phone's disk."""
        found: list[dict[str, Any]] = self.page.evaluate(
            """async () => {
              const { all } = await import('/static/js/field/db.js');
              return all('outbox');
            }"""
        )
        return found

    def send(self) -> None:
        self.go("send")
        self.tap("[data-do=send]")

    def send_all(self) -> None:
        self.send()
        self.page.locator("h2", has_text="To send: 0 records, 0 photos").wait_for()


def address(view: str, number: str, **more: str) -> str:
    return "#" + urlencode({"v": view, "n": number, "l": LINE, **more})


@pytest.fixture(scope="session")
def served_field(
    demo_job: Path, tmp_path_factory: pytest.TempPathFactory, serve: Callable[[FastAPI], str]
) -> Iterator[Field]:
    """A server over a copy of the demo job, behind a signal; each test uses structures of its own."""
    job = tmp_path_factory.mktemp("field") / "day.linemap"
    shutil.copy(demo_job, job)
    served = Field(serve(create_app(Settings(job=str(job)), today=lambda: dt.date(2026, 5, 16))))
    yield served
    served.signal.stop()
    served.server.close()


@pytest.fixture
def field(served_field: Field) -> Iterator[Field]:
    """The server with a good signal; its events are those of this test."""
    served_field.begin()
    yield served_field
    served_field.signal.back()


@pytest.fixture(scope="session")
def morning(browser: Browser, served_field: Field) -> Any:
    """What a phone has on its disk once the whole line is loaded, for phones of other tests."""
    context = browser.new_context(**PHONE)
    one = Phone(context.new_page(), served_field.signal.url)
    one.load()
    state = context.storage_state(indexed_db=True)
    context.close()
    return state


@pytest.fixture
def phone(browser: Browser, field: Field, morning: Any) -> Iterator[Callable[..., Phone]]:
    """Take a phone with the whole line on it, for a crew; an empty one when `fresh`."""
    contexts: list[BrowserContext] = []

    def take(*, crew: str = "Heron", scheme: str = "light", fresh: bool = False, **shape: Any) -> Phone:
        kept = {} if fresh else {"storage_state": morning}
        context = browser.new_context(**{**PHONE, "color_scheme": scheme, **kept, **shape})
        contexts.append(context)
        one = Phone(context.new_page(), field.signal.url)
        if not fresh:
            one.open("send")
            one.installed()
            one.belong(crew)
        return one

    yield take
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def reader(browser: Browser, served_field: Field, morning: Any) -> Iterator[Phone]:
    """A phone for tests that only look; they share it and record nothing."""
    context = browser.new_context(**{**PHONE, "storage_state": morning})
    one = Phone(context.new_page(), served_field.signal.url)
    one.open("card")
    yield one
    context.close()


@pytest.fixture(scope="session")
def field_of() -> Callable[[str], Field]:
    """Put a signal before a server."""
    return Field


@pytest.fixture
def phone_of(browser: Browser) -> Iterator[Callable[..., Phone]]:
    """Take an empty phone to a server."""
    contexts: list[BrowserContext] = []

    def take(field: Field, **shape: Any) -> Phone:
        contexts.append(browser.new_context(**{**PHONE, **shape}))
        return Phone(contexts[-1].new_page(), field.signal.url)

    yield take
    for context in contexts:
        context.close()


class KeptPhone:
    """A phone whose memory outlives its browser, which can be killed."""

    def __init__(self, browser: Browser, field: Field, folder: Path) -> None:
        self.browser, self.field, self.folder = browser, field, folder
        self.context: BrowserContext | None = None

    def switch_on(self) -> Phone:
        self.context = self.browser.browser_type.launch_persistent_context(
            str(self.folder), executable_path=CHROMIUM, args=FLAGS, color_scheme="light", **PHONE
        )
        return Phone(self.context.pages[0], self.field.signal.url)

    def settled(self) -> None:
        """Wait until the browser has written its cookies to its disk, which it does within half a minute."""
        for _ in range(80):
            for path in self.folder.glob("Default/**/Cookies"):
                with contextlib.suppress(sqlite3.Error), contextlib.closing(sqlite3.connect(path)) as kept:
                    if kept.execute("SELECT count(*) FROM cookies").fetchone()[0]:
                        return
            time.sleep(0.5)
        raise AssertionError("the browser wrote no cookie to its disk")

    def kill(self) -> int:
        """Kill every process of this browser at once; returns how many there were."""
        mine = [
            int(path.name)
            for path in Path("/proc").iterdir()
            if path.name.isdigit() and f"--user-data-dir={self.folder}".encode() in _command(path)
        ]
        for pid in mine:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        with contextlib.suppress(Exception):
            assert self.context is not None
            self.context.close()
        for lock in self.folder.glob("Singleton*"):
            lock.unlink()
        return len(mine)


def _command(path: Path) -> bytes:
    try:
        return (path / "cmdline").read_bytes()
    except OSError:
        return b""


@pytest.fixture
def kept_phone(browser: Browser, field: Field, tmp_path: Path) -> Iterator[KeptPhone]:
    kept = KeptPhone(browser, field, tmp_path / "phone")
    yield kept
    kept.kill()


@pytest.fixture
def kept_phone_of(browser: Browser, tmp_path: Path) -> Iterator[Callable[[Field], KeptPhone]]:
    """Take an empty phone to a server whose memory outlives its browser."""
    made: list[KeptPhone] = []

    def take(field: Field) -> KeptPhone:
        made.append(KeptPhone(browser, field, tmp_path / f"phone {len(made)}"))
        return made[-1]

    yield take
    for one in made:
        one.kill()


@pytest.fixture(scope="session")
def picture() -> Callable[..., dict[str, Any]]:
    """Make a picture file of noise, `width` pixels wide, as a camera would hand it over."""

    def make(width: int, *, seed: int = 1, name: str = "IMG_1.png") -> dict[str, Any]:
        pixels = np.random.default_rng(seed).integers(0, 255, (width * 3 // 4, width, 3), dtype=np.uint8)
        rows = b"".join(b"\0" + row.tobytes() for row in pixels)
        head = struct.pack(">IIBBBBB", width, len(pixels), 8, 2, 0, 0, 0)
        chunks = ((b"IHDR", head), (b"IDAT", zlib.compress(rows, 1)), (b"IEND", b""))
        body = b"".join(
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
            for kind, data in chunks
        )
        return {"name": name, "mimeType": "image/png", "buffer": b"\x89PNG\r\n\x1a\n" + body}

    return make


class Office:
    """A server of a job with people, and pages of whoever signs in by a link."""

    def __init__(self, browser: Browser, application: FastAPI, url: str) -> None:
        self.browser, self.application, self.url = browser, application, url
        self.complaints: list[str] = []
        self.contexts: list[BrowserContext] = []

    def page_of(self, name: str, role: Role, *, releases: tuple[str, ...] = ()) -> Page:
        code = add_person(
            self.application.state.database,
            name=name,
            role=role,
            device=f"phone of {name}",
            releases=releases,
            now=dt.datetime.now(dt.UTC),
        )
        self.contexts.append(self.browser.new_context(viewport={"width": 390, "height": 844}))
        page = self.contexts[-1].new_page()
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.goto(f"{self.url}/sign-in")
        page.goto(f"{self.url}/sign-in#code={code}")  # in a tab that shows the page already
        page.locator("#take").click()
        page.wait_for_url(f"{self.url}/field" if role is Role.CREW else f"{self.url}/")
        return page

    def card(self, page: Page, number: str) -> None:
        page.goto(f"{self.url}/field#{urlencode({'v': 'card', 'n': number, 'l': LINE})}")
        page.locator(".card h1", has_text=number).wait_for()


@pytest.fixture
def office(browser: Browser, own_job: tuple[str, FastAPI]) -> Iterator[Office]:
    url, application = own_job
    made = Office(browser, application, url)
    yield made
    for context in made.contexts:
        context.close()
    assert made.complaints == []
