"""An invented line served by a small application, and Chromium to look at it.

The application answers the map's addresses with payloads made here, so that the page can be tried with any
number of structures and with hostile names; `demo_url` serves the demo job with the real application.
"""

from __future__ import annotations

import json
import math
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import pytest
import uvicorn
from fastapi import FastAPI, Request
from playwright.sync_api import Browser, Page, sync_playwright
from pydantic import BaseModel
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.staticfiles import StaticFiles

from linemap.domain.survey.orientation import Verdict
from linemap.report.map_page import map_page
from linemap.report.sketch import sketch_svg
from linemap.service.view.view import CAUTION, STAGES
from linemap.web.assets import LEAFLET, PageFiles
from linemap.web.guard import GuardHeaders, content_policy
from linemap.web.models.line import Centrelines, FeatureCollection, Job, Panel, Structures

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
FIXED = json.loads(Path(__file__).with_name("answers.json").read_text(encoding="utf-8"))
VERDICTS = [str(verdict) for verdict in Verdict]
_COPIED = ("line", "number", "station_text", "region", "mile", "arm", "spacing", "poles", "stage")
_JUDGED = ("verdict", "reversed", "hold")
Scheme = Literal["light", "dark"]
FEET = 0.3048
SPAN_FT = 950.0


@dataclass(kw_only=True)
class Sample:
    """Payloads of an invented job: two lines when `lines` is 2, structures `mile/number`."""

    count: int = 121
    lines: int = 1
    rename: dict[int, str] = field(default_factory=dict)
    name: str = "Sample 115 kV"
    _last: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        self.each = self.count // self.lines
        self.names = ["Stone Hollow", "Windle Fork"][: self.lines]
        self.rows = [self._row(line, k) for line in range(self.lines) for k in range(self.each)]
        for row, number in self.rename.items():
            self.rows[row]["number"] = number

    def _row(self, line: int, k: int) -> dict[str, Any]:
        true = k * SPAN_FT
        azimuth = 62.0 + 24.0 * math.sin(k / 11.0)
        previous = self._last if k else (-108.37 + 0.02 * line, 46.70 + 0.13 * line)
        back = 62.0 + 24.0 * math.sin((k - 1) / 11.0)
        step = SPAN_FT * FEET if k else 0.0
        lat = previous[1] + step * math.cos(math.radians(back)) / 111_170.0
        lon = previous[0] + step * math.sin(math.radians(back)) / (111_320.0 * math.cos(math.radians(lat)))
        self._last = (lon, lat)
        station = true if true < 47_000.0 else true + 384.5
        mile = int(true // 5280.0) + 1
        first = math.ceil((mile - 1) * 5280.0 / SPAN_FT - 1e-9)
        surveyed = k < 0.45 * self.each
        return {
            "line": line,
            "k": k,
            "number": f"{mile}/{k - first + 1}",
            "lon": lon,
            "lat": lat,
            "station": station,
            "station_text": f"{int(station // 100)}+{station % 100:05.2f}",
            "region": 1 if true < 47_000.0 else 2,
            "mile": mile,
            "arm": round((back + azimuth) / 2 + 90.0, 2) % 360.0,
            "poles": 3 if k % 23 == 22 else 2,
            "spacing": 15 * FEET if k % 23 == 22 else 12.5 * FEET,
            "stage": max(0, 6 - int(7 * k / self.each)) if k % 17 else 1,
            "verdict": ([0, 0, 0, 0, 1, 0, 2][k % 7] if surveyed else 3),
            "reversed": 1 if surveyed and k % 19 == 5 else 0,
            "hold": 2 if k % 29 == 11 else (1 if k % 29 == 12 else 0),
        }

    def job(self) -> dict[str, Any]:
        line = {**FIXED["line"], "length": self.each * SPAN_FT, "structure_count": self.each}
        return {
            **FIXED["job"],
            "name": self.name,
            "caution": CAUTION,
            "lines": [{**line, "name": name} for name in self.names],
            "stages": [{"code": code, "words": words} for code, words in STAGES],
            "verdicts": VERDICTS,
        }

    def _column(self, key: str) -> list[Any]:
        return [row[key] for row in self.rows]

    def structures(self) -> dict[str, Any]:
        surveyed = [i for i, row in enumerate(self.rows) if row["verdict"] != 3]
        return {
            "version": "7",
            "n": len(self.rows),
            "scale": 10_000_000,
            "lon": _deltas(self._column("lon")),
            "lat": _deltas(self._column("lat")),
            "station": [round(value * 100) for value in self._column("station")],
            "deflection": [0.0] * len(self.rows),
            "set": {
                "index": surveyed,
                "a": [self._set(i, -1) for i in surveyed],
                "b": [self._set(i, 1) for i in surveyed],
                "c": [None for _ in surveyed],
            },
            "type": [0] * len(self.rows),
            "types": ["H-TAN"],
            "findings": [0] * len(self.rows),
            **{key: self._column(key) for key in (*_COPIED, *_JUDGED)},
        }

    def _set(self, i: int, side: int) -> list[int]:
        """Surveyed position a little off the design pole."""
        row = self.rows[i]
        arm, reach = math.radians(row["arm"] + 4.0 * math.sin(i)), side * row["spacing"] / 2
        lon = row["lon"] + reach * math.sin(arm) / (111_320.0 * math.cos(math.radians(row["lat"])))
        lat = row["lat"] + reach * math.cos(arm) / 111_170.0
        return [round(lon * 1e7), round(lat * 1e7)]

    def centreline(self) -> dict[str, Any]:
        return {"lines": [self._line(line) for line in range(self.lines)]}

    def _line(self, line: int) -> dict[str, Any]:
        rows = [row for row in self.rows if row["line"] == line]
        return {
            "name": self.names[line],
            "lon": _deltas([row["lon"] for row in rows]),
            "lat": _deltas([row["lat"] for row in rows]),
            "ticks": [_tick(rows[k], rows[k + 1], thousand) for k, thousand in _thousands(len(rows))],
        }

    def context(self) -> dict[str, Any]:
        lon, lat = self.rows[20]["lon"], self.rows[20]["lat"]
        road = {"type": "LineString", "coordinates": [[lon, lat - 0.05], [lon + 0.004, lat + 0.05]]}
        gate = {"type": "Point", "coordinates": [lon + 0.002, lat + 0.006]}
        return {
            "type": "FeatureCollection",
            "features": [
                {"type": "Feature", "geometry": road, "properties": {"layer": "road", "name": "Route 918"}},
                {"type": "Feature", "geometry": gate, "properties": {"layer": "gate", "name": "G-3"}},
            ],
        }

    def _near(self, row: dict[str, Any], step: int) -> dict[str, str] | None:
        k = row["k"] + step
        if not 0 <= k < self.each:
            return None
        return {"number": self.rows[row["line"] * self.each + k]["number"], "span_text": f"{SPAN_FT:.2f} ft"}

    def detail(self, row: dict[str, Any]) -> dict[str, Any]:
        back, ahead = self._near(row, -1), self._near(row, 1)
        hold = {
            "id": "H-1",
            "sentence": "no framing here until 22 May",
            "kind": "hold",
            "until": "2026-05-22",
        }
        around = [near["number"] if near else "" for near in (back, ahead)]
        return {
            **FIXED["detail"],
            "line": self.names[row["line"]],
            **{key: row[key] for key in ("number", "station_text")},
            "station_region": row["region"],
            "true_distance_text": f"{row['k'] * SPAN_FT:,.2f} ft",
            "back": back,
            "ahead": ahead,
            "verdict": VERDICTS[row["verdict"]],
            "reversed": bool(row["reversed"]),
            "probability": 0.02 if row["verdict"] == 1 else 0.97,
            "landmark": "back to {}, face {}: pole A is on your left".format(*around),
            "sketch_svg": _sketch(row, *around),
            "steps": [
                {"step": word, "done": k <= row["stage"], "when": "2026-04-09", "crew": "Heron", "note": ""}
                for k, (_, word) in enumerate(STAGES[1:6], start=1)
            ],
            "holds": [{**hold, "until": "2026-05-22"}] if row["hold"] == 2 else [],
            "findings": ["arm turned 4.5° clockwise"] if row["verdict"] == 1 else [],
            "caution": CAUTION,
        }

    def payloads(self) -> dict[str, Any]:
        """All answers at once, as a snapshot carries them."""
        return {
            "job": self.job(),
            "structures": self.structures(),
            "centreline": self.centreline(),
            "context": self.context(),
            "details": [self.detail(row) for row in self.rows],
        }


def _sketch(row: dict[str, Any], back: str, ahead: str) -> str:
    return sketch_svg(
        number=row["number"],
        back_number=back,
        ahead_number=ahead,
        ahead_end="Amber Sill",
        deflection_deg=0.0,
        azimuth_back_rel_deg=0.0,
        azimuth_ahead_rel_deg=0.0,
        design=[("A", -6.25, 0.0), ("B", 6.25, 0.0)],
        as_set=[("A", -6.22, 0.49), ("B", 6.24, -0.5)] if row["verdict"] != 3 else [],
        unit_symbol="ft",
    )


def _deltas(values: list[float]) -> list[int]:
    whole = [round(value * 1e7) for value in values]
    return [value - before for value, before in zip(whole, [0, *whole[:-1]], strict=True)]


def _thousands(count: int) -> list[tuple[int, int]]:
    """Every 1,000 ft along `count` structures: row behind it, and the distance."""
    return [(int(true // SPAN_FT), true) for true in range(0, int((count - 1) * SPAN_FT), 1000)]


def _tick(back: dict[str, Any], ahead: dict[str, Any], true: int) -> dict[str, Any]:
    share = true / SPAN_FT - back["k"]
    return {
        "lon": back["lon"] + share * (ahead["lon"] - back["lon"]),
        "lat": back["lat"] + share * (ahead["lat"] - back["lat"]),
        "text": f"{true // 100}+00",
        "major": true % 5000 == 0,
        "azimuth": back["arm"] - 90.0,
        "region": back["region"],
    }


#: What the sample answers is held against what the server promises.
_WHOLE: dict[str, type[BaseModel]] = {
    "job": Job,
    "structures": Structures,
    "centreline": Centrelines,
    "context": FeatureCollection,
}


def sample_app(sample: Sample) -> FastAPI:
    """Serve the payloads of a sample at the map's addresses, under the page's real policy."""
    app = FastAPI()
    app.add_middleware(GuardHeaders, policy=content_policy(""))
    lon, lat = [row["lon"] for row in sample.rows], [row["lat"] for row in sample.rows]
    page = map_page(
        sample.name,
        centre=(lon[0], lat[0]),
        bounds=((min(lon), min(lat)), (max(lon), max(lat))),
        asset_version="test",
    )
    bodies = {
        name: model(**getattr(sample, name)()).model_dump_json().encode() for name, model in _WHOLE.items()
    }
    bodies |= {"holds": b'{"holds": []}', "session": b'{"local": true, "name": ""}'}

    @app.get("/")
    def shell() -> Response:
        return HTMLResponse(page.html)

    @app.get("/map.js")
    def script() -> Response:
        return Response(page.script, media_type="text/javascript")

    @app.get("/api/structure")
    def structure(line: str, number: str) -> Response:
        for row in sample.rows:
            if row["number"] == number and sample.names[row["line"]] == line:
                return Response(Panel(**sample.detail(row)).model_dump_json(), media_type="application/json")
        return JSONResponse({"error": {"code": "not_found", "message": number, "where": ""}}, status_code=404)

    @app.get("/api/{name}")
    def whole(name: str, request: Request) -> Response:
        return Response(bodies[name], media_type="application/json")

    app.mount("/static", PageFiles())
    app.mount("/vendor/leaflet", StaticFiles(directory=LEAFLET))
    return app


class Serving:
    """A uvicorn server in a thread on a free port of this machine."""

    def __init__(self, app: FastAPI) -> None:
        sock = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{sock.getsockname()[1]}"
        self.server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off", ws="none"))
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [sock]}, daemon=True)
        self.thread.start()
        while not self.server.started and self.thread.is_alive():
            time.sleep(0.01)

    def stop(self) -> None:
        self.server.should_exit = True
        self.thread.join(5.0)


@pytest.fixture(scope="session")
def serve() -> Iterator[Callable[[FastAPI], str]]:
    """Serve an application for the length of the session; gives its address."""
    running: list[Serving] = []

    def start(app: FastAPI) -> str:
        running.append(Serving(app))
        return running[-1].url

    yield start
    for serving in running:
        serving.stop()


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


class Watched:
    """A page that notes what it asks for and what it complains of."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.requests: list[str] = []
        self.complaints: list[str] = []
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("console", self._heard)
        page.on("pageerror", lambda error: self.complaints.append(f"{error.message} {error.stack}"))

    def _heard(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    def open(self, url: str) -> Page:
        self.page.goto(url)
        self.page.wait_for_selector(
            "html[data-ready='1'][data-context='1']", state="attached", timeout=15_000
        )
        return self.page

    def strangers(self) -> list[str]:
        """Requests that left this machine."""
        return [url for url in self.requests if not url.startswith(("http://127.0.0.1:", "data:", "blob:"))]


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
