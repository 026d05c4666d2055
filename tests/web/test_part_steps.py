"""Steps of guys and spans, declared by a job, on every answer that has steps."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any, Protocol

from starlette.testclient import TestClient

from linemap.domain.record.person import Role

DECLARED = (
    ("guyed", "guy", "contract 3.2"),
    ("strung", "span after set", "contract 3.4"),
    ("clipped", "span after strung", "contract 3.4"),
)


class People(Protocol):
    """What the fixture `own_people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


def declare(manager: TestClient, part: str, text: str, source: str = "") -> Any:
    change = {"name": "part_step", "part": part, "text": text}
    return manager.post(
        "/api/declarations", json={"changes": [change], "who": "Person manager", "source": source}
    )


def record(crew: TestClient, structure: str, step: str, part: str) -> list[str]:
    event = {
        "id": str(uuid.uuid4()), "structure": structure, "step": step, "part": part, "crew": "Mole",
        "happened_at": "2026-05-14T09:00:00-06:00", "actor": "Person crew",
    }  # fmt: skip
    now = dt.datetime.now(dt.UTC).isoformat()
    answer = crew.post("/api/events", json={"sent_at": now, "events": [event]})
    (result,) = answer.json()["results"]
    assert result["outcome"] == "stored", result
    return list(result["findings"])


def card_of(crew: TestClient, number: str) -> Any:
    cards = crew.get("/api/field/mile", params={"mile": int(number.split("/")[0])}).json()["structures"]
    return next(each for each in cards if each["number"] == number)


def step_of(found: Any, code: str) -> Any:
    return next(step for step in found["steps"] if step["code"] == code)


def test_guys_and_spans_have_their_own_steps_on_every_answer(own_people: People) -> None:
    manager, crew = own_people.client(Role.MANAGER), own_people.client(Role.CREW)
    for part, text, source in DECLARED:
        assert declare(manager, part, text, source).status_code == 200
    rules = crew.get("/api/field/index").json()["workflow"]["steps"]
    assert {rule["code"]: rule["per"] for rule in rules if rule["per"] in ("guy", "span")} == {
        "guyed": "guy", "strung": "span", "clipped": "span",
    }  # fmt: skip
    guys = step_of(card_of(crew, "9/2"), "guyed")["parts"]
    assert len(guys) > 1
    assert step_of(card_of(crew, "9/2"), "strung")["parts"] == ["9/2 to 9/3"]
    assert "guyed" in card_of(crew, "9/3")["not_built"]

    wanted = f"Mole recorded guyed for guy G9, not one of {', '.join(guys)}"
    assert wanted in record(crew, "9/2", "guyed", "G9")
    record(crew, "9/2", "guyed", guys[0])
    begun = step_of(card_of(crew, "9/2"), "guyed")
    assert (begun["done"], begun["parts_done"]) == (False, guys[:1])
    for guy in guys[1:]:
        record(crew, "9/2", "guyed", guy)
    panel = crew.get("/api/structure", params={"number": "9/2"}).json()
    assert (step_of(panel, "guyed")["done"], step_of(panel, "guyed")["parts_done"]) == (True, guys)
    assert any(f"guyed {guys[1]} by Mole" in each["text"] for each in panel["history"])

    wrong = record(crew, "1/1", "strung", "1/2 to 1/3")
    assert "strung is recorded for 1/2 to 1/3, but the span ahead of 1/1 is 1/1 to 1/2" in wrong
    record(crew, "1/1", "strung", "1/1 to 1/2")
    counts = {row["step"]: row for row in crew.get("/api/progress").json()["counts"]}
    assert (counts["strung"]["done"], counts["strung"]["of"]) == (1, 120), "one of each pair"
    assert counts["guyed"]["of"] == 13
    found = crew.get("/api/next", params={"crew": "Swift", "step": "strung", "from": "1/1"}).json()
    assert found["workable"][0]["number"] == "1/2"
    held = {row["number"]: row["sentence"] for row in found["refused"]}
    assert "17/2" in held, "the hold on stringing stops the span"


def test_what_is_no_step_of_parts_is_refused_and_another_may_stand_on_one(own_people: People) -> None:
    manager = own_people.client(Role.MANAGER)
    for text, why in (
        ("pole after set", "neither a step of guys nor of spans"),
        ("span after lunch", "is no step of the job's workflow"),
        ("span set", "neither a step of guys nor of spans"),
    ):
        answer = declare(manager, "strung", text)
        assert answer.status_code == 422
        assert why in answer.json()["error"]["message"]
    declare(manager, "strung", "span after set", "contract 3.4")
    declare(manager, "clipped", "span after strung", "contract 3.4")
    assert declare(manager, "strung", "").status_code == 200, "taken back"
    steps = {step["code"]: step for step in manager.get("/api/field/index").json()["workflow"]["steps"]}
    assert "strung" not in steps
    assert steps["clipped"]["requires"] == []
