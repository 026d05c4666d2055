"""The bench for shots over HTTP: what is shown to whom, what is recorded, who may send it."""

from __future__ import annotations

import datetime as dt
import shutil
import uuid
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Protocol

import pytest
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.shots import OpenShots, ShotsAlike, ShotsAnswer
from linemap.domain.record.person import Role
from linemap.settings import Settings
from linemap.web.app import create_app

SHOTS = "/api/survey/shots"
TWICE = {"file": "shots_2026-04-16.csv", "row": 8}
UNREAD = {"file": "shots_2026-05-13.csv", "row": 38}


class People(Protocol):
    """What the fixture `own_people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


@pytest.fixture
def own(demo_job: Path, tmp_path: Path) -> Iterator[TestClient]:
    """A client over a copy of the demo job that a test may change."""
    job = shutil.copy(demo_job, tmp_path / "demo.linemap")
    application = create_app(Settings(job=str(job)), today=lambda: dt.date(2026, 5, 16))
    with TestClient(application, headers={"sec-fetch-site": "same-origin"}) as opened:
        yield opened


def asked(*shots: dict[str, Any], **other: Any) -> dict[str, Any]:
    said = {"id": str(uuid.uuid4()), "what": "assign", "who": "P. Chief", "note": "field book p. 12"}
    return {**said, "shots": [*shots], **other}


def bench(client: TestClient) -> OpenShots:
    return read_answer(OpenShots, client.get(SHOTS).json())


def test_a_shot_is_set_aside_once_and_taken_back(own: TestClient) -> None:
    before = bench(own)
    aside = asked(TWICE, what="set aside")
    statuses = [own.post(SHOTS, json=aside) for _ in range(2)]
    assert [each.status_code for each in statuses] == [201, 200]
    told = read_answer(ShotsAnswer, statuses[0].json())
    assert (told.id, told.decisions, told.recorded) == (aside["id"], [aside["id"]], True)
    assert [(each.structure, each.before, each.after) for each in told.changed] == [
        ("3/5", "cannot tell", "pass")
    ]
    after = bench(own)
    assert Counter(each.state for each in after.shots)["conflicting"] == 10
    (shot,) = [each for each in after.shots if each.state == "set aside"]
    assert shot.decision is not None
    assert (shot.decision.who, shot.decision.note) == ("P. Chief", "field book p. 12")
    panel = own.get("/api/structure?number=3/5").json()
    assert len(panel["said_of_shots"]) == 1
    assert panel["said_of_shots"][0].startswith("point 5008 of shots_2026-04-16.csv: set aside by P. Chief")
    assert own.get("/api/structure?number=3/4").json()["said_of_shots"] == []
    (survey,) = [
        each for each in own.get("/api/survey").json()["settled"] if each["cause"] == "shots set aside"
    ]
    assert survey["structures"] == ["3/5"]
    back = own.post(SHOTS, json=asked(what="take back", decisions=told.decisions, note=""))
    assert back.status_code == 201
    assert bench(own).shots == before.shots


def test_the_shot_is_noted_where_shots_are_listed(own: TestClient) -> None:
    named = {**UNREAD, "structure": "9/3", "pole": "B"}
    assert own.post(SHOTS, json=asked(named)).status_code == 201
    listed = own.get("/api/list?kind=shots").json()
    names = [field["name"] for field in listed["fields"]]
    (shot,) = [row for row in listed["rows"] if row[names.index("point")] == "5038"]
    assert [shot[names.index(name)] for name in ("structure", "pole", "description")] == ["9/3", "B", "?"]
    note = str(shot[names.index("note")])
    assert note.startswith("assigned as a pole of 9/3, decision")
    assert note.endswith("P. Chief")
    (said,) = own.get("/api/structure?number=9/3").json()["said_of_shots"]
    assert said.startswith("point 5038 of shots_2026-05-13.csv: assigned as a pole of 9/3 by P. Chief, ")
    assert said.endswith(": field book p. 12")


def test_what_a_pattern_would_read_is_asked_before_it_is_decided(own: TestClient) -> None:
    pattern = {"pattern": "HUB <number> = check"}
    found = read_answer(ShotsAlike, own.get(f"{SHOTS}/alike", params=pattern).json())
    assert (found.pattern, found.shots) == ("HUB <number> = check", [])
    like = {"pattern": "", "file": UNREAD["file"], "row": "38", "structure": "9/3", "pole": "B"}
    for wrong, status in (({"pattern": "HUB"}, 422), (like, 422), ({**like, "row": "7000"}, 404), ({}, 422)):
        answer = own.get(f"{SHOTS}/alike", params=wrong)
        assert (answer.status_code, set(answer.json()["error"])) == (status, {"code", "message", "where"})
    one = own.get(f"{SHOTS}/alike", params={**UNREAD, "pattern": "", "item": "check"})
    assert read_answer(ShotsAlike, one.json()).words == "1 shot would be read as a check shot"
    said = asked(shots=[], pattern="? = check")
    assert own.post(SHOTS, json=said).status_code == 201
    assert [each.state for each in bench(own).shots if each.description == "?"] == ["assigned"]


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"what": "erase"}, 422),
        ({"who": " "}, 422),
        ({"what": "set aside", "note": ""}, 422),
        ({"shots": []}, 422),
        ({"shots": [{**TWICE, "structure": "99/9", "pole": "A"}]}, 404),
        ({"shots": [{**TWICE, "structure": "3/5", "pole": "C"}]}, 422),
        ({"shots": [{**TWICE, "row": 4000, "item": "check"}]}, 404),
        ({"shots": [{**TWICE, "item": "other"}]}, 422),
        ({"shots": [{**TWICE, "easting": 1.0}]}, 422),
        ({"what": "take back", "decisions": [str(uuid.uuid4())]}, 404),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_changes(
    own: TestClient, change: dict[str, Any], status: int
) -> None:
    before = bench(own)
    answer = own.post(SHOTS, json=asked(**{"shots": [{**TWICE, "structure": "3/5", "pole": "A"}], **change}))
    assert answer.status_code == status
    assert set(answer.json()["error"]) == {"code", "message", "where"}
    assert bench(own) == before


def test_the_surveyor_alone_decides_and_in_their_own_name(own_people: People) -> None:
    aside = asked(TWICE, what="set aside", who="Person surveyor")
    for role in (Role.CREW, Role.VIEWER, None):
        assert own_people.client(role).get(SHOTS).status_code in {401, 403}
    for role in (Role.CREW, Role.VIEWER, Role.INSPECTOR, Role.MANAGER, None):
        assert own_people.client(role).post(SHOTS, json=aside).status_code in {401, 403}
    assert own_people.client(Role.MANAGER).get(SHOTS).status_code == 200
    assert own_people.client(Role.SURVEYOR).post(SHOTS, json=aside).status_code == 201
    back = asked(what="take back", decisions=[aside["id"]], who="Person surveyor")
    assert (
        own_people.client(Role.SURVEYOR).post(SHOTS, json={**back, "who": "Person manager"}).status_code
        == 403
    )
    assert own_people.client(Role.SURVEYOR).post(SHOTS, json=back).status_code == 201
    (shown,) = [each for each in bench(own_people.client(Role.INSPECTOR)).shots if each.state == "unread"]
    assert shown.description == "?"
