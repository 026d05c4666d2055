"""Answers of another time over HTTP: what they are of, and what they keep from whom."""

from __future__ import annotations

import datetime as dt
import io
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Protocol

import pytest
from fastapi import FastAPI
from pypdf import PdfReader
from starlette.testclient import TestClient

from linemap.domain.record.person import Role
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.store.database import Database

#: The invented line's job came on 16 May.
CAME = dt.date(2026, 5, 16)
LATER = dt.datetime(2026, 5, 20, 9, tzinfo=dt.UTC)
HOLD = "Hold,Activities,Structures,Reason,Restricted\nHZ-1,dig,14/2,falcon at the creek,yes\n"
#: Addresses that answer of another time.
ADDRESSES = (
    "/api/job",
    "/api/centreline",
    "/api/survey",
    "/api/declarations",
    "/api/structures",
    "/api/structure?number=14/2",
    "/api/holds",
    "/api/list?kind=holds",
    "/api/list?kind=tolerances",
    "/api/progress",
    "/api/next?crew=Heron",
    "/api/sheets/card.pdf?structures=14/2",
)


class People(Protocol):
    """What the fixture `people_of` makes."""

    application: FastAPI
    database: Database

    def client(self, role: Role | None) -> TestClient: ...


@pytest.fixture(scope="module")
def after(
    demo_job: Path, tmp_path_factory: pytest.TempPathFactory, people_of: Callable[[Path], People]
) -> Iterator[People]:
    """The invented line with a hold that came on 20 May, to be asked only."""
    folder = tmp_path_factory.mktemp("times")
    people = people_of(Path(shutil.copy(demo_job, folder / "times.linemap")))
    path = folder / "holds_new.csv"
    path.write_text(HOLD, encoding="utf-8")
    load_files(people.database, LoadRequest(paths=(path,), loaded_by="Otter"), now=LATER)
    yield people
    people.database.close()


def get(asking: TestClient, address: str, **days: str) -> Any:
    # parameters that are given apart take the place of those of the address
    said = "&".join(f"{name}={day}" for name, day in days.items())
    return asking.get(f"{address}{'&' if '?' in address else '?'}{said}")


def ask(asking: TestClient, address: str, **days: str) -> Any:
    answer = get(asking, address, **days)
    assert answer.status_code == 200, answer.text
    return answer


def words_of(answer: Any) -> str:
    """Return the text of an answer; of paper, what is printed."""
    if answer.headers["content-type"] != "application/pdf":
        return answer.text
    return "".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)


def test_a_hold_is_not_known_before_it_came(after: People) -> None:
    """What was known of the holds on a day stays what was known."""
    manager = after.client(Role.MANAGER)

    def holds(**days: str) -> list[str]:
        return [hold["id"] for hold in ask(manager, "/api/holds", **days).json()["holds"]]

    assert holds()[-1] == "HZ-1"
    assert holds(known_by="2026-05-20") == holds()
    assert holds(known_by="2026-05-19") == holds(as_of="2026-05-19") == holds()[:-1]
    panel = "/api/structure?number=14/2"
    assert "HZ-1" not in ask(manager, panel, known_by="2026-05-19").text
    assert "dig" in " ".join(map(str, ask(manager, panel).json()["holds"]))
    listed = ask(manager, "/api/list?kind=holds", known_by="2026-05-19").json()
    assert [state["current"] for state in listed["states"]] == [True]
    states = ask(manager, "/api/list?kind=holds").json()["states"]
    assert [state["true_from"] for state in states] == ["2026-05-16", "2026-05-20"]


@pytest.mark.parametrize("role", [Role.MANAGER, Role.CREW, Role.VIEWER])
def test_what_is_restricted_is_kept_at_every_time(after: People, role: Role) -> None:
    asking, told = after.client(role), set()
    for address in ADDRESSES:
        answer = get(asking, address, as_of="2026-05-21", known_by="2026-05-22")
        if answer.status_code != 403:
            assert answer.status_code == 200, answer.text
            told |= {address} if "falcon" in words_of(answer) else set()
    assert bool(told) == (role is Role.MANAGER), told


@pytest.mark.parametrize("address", [each for each in ADDRESSES if "pdf" not in each])
def test_an_answer_of_another_time_says_so_and_is_not_kept(after: People, address: str) -> None:
    answer = ask(after.client(Role.MANAGER), address, as_of="2026-05-10", known_by="2026-05-19")
    body = answer.json()
    words = "as of 2026-05-10, as known by 2026-05-19"
    if address == "/api/progress":
        assert (body["as_of"], body["known_by"]) == ("2026-05-10", "2026-05-19")
    elif address not in {"/api/structures", "/api/centreline"}:  # columns and places alone
        assert body["when"] == words
    assert "etag" not in answer.headers
    now = ask(after.client(Role.MANAGER), address).json()
    assert not now.get("when")


def test_what_is_no_day_is_refused(after: People) -> None:
    answer = after.client(Role.MANAGER).get("/api/holds", params={"known_by": "some day"})
    assert answer.status_code == 422
