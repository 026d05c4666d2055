"""Declaring in the browser: what is sent, who may, what is refused and where, and what is said then."""

from __future__ import annotations

from typing import Any, Protocol

from starlette.testclient import TestClient

from linemap.domain.record.person import Role


class People(Protocol):
    """What the fixture `own_people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


def entry(answer: Any, name: str, part: str = "") -> Any:
    setting = next(each for each in answer.json()["settings"] if each["name"] == name)
    return next(each for each in setting["parts"] if each["part"] == part)


def body(who: str, *changes: tuple[str, str, str], source: str = "") -> dict[str, Any]:
    named = [{"name": name, "part": part, "text": text} for name, part, text in changes]
    return {"changes": named, "who": who, "source": source}


def test_what_is_declared_is_kept_with_who_when_and_the_document(own_people: People) -> None:
    manager = own_people.client(Role.MANAGER)
    sent = body(
        "Person manager",
        ("tolerance", "anchor_lead", "0.5 ft"),
        ("holidays", "", "2026-07-03"),
        ("catenary_constant", "", "4,500 ft"),
        source="specification 7.3",
    )
    answer = manager.post("/api/declarations", json=sent)
    assert answer.status_code == 200
    for name, part, written in (
        ("tolerance", "anchor_lead", "0.5 ft"),
        ("holidays", "", "2026-07-03"),
        ("catenary_constant", "", "4,500 ft"),
    ):
        found = entry(answer, name, part)
        assert (found["written"], found["declared"]) == (written, True)
        assert (found["who"], found["source"]) == ("Person manager", "specification 7.3")
        assert found["at"] > "2026"
    assert entry(manager.get("/api/declarations"), "holidays")["written"] == "2026-07-03"
    taken_back = manager.post("/api/declarations", json=body("Person manager", ("holidays", "", "")))
    assert entry(taken_back, "holidays")["declared"] is False


def test_what_cannot_be_read_is_said_for_each_field_and_nothing_is_kept(own_people: People) -> None:
    manager = own_people.client(Role.MANAGER)
    before = manager.get("/api/declarations").json()
    sent = body(
        "Person manager",
        ("work_week", "", "Mon-Fri"),
        ("blocks_owned", "", "many"),
        ("tolerance", "across", "wide"),
        ("crs", "", "EPSG:6514"),
    )
    answer = manager.post("/api/declarations", json=sent)
    error = answer.json()["error"]
    assert (answer.status_code, error["where"]) == (422, "crs;blocks_owned;tolerance.across")
    words = error["message"].split("\n")
    assert words[0].startswith("stands since lists of")
    assert words[1:] == [
        "is no count of blocks; give a whole number like 280",
        "gives no number; write NAME=NUMBER UNIT: SOURCE",
    ]
    assert manager.get("/api/declarations").json() == before


def test_each_role_declares_what_is_theirs(own_people: People) -> None:
    surveyor = own_people.client(Role.SURVEYOR)
    for change, status in ((("base_point", "", "none"), 200), (("hospital", "", "Cold Ford"), 403)):
        answer = surveyor.post("/api/declarations", json=body("Person surveyor", change))
        assert answer.status_code == status, answer.text
    assert "declared by the manager" in answer.json()["error"]["message"]
    for role in (Role.CREW, Role.VIEWER, None):
        assert own_people.client(role).get("/api/declarations").status_code in (401, 403)
    signed = body("Person manager", ("base_point", "", "none"))
    assert surveyor.post("/api/declarations", json=signed).status_code == 403, "another's name"
    ways = surveyor.get("/survey").text
    assert 'href="/settings"' in ways
    assert 'href="/people"' not in ways


def test_the_hospital_goes_to_phones_and_paper_and_to_nobody_else(own_people: People) -> None:
    sent = body("Person manager", ("hospital", "", "Cold Ford General"), ("hospital_told", "", "the office"))
    assert own_people.client(Role.MANAGER).post("/api/declarations", json=sent).status_code == 200
    said = ["nearest hospital, as declared: Cold Ford General", "told of it, as declared: the office"]
    crew = own_people.client(Role.CREW)
    assert crew.get("/api/field/index").json()["emergency"] == said
    assert crew.get("/api/sheets/briefing.pdf?structures=9/2").status_code == 200


def test_a_page_that_is_not_for_somebody_says_so_in_words(own_people: People) -> None:
    crew = own_people.client(Role.CREW)
    opened = {"accept": "text/html,*/*"}
    for path, status, words in (
        ("/settings", 403, "signed in as Person crew, crew; this is for: inspector, manager, surveyor"),
        ("/nothing", 404, "nothing is served at this address"),
    ):
        page = crew.get(path, headers=opened)
        assert (page.status_code, page.headers["content-type"]) == (status, "text/html; charset=utf-8")
        assert words[1:] in page.text
        assert crew.get(path).json()["error"]["message"] == words, "programs are told as ever"
    assert 'href="/settings"' not in crew.get("/settings", headers=opened).text


def test_numbers_and_poles_are_shown_as_they_would_be_read(own_people: People) -> None:
    surveyor = own_people.client(Role.SURVEYOR)
    before = surveyor.get("/api/declarations").json()
    found = surveyor.get("/api/declarations/preview?numbering=mile/number&pole_words=L/R").json()
    assert (found["count"], found["numbers"][0]["number"], found["numbers"][0]["poles"]) == (
        121,
        "1/1",
        ["L", "R"],
    )
    assert "mile 1" in found["numbers"][0]["read"]
    exchanged = surveyor.get("/api/declarations/preview?pole_words=B/A")
    assert (exchanged.status_code, "call no other pole A or B" in exchanged.text) == (422, True)
    refused = surveyor.get("/api/declarations/preview?pole_words=X")
    assert refused.status_code == 422
    assert surveyor.get("/api/declarations").json() == before, "nothing is declared by looking"
