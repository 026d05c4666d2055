"""Punch items that phones open and close: joined with the list everywhere, and nothing for the public."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any, Protocol

from starlette.testclient import TestClient

from linemap.domain.record.person import Role


class People(Protocol):
    """What the fixture `own_people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


def say(client: TestClient, who: str, number: str, photos: int = 0, **content: str) -> str:
    event = {
        "id": str(uuid.uuid4()), "structure": number, "what": "punch", "actor": who, "content": content,
        "happened_at": "2026-05-14T09:00:00-06:00", "photos": [str(uuid.uuid4()) for _ in range(photos)],
    }  # fmt: skip
    sent = {"sent_at": dt.datetime.now(dt.UTC).isoformat(), "events": [event]}
    (result,) = client.post("/api/events", json=sent).json()["results"]
    return str(result["why"] or result["outcome"])


def items_at(client: TestClient, number: str) -> dict[str, Any]:
    panel = client.get("/api/structure", params={"number": number}).json()
    cards = client.get("/api/field/mile", params={"mile": int(number.split("/")[0])})
    card = next(each for each in cards.json()["structures"] if each["number"] == number)
    assert card["punch"] == panel["punch"]
    return {item["item"]: item for item in panel["punch"]}


def test_an_item_is_opened_closed_and_opened_again_from_phones(own_people: People) -> None:
    crew, inspector = own_people.client(Role.CREW), own_people.client(Role.INSPECTOR)
    opened = {
        "item": "P-900",
        "action": "opened",
        "text": "brace bolt loose",
        "owner": "Heron",
        "due": "2026-05-15",
    }
    assert say(crew, "Person crew", "9/1", **opened) == "stored"
    found = items_at(crew, "9/1")["P-900"]
    assert (found["open"], found["overdue"], found["owner"]) == (True, False, "Heron")
    assert say(crew, "Person crew", "9/1", item="P-900", action="closed") == "stored"
    assert "without evidence" in items_at(crew, "9/1")["P-900"]["finding"]
    assert say(inspector, "Person inspector", "9/1", photos=1, item="P-900", action="closed") == "stored"
    closed = items_at(crew, "9/1")["P-900"]
    assert not closed["open"]
    assert "on 1 photo" in closed["sentence"]
    assert say(inspector, "Person inspector", "9/1", item="P-900", action="reopened") == "stored"
    again = items_at(crew, "9/1")["P-900"]
    assert again["open"]
    assert [line.split()[0] for line in again["history"]] == ["opened", "closed", "closed", "reopened"]
    rows = own_people.client(Role.MANAGER).get("/api/list", params={"kind": "punch"}).json()["rows"]
    assert sum("P-900" in row for row in rows) == 4


def test_an_item_of_the_list_is_closed_by_a_phone(own_people: People) -> None:
    crew = own_people.client(Role.CREW)
    rows = own_people.client(Role.MANAGER).get("/api/list", params={"kind": "punch"}).json()
    names = [field["name"] for field in rows["fields"]]
    numbers = [str(row[names.index("structure")]) for row in rows["rows"]]
    number, item = next(
        (number, name) for number in numbers for name, each in items_at(crew, number).items() if each["open"]
    )
    assert say(crew, "Person crew", number, item=item, action="closed", evidence="torqued to 90") == "stored"
    assert not items_at(crew, number)[item]["open"]


def test_next_says_the_items_of_where_a_crew_may_go(own_people: People) -> None:
    crew = own_people.client(Role.CREW)
    asked = {"crew": "Heron", "step": "framed", "limit": "1"}
    (first,) = crew.get("/api/next", params=asked).json()["workable"]
    assert "P-902" not in str(first)
    say(crew, "Person crew", first["number"], item="P-902", action="opened", text="sign missing")
    (first,) = crew.get("/api/next", params=asked).json()["workable"]
    assert any("punch item P-902" in words for words in first["conditions"])


def test_what_cannot_be_an_entry_is_refused_in_words(own_people: People) -> None:
    crew = own_people.client(Role.CREW)
    assert "says not what is wrong" in say(crew, "Person crew", "9/1", item="P-1", action="opened")
    assert "names no item" in say(crew, "Person crew", "9/1", action="closed")


def test_the_public_and_viewers_files_see_no_item_and_no_record_of_one(own_people: People) -> None:
    crew, viewer = own_people.client(Role.CREW), own_people.client(Role.VIEWER)
    say(crew, "Person crew", "9/1", item="P-901", action="opened", text="unseen by the public")
    panel = viewer.get("/api/structure", params={"number": "9/1"}).json()
    assert panel["punch"] == []
    assert "punch" not in " ".join(each["text"] for each in panel["history"])
    assert "unseen by the public" not in str(panel)
    assert "unseen by the public" in str(crew.get("/api/structure", params={"number": "9/1"}).json())


def test_who_closes_is_the_jobs_to_say(own_people: People) -> None:
    manager, crew = own_people.client(Role.MANAGER), own_people.client(Role.CREW)
    change = {"name": "punch_roles", "part": "", "text": "inspector: contract 9.3"}
    said = {"changes": [change], "who": "Person manager", "source": ""}
    assert manager.post("/api/declarations", json=said).status_code == 200
    assert crew.get("/api/field/index").json()["punch_roles"] == ["inspector"]
    say(crew, "Person crew", "9/1", item="P-903", action="opened", text="loose")
    say(crew, "Person crew", "9/1", item="P-903", action="closed", evidence="tight")
    assert "to be closed by inspector" in items_at(crew, "9/1")["P-903"]["finding"]
    inspector = own_people.client(Role.INSPECTOR)
    say(inspector, "Person inspector", "9/1", item="P-903", action="closed", evidence="seen")
    assert not items_at(crew, "9/1")["P-903"]["open"]
