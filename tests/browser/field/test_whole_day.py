"""One whole day: three phones, 40 structures, holds that come and go, a renumbering, and what breaks.

A job of its own is served by a process of its own. The three phones take the line along in the morning; then
there is no signal. In the evening every record is on record once, where it belongs, with its four names.
"""

from __future__ import annotations

import collections
import datetime as dt
import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import expect
from served_process import ServedProcess

pytestmark = pytest.mark.browser

LINE = "Brindle Gap - Amber Sill 115 kV"
COUNT = 40
#: The day it is where the line lies: holds go by that one, not by the clock of whoever runs this.
TODAY = dt.datetime.now(ZoneInfo("America/Denver")).date()


def linemap(*words: str) -> str:
    """Run a command as a person does; gives what it prints."""
    done = subprocess.run(
        [sys.executable, "-m", "linemap", *words], capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


class Office(ServedProcess):
    """A job and the process that serves it, which can be killed and started anew at one port."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder / "served.txt")
        self.folder, self.job = folder, folder / "day.linemap"
        self.url = f"http://127.0.0.1:{self.port}"
        #: Signals between the phones and it.
        self.relays: list[Any] = []

    def serve(self) -> None:
        self.start("linemap", ["serve", str(self.job)])

    def load(self, name: str, rows: list[str], *words: str) -> str:
        path = self.folder / name
        path.write_text("\n".join([*rows, ""]))
        said = linemap("load", str(self.job), str(path), "--yes", "--by", "Mo Tarn", *words)
        print(said)
        return said

    def link(self, name: str, role: str, device: str) -> str:
        """Return the code of a sign-in link."""
        said = json.loads(
            linemap("user", str(self.job), "add", name, "--role", role, "--device", device, "--json")
        )
        return str(said["link"]).partition("#")[2]


def structure_rows(names: list[str]) -> list[str]:
    heading = "Structure,Northing (ft),Easting (ft),Type,Pole Spacing (ft)"
    return [
        heading,
        *(f"{name},900000,{2250000 + 700 * at},H-TAN,12.5" for at, name in enumerate(names, start=1)),
    ]


def names_of(renamed: dict[str, str]) -> list[str]:
    plain = [f"{1 + at // 10}/{1 + at % 10}" for at in range(COUNT)]
    return [renamed.get(name, name) for name in plain]


@pytest.fixture
def office(tmp_path: Path) -> Iterator[Office]:
    made = Office(tmp_path)
    linemap("new", str(made.job), "--crs", "EPSG:6515", "--line", LINE, "--combined-factor", "1.0")
    made.load("centreline.csv", ["PI,Northing (ft),Easting (ft)", "POB,900000,2250000", "POE,900000,2279000"])
    made.load("structures.csv", structure_rows(names_of({})), "--label", "A")
    # midnight may pass while the day is played
    yesterday, tomorrow, later = (TODAY + dt.timedelta(days=days) for days in (-1, 1, 2))
    made.load(
        "holds.csv",
        [
            "id,line,structures,activities,from date,to date,condition,reason,set by,release by",
            f"HN-1,{LINE},1/3,all,{TODAY},{tomorrow},,lambing,inspector,inspector",
            f"HN-2,{LINE},1/5,all,{later},,,wetland,inspector,inspector",
            f"HN-3,{LINE},1/7,all,,{yesterday},,wetland,inspector,inspector",
        ],
    )
    yield made
    made.kill()
    for field in made.relays:
        field.signal.stop()
        field.server.close()


class Crew:
    """One of the three phones, the signal it has, and whoever holds it."""

    def __init__(self, phone: Any, signal: Any, crew: str) -> None:
        self.phone, self.signal, self.crew = phone, signal, crew

    def sign_in(self, code: str) -> None:
        page = self.phone.page
        page.goto(f"{self.phone.url}/sign-in#{code}")
        page.reload()
        page.locator("#take").click()
        page.wait_for_url(lambda url: "/sign-in" not in url)

    def morning(self, code: str) -> None:
        self.sign_in(code)
        self.phone.load()
        self.phone.go("send")
        self.phone.belong(self.crew)

    def record(self, number: str, step: str, pole: str = "") -> None:
        self.phone.record(number, step, pole)


def events_of(office: Office) -> list[dict[str, Any]]:
    """Return the whole record, as the job exports it."""
    path = office.folder / "record.jsonl"
    linemap("log", str(office.job), "export", "--out", str(path))
    rows = [json.loads(line) for line in path.read_text().splitlines()]
    return [row["event"] for row in rows if "event" in row]


def test_a_whole_day_of_three_phones(
    office: Office,
    field_of: Callable[[str], Any],
    phone_of: Callable[[Any], Any],
    kept_phone_of: Callable[[Any], Any],
    tmp_path: Path,
) -> None:
    people = {"Ada Marrow": "crew", "Bo Sill": "crew", "Ida Penn": "inspector", "Cy Rook": "crew"}
    codes = {name: office.link(name, role, f"phone of {name}") for name, role in people.items()}
    office.serve()
    # a signal for each phone: one that has it sends by itself, whenever its time comes
    fields = [field_of(office.url) for _ in range(3)]
    office.relays.extend(fields)
    kept = kept_phone_of(fields[0])
    ada = Crew(kept.switch_on(), fields[0].signal, "Heron")
    bo = Crew(phone_of(fields[1]), fields[1].signal, "Otter")
    ida = Crew(phone_of(fields[2]), fields[2].signal, "Inspection")
    for one, name in ((ada, "Ada Marrow"), (bo, "Bo Sill"), (ida, "Ida Penn")):
        one.morning(codes[name])

    # a day without a signal; the hold list says what begins and ends
    for one in (ada, bo, ida):
        one.signal.lost()
    for number in ("2/1", "2/2", "2/3", "2/4", "2/5"):
        for pole in "AB":
            ada.record(number, "dug", pole)
    bo.phone.go("card", "1/3")
    expect(bo.phone.page.locator(".card")).to_contain_text("lambing")
    bo.record("1/3", "framed")
    bo.record("1/5", "framed")
    bo.record("1/7", "framed")
    ida.record("2/6", "dug", "A")

    # the first phone dies and comes back with all it wrote, signed in as before
    written = ada.phone.waiting()
    assert len(written) == 10
    kept.settled()
    assert kept.kill() >= 2
    ada.phone = kept.switch_on()
    ada.phone.open("send")
    assert {entry["id"] for entry in ada.phone.waiting()} == {entry["id"] for entry in written}
    written += [*bo.phone.waiting(), *ida.phone.waiting()]

    # meanwhile the owner renumbers two structures, and the office keeps a copy
    renamed = {"2/4": "2/4A", "2/5": "2/4B"}
    office.load("renumbered.csv", structure_rows(names_of(renamed)), "--label", "B")
    linemap("backup", str(office.job), "--to", str(tmp_path / "noon.linemap"))

    # the server dies while the first phone sends, and is started anew
    ada.signal.lose_answers = 100
    ada.signal.back()
    ada.phone.send()
    ada.phone.page.locator(".hold", has_text="the server did not answer").wait_for()
    office.kill()
    ada.signal.lose_answers = 0
    office.serve()
    ada.phone.send_all()
    ida.signal.back()
    ida.phone.send_all()

    # the second phone is taken from its person; somebody else signs in on it
    linemap("user", str(office.job), "revoke", "Bo Sill")
    bo.signal.back()
    bo.phone.send()
    bo.phone.page.locator(".hold", has_text="Nothing is lost").wait_for()
    bo.sign_in(codes["Cy Rook"])
    bo.phone.open("send")
    bo.phone.send_all()
    hold_of_record(office, written)

    # the office's disk dies: the copy of noon is served, and the phones bring what it lacks
    office.kill()
    office.job = tmp_path / "again.linemap"
    linemap("restore", str(tmp_path / "noon.linemap"), "--to", str(office.job))
    assert recorded(office) == []
    office.serve()
    linemap("user", str(office.job), "revoke", "Bo Sill")
    for one in (ada, ida):
        one.phone.send()
    waits_for(lambda: len(recorded(office)) == 11)
    bo.sign_in(office.link("Cy Rook", "crew", "phone of Cy Rook"))
    bo.phone.open("send")
    bo.phone.send()
    waits_for(lambda: len(recorded(office)) == len(written))
    hold_of_record(office, written)
    for one in (ada, bo, ida):
        assert one.phone.complaints == []
        assert one.phone.strangers() == []


def recorded(office: Office) -> list[dict[str, Any]]:
    return [event for event in events_of(office) if event.get("crew")]


def waits_for(true: Callable[[], bool]) -> None:
    for _ in range(60):
        if true():
            return
        time.sleep(0.5)
    assert true()


def hold_of_record(office: Office, written: list[dict[str, Any]]) -> None:
    """Every record once, at the place it belongs to, of the four who stand behind it, and its cases."""
    events = recorded(office)
    assert collections.Counter(event["id"] for event in events) == collections.Counter(
        entry["id"] for entry in written
    )
    behind = {(event["crew"], event["signed_by"], event["sent_by"], event["device"]) for event in events}
    assert behind == {
        ("Heron", "Ada Marrow", "Ada Marrow", "phone of Ada Marrow"),
        ("Inspection", "Ida Penn", "Ida Penn", "phone of Ida Penn"),
        ("Otter", "Bo Sill", "Cy Rook", "phone of Bo Sill"),
    }
    count = json.loads(linemap("progress", str(office.job), "--json"))
    assert next(each for each in count["counts"] if each["step"] == "dug")["done"] == 5
    cases = json.loads(linemap("cases", str(office.job), "--json"))
    against = {each["number"]: each for each in cases if each["code"] == "recorded under hold"}
    # what begins later and what had ended held nothing
    assert set(against) == {"1/3"}
    assert (against["1/3"]["state"], against["1/3"]["asked"]) == ("open", "inspector")
    linemap("log", str(office.job), "verify")
