"""Cases over the application: taken, told to who answers them, closed by nobody else; records that move."""

from __future__ import annotations

import csv
import datetime as dt
import io
import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.case import CaseList
from linemap.domain.record.person import Role
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.people.people import add_person, sign_in_by_code
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database
from linemap.web.session import cookie_name

AT, LATER = "2026-05-14T09:00:00-06:00", "2026-05-14T09:30:00-06:00"


def record(structure: str, step: str, **said: Any) -> dict[str, Any]:
    return {"id": str(uuid.uuid4()), "structure": structure, "step": step, "happened_at": AT, **said}


def sent(client: TestClient, *events: Mapping[str, Any]) -> list[dict[str, Any]]:
    now: dt.datetime = client.app.state.now()  # type: ignore[attr-defined]
    body = {"sent_at": now.isoformat(), "events": list(events)}
    answer = client.post("/api/events", json=body)
    assert answer.status_code == 200, answer.text
    results: list[dict[str, Any]] = answer.json()["results"]
    return results


def cases(client: TestClient, **asked: str) -> CaseList:
    return read_answer(CaseList, client.get("/api/cases", params=asked).json())


def under_hold(client: TestClient, **asked: str) -> list[Any]:
    """Return the cases of 14/2 against its hold."""
    return [
        each
        for each in cases(client, **asked).cases
        if (each.number, each.code) == ("14/2", "recorded under hold")
    ]


def act(case: Any, what: str, note: str = "mats in place, photo 14", **said: Any) -> dict[str, Any]:
    about = {"act": what, "code": case.code, "part": case.part, "records": [each.id for each in case.records]}
    return record(case.number, "", what="case", content=about, note=note, **said)


def fresh(client: TestClient) -> JobView:
    """Return the job computed anew, as whoever starts a server now would have it."""
    state = client.app.state  # type: ignore[attr-defined]
    return build_view(state.database, today=dt.date(2026, 5, 16))


def seen(client: TestClient) -> JobView:
    """Return the job as the server has it, grown record by record."""
    view: JobView = next(iter(client.app.state.answers.values())).whole_view()  # type: ignore[attr-defined]
    return view


def assert_the_same(client: TestClient) -> None:
    grown, anew = seen(client), fresh(client)
    assert grown.cases == anew.cases
    assert _in_order(grown) == _in_order(anew)
    assert grown.statuses == {**anew.statuses, **{key: grown.statuses[key] for key in _empty(grown, anew)}}
    assert grown.moved == anew.moved
    assert [str(each) for each in grown.ledger.everything()] == [
        str(each) for each in anew.ledger.everything()
    ]


def _in_order(view: JobView) -> dict[tuple[str, str], list[Any]]:
    return {
        key: sorted(events, key=lambda event: event.id)
        for key, events in view.events_by_structure.items()
        if events
    }


def _empty(grown: JobView, anew: JobView) -> set[tuple[str, str]]:
    return {key for key in grown.statuses.keys() - anew.statuses.keys() if not grown.events_by_structure[key]}


def test_work_under_a_hold_is_taken_and_waits_for_its_releaser_on_every_surface(phone: TestClient) -> None:
    before = cases(phone).open
    done = record("14/2", "framed", crew="Heron", actor="Cy")
    (result,) = sent(phone, done)
    assert result["outcome"] == "stored"
    (case,) = under_hold(phone)
    assert (case.state, case.asked, case.yours) == ("open", "environmental lead", False)
    assert [each.id for each in case.records] == [done["id"]]
    assert phone.get("/api/cases/count").json()["open"] == cases(phone).open > before
    structures = phone.get("/api/structures").json()
    row = structures["number"].index("14/2")
    assert structures["cases"][row] == len([each for each in cases(phone).cases if each.number == "14/2"])
    panel = phone.get("/api/structure", params={"number": "14/2"}).json()
    assert case.id in {each["id"] for each in panel["cases"]}
    mile = phone.get("/api/field/mile", params={"mile": 14}).json()
    card = next(each for each in mile["structures"] if each["number"] == "14/2")
    assert case.words in {each["words"] for each in card["cases"]}
    progress = phone.get("/api/progress").json()
    assert case.id in {each["id"] for each in progress["cases"]}
    assert_the_same(phone)
    sent(phone, act(case, "answer", "looked at tomorrow", actor="Ada"))
    (answered,) = under_hold(phone)
    assert (answered.id, answered.state) == (case.id, "answered")
    sent(phone, act(case, "close", actor="Ada", happened_at=LATER))
    assert not under_hold(phone)
    (closed,) = under_hold(phone, state="closed")
    assert [(each.act, each.who, each.text) for each in closed.acts] == [
        ("answer", "Ada", "looked at tomorrow"),
        ("close", "Ada", "mats in place, photo 14"),
    ]
    assert phone.get("/api/structures").json()["cases"][row] == structures["cases"][row] - 1
    assert_the_same(phone)


def test_nobody_but_who_answers_a_case_or_the_manager_closes_it(own_people: Any) -> None:
    crew, surveyor = own_people.client(Role.CREW), own_people.client(Role.SURVEYOR)
    manager, viewer = own_people.client(Role.MANAGER), own_people.client(Role.VIEWER)
    sent(crew, record("14/2", "framed", crew="Heron"))
    (case,) = under_hold(manager)
    assert (case.may_close, case.yours) == (True, False)
    for client, name in ((crew, "Person crew"), (surveyor, "Person surveyor")):
        (result,) = sent(client, act(case, "close"))
        assert result["outcome"] == "refused"
        assert result["why"].startswith(
            "this case is answered by environmental lead or the manager, and " + name
        )
    lead = _lead(own_people)
    (hers,) = under_hold(lead, yours="true")
    yours = lead.get("/api/cases/count").json()["yours"]
    assert (hers.yours, yours) == (True, len(cases(lead, yours="true").cases))
    (result,) = sent(lead, act(case, "close", note=" "))
    assert (result["outcome"], "evidence" in result["why"]) == ("refused", True)
    (result,) = sent(lead, act(case, "close"))
    assert result["outcome"] == "stored"
    assert lead.get("/api/cases/count").json()["yours"] == yours - 1
    (result,) = sent(
        lead, {**act(case, "close"), "content": {**act(case, "close")["content"], "part": "dug, HN-1"}}
    )
    assert "has no case" in result["why"]
    assert viewer.get("/api/cases").status_code == 403
    assert viewer.get("/api/structure", params={"number": "14/2"}).json()["cases"] == []


def test_a_case_says_to_crews_what_its_hold_asks_for_without_why(own_people: Any) -> None:
    crew = own_people.client(Role.CREW)
    sent(crew, record("21/3", "dug", pole="A", crew="Heron"))
    (case,) = [each for each in cases(crew).cases if each.code == "recorded under hold"]
    assert "digging at 21/3 only with monitor on site" in case.words
    card = crew.get("/api/structure", params={"number": "21/3"}).json()
    assert any("only with monitor on site, from" in each for each in card["findings"])
    (whole,) = [
        each for each in cases(own_people.client(Role.MANAGER)).cases if each.code == "recorded under hold"
    ]
    assert "only with cultural monitor on site" in whole.words


def test_a_release_answers_no_case(own_people: Any) -> None:
    sent(own_people.client(Role.CREW), record("14/2", "framed", happened_at="2026-05-15T09:00:00-06:00"))
    lead = _lead(own_people)
    (case,) = under_hold(lead)
    said = {"who": "Ada", "evidence": "young have flown", "at": "2026-05-15T19:00:00-06:00"}
    assert lead.post("/api/holds/HN-1/release", json=said).status_code == 201
    (still,) = under_hold(lead)
    assert (still.id, still.state, still.words) == (case.id, "open", case.words)
    sent(lead, act(case, "close"))
    assert not under_hold(lead)


def _lead(people: Any) -> TestClient:
    now = dt.datetime.now(dt.UTC)
    code = add_person(
        people.database,
        name="Ada",
        role=Role.INSPECTOR,
        device="phone of Ada",
        releases=("environmental lead",),
        now=now,
    )
    people.tokens["lead"] = sign_in_by_code(people.database, code, address="test", now=now)
    client: TestClient = people.client(Role.INSPECTOR)
    client.cookies.set(cookie_name(people.application.state.identity), people.tokens["lead"])
    return client


def test_a_record_is_moved_with_photos_and_readings_and_back(phone: TestClient) -> None:
    reading = {"name": "depth", "value": 9.5, "unit": "ft", "pole": "A"}
    photo = str(uuid.uuid4())
    done = record("21/1", "dug", pole="A", readings=[reading], photos=[photo], crew="Heron")
    sent(phone, done)
    move = record(
        "21/1",
        "",
        what="moved",
        note="the tag says 21/2",
        actor="Cy",
        content={"event": done["id"], "structure": "21/2", "pole": "B"},
    )
    assert sent(phone, move)[0]["outcome"] == "stored"
    there = seen(phone).events_by_structure[_line(phone), "21/2"]
    (moved,) = [each for each in there if each.id == done["id"]]
    assert (moved.pole, moved.photos, moved.remarks()) == ("B", (photo,), "depth 9.5 ft")
    panel = phone.get("/api/structure", params={"number": "21/2"}).json()
    assert any(each["text"].endswith(", recorded at 21/1") for each in panel["history"])
    left = phone.get("/api/structure", params={"number": "21/1"}).json()
    assert [each["text"] for each in left["history"]][-1].startswith(f"record {done['id'][:8]} moved to 21/2")
    assert not next(step for step in left["steps"] if step["code"] == "dug")["poles_done"]
    assert_the_same(phone)
    back = {**move, "id": str(uuid.uuid4()), "result": "withdrawn", "supersedes": move["id"]}
    assert sent(phone, back)[0]["outcome"] == "stored"
    again = phone.get("/api/structure", params={"number": "21/1"}).json()
    assert next(step for step in again["steps"] if step["code"] == "dug")["poles_done"] == "A"
    assert_the_same(phone)


def _line(client: TestClient) -> str:
    name: str = client.get("/api/job").json()["lines"][0]["name"]
    return name


def test_a_move_that_comes_before_its_record_takes_it_along_when_it_comes(phone: TestClient) -> None:
    done = record("21/1", "staked", crew="Heron")
    move = record("21/1", "", what="moved", note="wrong", content={"event": done["id"], "structure": "21/2"})
    assert [each["outcome"] for each in sent(phone, move)] == ["stored"]
    sent(phone, done)
    assert done["id"] in {each.id for each in seen(phone).events_by_structure[_line(phone), "21/2"]}
    assert_the_same(phone)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        ({"structure": "21/2"}, "which record moves is not said"),
        ({"event": "x"}, "where the record belongs is not said"),
        ({"event": "x", "structure": "99/9"}, "has no structure 99/9"),
        ({"event": "x", "structure": "21/2", "pole": "Q"}, "belongs to no pole 'Q'"),
        ({"event": "x", "structure": "21/2", "by": "me"}, "and nothing else"),
    ],
)
def test_a_move_to_nowhere_is_refused_in_words(
    phone: TestClient, content: Mapping[str, Any], why: str
) -> None:
    (result,) = sent(phone, record("21/1", "", what="moved", note="wrong", content=content))
    assert result["outcome"] == "refused"
    assert why in result["why"]


def test_a_crew_moves_its_own_records_alone(own_people: Any) -> None:
    crew, inspector = own_people.client(Role.CREW), own_people.client(Role.INSPECTOR)
    theirs, own = record("21/1", "staked"), record("21/1", "staked")
    sent(inspector, theirs)
    sent(crew, own)
    to = {"structure": "21/2"}
    moves = [
        record("21/1", "", what="moved", note="wrong", content={"event": each["id"], **to})
        for each in (theirs, own)
    ]
    refused, stored = sent(crew, *moves)
    assert (refused["outcome"], stored["outcome"]) == ("refused", "stored")
    assert "an inspector, a surveyor or the manager" in refused["why"]
    assert sent(inspector, {**moves[0], "id": str(uuid.uuid4())})[0]["outcome"] == "stored"


def renumbered(demo_files: Path, numbers: Mapping[str, str | None]) -> str:
    """Return the structure list with other numbers; None = the structure is left out."""
    text = (demo_files / "structures_revC.csv").read_text(encoding="utf-8")
    rows = list(csv.reader(text.splitlines()))
    at = next(row for row in rows if "Structure" in row).index("Structure")
    written = io.StringIO()
    kept = [row for row in rows if len(row) <= at or numbers.get(row[at], row[at]) is not None]
    for row in kept:
        if len(row) > at:
            row[at] = numbers.get(row[at], row[at]) or ""
    csv.writer(written).writerows(kept)
    return written.getvalue()


def test_records_follow_a_renumbering_and_those_of_a_vanished_structure_are_a_case(
    phone: TestClient, demo_files: Path, tmp_path: Path
) -> None:
    shifted = {"21/2": "21/1A", "21/1": None, "21/3": "21/2"}
    gone, first, second = (record(each, "staked", crew="Heron") for each in ("21/1", "21/2", "21/3"))
    sent(phone, gone, first, second)
    _load(phone.app.state.database, renumbered(demo_files, shifted), tmp_path, label="D")  # type: ignore[attr-defined]
    line = _line(phone)
    events = seen(phone).events_by_structure
    assert first["id"] in {each.id for each in events[line, "21/1A"]}
    assert second["id"] in {each.id for each in events[line, "21/2"]}
    (case,) = [each for each in cases(phone).cases if each.number == "21/1"]
    assert (case.unlisted, case.asked) == (True, "surveyor")
    index = phone.get("/api/field/index").json()
    assert [each["number"] for each in index["unlisted"]] == ["21/1"]
    assert index["lines"][0]["lists"][-1]["renumbered"] == {"21/2": "21/1A", "21/3": "21/2"}
    # a phone that still has the old list records, and sends later
    late, lost = (
        record(each, "dug", crew="Heron", revision_seen="C", happened_at="2026-05-15T09:00:00-06:00")
        for each in ("21/3", "21/1")
    )
    taken, kept = sent(phone, late, lost)
    assert (taken["why"], kept["why"]) == ("", "")
    assert taken["findings"][0] == "21/3 has another number now: 21/2"
    assert "is in no list of line" in kept["findings"][0]
    assert late["id"] in {each.id for each in seen(phone).events_by_structure[line, "21/2"]}
    assert_the_same(phone)
    move = record(
        "21/1", "", what="moved", note="taken out", content={"event": gone["id"], "structure": "21/1A"}
    )
    assert sent(phone, move)[0]["outcome"] == "stored"
    (case,) = [each for each in cases(phone).cases if each.number == "21/1"]
    names = {each.id for each in case.records}
    assert (lost["id"] in names, gone["id"] in names) == (True, False)
    (result,) = sent(phone, act(case, "close", "hole filled, photo 3", actor="Ada"))
    assert result["outcome"] == "stored"
    assert not [each for each in cases(phone).cases if each.number == "21/1"]
    assert_the_same(phone)


def _load(database: Database, text: str, folder: Path, *, label: str) -> None:
    path = folder / "structures_revD.csv"
    path.write_text(text, encoding="utf-8")
    load_files(
        database,
        LoadRequest(paths=(path,), label=label, loaded_by="Max"),
        now=dt.datetime(2026, 5, 15, 20, tzinfo=dt.UTC),
        removes=("structures", "holds"),
    )


def test_a_record_of_another_job_is_refused_alone_however_it_came(phone: TestClient) -> None:
    identity = phone.get("/api/job").json()["identity"]
    other, own = record("21/1", "staked", job="another"), record("21/1", "staked", job=identity)
    refused, stored = sent(phone, other, own)
    assert (refused["outcome"], stored["outcome"]) == ("refused", "stored")
    assert "another job" in refused["why"]


def test_a_move_of_a_record_that_has_not_arrived_is_taken_and_said(phone: TestClient) -> None:
    late = record("21/3", "dug", crew="Heron")
    move = record(
        "21/3", "", what="moved", note="the tag", content={"event": late["id"], "structure": "21/4"}
    )
    (ahead,) = sent(phone, move)
    assert ahead["outcome"] == "stored"
    assert "the record it moves has not arrived" in ahead["findings"]
    sent(phone, late)
    assert late["id"] in {each.id for each in seen(phone).events_by_structure[_line(phone), "21/4"]}
