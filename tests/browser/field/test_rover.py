"""A check by rover on the phone: what is refused, a whole one over a serial port, what is recorded of it."""

from __future__ import annotations

import base64
import datetime as dt
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page
from receiver import epochs, sentences
from rover_checks import on_earth
from watched_page import faults

from linemap.domain.crew_check.rover_fix import FACES, Centre

pytestmark = pytest.mark.browser

FOOT_M = 0.3048
RECORDED = Path(__file__).parents[2].joinpath("reference", "receiver.nmea").read_bytes()
#: A serial port of the browser whose bytes come from the test, through a stream of the browser's own.
PORT = """
  const chosen = { options: null, feed: null, lose: null, closed: false };
  window.rover = chosen;
  const port = () => ({
    open: async (options) => { chosen.options = options; },
    close: async () => { chosen.closed = true; },
    readable: new ReadableStream({ start(stream) {
      chosen.feed = (text) => stream.enqueue(Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0)));
      chosen.lose = () => stream.error(new Error("the device has been lost"));
    } }),
  });
  Object.defineProperty(Navigator.prototype, "serial", { get: () => ({ requestPort: async () => port() }) });
"""
PLACES = """async ([line, number]) => {
  const { head, cardOf, planOf, index } = await import('/static/js/field/pack.js');
  const { begun, start } = await import('/static/js/field/rover_check.js');
  const found = head(line, number);
  const card = await cardOf(found);
  const plan = await planOf(card);
  const check = begun(card, index().rover);
  start(check, plan);
  return { card, plan, places: check.places, rule: index().rover };
}"""
LINE = "Brindle Gap - Amber Sill 115 kV"


def asked(number: str) -> dict[str, str]:
    """Ask for a structure as of today: the phone's clock is right, the invented job ends in May."""
    return {"line": LINE, "number": number, "as_of": dt.datetime.now(dt.UTC).date().isoformat()}


class Rover:
    """A receiver on a rod that somebody carries around one frame."""

    def __init__(
        self, page: Page, number: str, poles: Any = None, base: tuple[float, float] = (0.3, -0.2)
    ) -> None:
        self.page = page
        found = page.evaluate(PLACES, [LINE, number])
        self.plan, self.places, self.rule = found["plan"], found["places"], found["rule"]
        card = found["card"]
        self.radii = card["tape"]["radii"]
        self.centre = Centre(
            longitude=card["longitude"], latitude=card["latitude"], azimuth_deg=card["azimuth_deg"]
        )
        self.poles = np.array(self.plan["poles"] if poles is None else poles)
        self.base, self.rng = base, np.random.default_rng(5)
        self.clock = dt.datetime.now(dt.UTC).replace(microsecond=0)

    def stand(self, place: dict[str, str], seconds: int = 21, **said: Any) -> None:
        """Stand at a place for some seconds."""
        at = np.array(self.base) + self.rng.normal(0, 0.012, 2)
        if place["face"]:
            letter = place["at"]
            outward = np.array(FACES[place["face"]])  # type: ignore[index]
            pole = self.poles[self.plan["letters"].index(letter)]
            at += pole + (self.radii[letter] + self.rule["rod"]) * outward
        else:
            (stake,) = [each for each in self.plan["stakes"] if each["name"] == place["at"]]
            at += (stake["right"], stake["ahead"])
        longitude, latitude = on_earth(self.centre, at * FOOT_M)
        told = b""
        for _ in range(seconds):
            told += b"".join(sentences(self.clock.time(), latitude, longitude, **{"sigma_m": 0.008, **said}))
            self.clock += dt.timedelta(seconds=1)
        self.clock += dt.timedelta(seconds=20)
        self.page.evaluate("text => window.rover.feed(text)", base64.b64encode(told).decode())

    def take(self, place: dict[str, str]) -> None:
        self.page.locator("[data-rover=take]").tap()
        self.page.locator("[data-rover=halt]").wait_for()
        self.stand(place)


def opened(phone: Any, number: str, **how: Any) -> tuple[Any, Rover]:
    """Open the check of a structure and connect the receiver."""
    one = phone(**how)
    one.page.add_init_script(PORT)
    one.open("rover", number)
    one.page.locator("[data-rover=serial]").tap()
    one.page.locator("[data-rover=serial][aria-pressed=true]").wait_for()
    return one, Rover(one.page, number)


def walk(rover: Rover, places: list[dict[str, str]]) -> None:
    for place in places:
        rover.take(place)


def test_a_phone_alone_is_refused_in_words(phone: Callable[..., Any]) -> None:
    one = phone()
    one.open("rover", "13/4")
    source = one.page.locator("[data-source]")
    assert "Choose where positions come from" in source.inner_text()
    one.tap("[data-rover=browser]")
    source.get_by_text("REFUSED").wait_for()
    words = source.inner_text()
    assert "this phone's position is good to 5.0 m by its own words" in words
    assert "fixed RTK position of 0.03 m or better" in words
    assert "A phone alone is never good enough" in words
    one.tap("[data-rover=stand]")
    one.tap("[data-rover=take]")
    one.page.wait_for_timeout(1500)
    assert one.page.locator("[data-source]").inner_text().startswith("REFUSED")
    assert "1 of 8" in one.page.locator("h1").inner_text()


def test_a_position_of_the_browser_counts_by_what_its_circle_means(phone: Callable[..., Any]) -> None:
    one = phone(geolocation={"longitude": -108.2, "latitude": 46.7, "accuracy": 0.02})
    one.open("rover", "13/4")
    one.tap("[data-rover=browser]")
    one.page.locator("[data-source]", has_text="COUNTS Good to 0.020 m by its own words").wait_for()
    sigmas = one.page.evaluate(
        """async () => {
          const { openBrowser } = await import('/static/js/field/rover_source.js');
          const { index } = await import('/static/js/field/pack.js');
          const told = [];
          for (const [name] of index().rover.circles) {
            const one = await new Promise((done) => openBrowser(index().rover, name, done, () => {}));
            told.push(one.sigma_m);
          }
          return told;
        }"""
    )
    assert sigmas == pytest.approx([0.02 / 1.51, 0.02 / 2.448, 0.02 / 1.414])


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"quality": 5, "sigma_m": 0.3}, "the receiver says: RTK that is not fixed (float)"),
        ({"age": 12.0}, "its corrections are 12 s old"),
        ({"sigma_m": 0.05}, "good to 0.071 m by its own words (GST)"),
    ],
)
def test_a_receiver_is_refused_by_its_own_words(
    phone: Callable[..., Any], said: dict[str, Any], words: str
) -> None:
    one, rover = opened(phone, "13/4")
    rover.stand(rover.places[0], 2, **said)
    one.page.locator("[data-source]", has_text=words).wait_for()
    assert one.page.evaluate("window.rover.options") == {"baudRate": 115200}


def test_the_recorded_stream_comes_through_the_port_as_pynmeagps_reads_it(phone: Callable[..., Any]) -> None:
    """In pieces of any size, through the browser's own stream; 48 of 58 epochs count."""
    one, _ = opened(phone, "13/4")
    one.page.evaluate(
        """async () => {
          const { openSerial } = await import('/static/js/field/rover_source.js');
          const { index } = await import('/static/js/field/pack.js');
          window.positions = [];
          await openSerial(index().rover, 115200, (position) => window.positions.push(position), () => {});
        }"""
    )
    rng, at = np.random.default_rng(3), 0
    while at < len(RECORDED):
        size = int(rng.integers(1, 900))
        text = base64.b64encode(RECORDED[at : at + size]).decode()
        one.page.evaluate("text => window.rover.feed(text)", text)
        at += size
    one.page.wait_for_function("window.positions.length === 58")
    heard = one.page.evaluate("window.positions")
    wanted = np.array([epoch[:2] for epoch in epochs(RECORDED)])
    np.testing.assert_allclose([[each["latitude"], each["longitude"]] for each in heard], wanted, atol=1e-9)
    assert len([each for each in heard if not each["why"]]) == 48
    times = [each["at"] for each in heard]
    assert times == sorted(times)
    assert times[-1] - times[0] == 59


def test_a_whole_check_is_taken_and_recorded_and_the_job_says_the_same(
    phone: Callable[..., Any], field: Any
) -> None:
    """Eight places, a tap each, and two to begin and to save; the residual shows while it runs."""
    one, rover = opened(phone, "13/4")
    one.taps = 0
    one.tap("[data-rover=stand]")
    first, *others = rover.places
    one.tap("[data-rover=take]")
    rover.stand(first, 10)
    run = one.page.locator("[data-run]")
    run.get_by_text("10 positions").wait_for()
    assert "off by the base: taken out of all" in run.inner_text()
    assert re.search(r"0\.(29|30|31|32) ft right, 0\.\d\d ft toward 13/3", run.inner_text())
    rover.clock -= dt.timedelta(seconds=20)
    rover.stand(first, 12)
    for place in others:
        one.tap("[data-rover=take]")
        one.page.locator("[data-rover=halt]").wait_for()
        rover.stand(place)
    one.page.locator(".verdict[data-verdict=pass]").wait_for()
    answer = one.page.locator("main").inner_text()
    assert "By the stakes the base is 0." in answer
    one.tap("[data-rover=save]")
    one.page.locator("#toast", has_text="check by rover at 13/4, pass").wait_for()
    assert one.taps == 10
    one.send_all()
    (event,) = field.events()
    content = json.loads(event["content"])
    assert (event["what"], content["method"], content["verdict"]) == ("check", "rover", "pass")
    assert [(each["at"], each["face"]) for each in content["fixes"]] == [
        (each["at"], each["face"]) for each in rover.places
    ]
    shown = field.server.get("/api/structure", params=asked("13/4")).json()
    (check,) = [each for each in shown["crew_checks"] if each["id"] == event["id"]]
    assert check["verdict"] == "pass"
    assert "the phone found" not in check["words"]
    told = {name: pair[0] for name, pair in content["quantities"].items()}
    assert abs(told["rotation"]) < 0.4


def test_a_turned_frame_is_checked_again_before_a_pole_is_moved(
    phone: Callable[..., Any], field: Any
) -> None:
    one, rover = opened(phone, "13/5")
    angle = np.radians(4.0)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    rover.poles = rover.poles @ turn
    one.page.locator("[data-rover=stand]").tap()
    walk(rover, rover.places)
    one.page.locator(".verdict[data-verdict=fail]").wait_for()
    assert "Move nothing yet." in one.page.locator("main").inner_text()
    assert not one.page.locator("main", has_text="MOVE pole").count()
    one.page.locator("[data-rover=go]").tap()
    walk(rover, rover.places)
    one.page.locator(".verdict[data-verdict=fail]").wait_for()
    one.page.locator("main", has_text="MOVE").wait_for()
    assert (
        "turned 4." in one.page.locator("main").inner_text()
        or "turned 3." in one.page.locator("main").inner_text()
    )
    one.page.locator("[data-rover=save]").tap()
    one.page.locator("#toast", has_text="check by rover at 13/5, fail").wait_for()
    first = one.page.locator(".card .hold").first
    assert first.inner_text().startswith("WRONG crew check by rover: fail, recorded on this phone")
    one.send_all()
    (event,) = field.events()
    assert json.loads(event["content"])["failed_before"] == 1
    shown = field.server.get("/api/structure", params=asked("13/5")).json()
    assert shown["look_first"][0]["code"] == "crew check"


def test_a_place_fixed_wrongly_is_named_and_taken_once_more(phone: Callable[..., Any]) -> None:
    one, rover = opened(phone, "13/6")
    one.page.locator("[data-rover=stand]").tap()
    for i, place in enumerate(rover.places):
        base = rover.base
        rover.base = (base[0] + 1.2, base[1]) if i == 5 else base
        rover.take(place)
        rover.base = base
    one.page.locator(".verdict[data-verdict=contradict]").wait_for()
    wanted = one.page.locator("main ul li").first.inner_text()
    assert wanted.startswith(f"pole {rover.places[5]['at']}, face on the {rover.places[5]['face']}")
    one.page.locator("[data-rover=go]").tap()
    again = one.page.evaluate(
        """async () => {
          const { read } = await import('/static/js/field/db.js');
          const checks = Object.values(await read('meta', 'rover'));
          return checks.find((each) => each.dropped.length).places.slice(-2);
        }"""
    )
    walk(rover, again)
    one.page.locator(".verdict[data-verdict=pass]").wait_for()


@pytest.mark.parametrize(("scheme", "size"), [("light", (390, 844)), ("dark", (320, 568))])
def test_nothing_is_wrong_with_its_three_pages(
    phone: Callable[..., Any], scheme: str, size: tuple[int, int]
) -> None:
    width, height = size
    one, rover = opened(phone, "14/2", scheme=scheme, viewport={"width": width, "height": height})
    rover.stand(rover.places[0], 2, quality=5)
    one.page.locator("[data-source]", has_text="REFUSED").wait_for()
    assert faults(one.page) == []
    one.page.locator("[data-rover=stand]").tap()
    one.page.locator("[data-rover=take]").tap()
    rover.stand(rover.places[0], 12)
    one.page.locator("[data-run]", has_text="12 positions").wait_for()
    assert faults(one.page) == []
    rover.clock -= dt.timedelta(seconds=20)
    rover.stand(rover.places[0], 12)
    walk(rover, rover.places[1:])
    one.page.locator(".verdict").wait_for()
    assert faults(one.page) == []


def test_a_rod_that_moves_begins_anew_and_a_lost_receiver_is_said(phone: Callable[..., Any]) -> None:
    one, rover = opened(phone, "14/1")
    one.page.locator("[data-rover=stand]").tap()
    one.page.locator("[data-rover=take]").tap()
    rover.stand(rover.places[0], 12)
    one.page.locator("[data-run]", has_text="12 positions").wait_for()
    rover.clock -= dt.timedelta(seconds=20)
    rover.base = (1.6, 0.0)
    rover.stand(rover.places[0], 3)
    one.page.locator("[data-run]", has_text="the rod moved; it begins anew").wait_for()
    assert "3 positions" in one.page.locator("[data-run]").inner_text()
    one.page.evaluate("window.rover.lose()")
    one.page.locator("[data-source]", has_text="the receiver is gone: the device has been lost").wait_for()
    one.open("rover", "14/1")
    assert one.page.locator("[data-rover=stand]").inner_text() == "Begin: 8 places"
