"""Records over HTTP: each exactly once, odd ones kept, bad ones refused alone and in words."""

from __future__ import annotations

import io
import json
import uuid
from typing import Any

import pytest
from pypdf import PdfReader
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.record import EventList, EventResults
from linemap.domain.record.chain import FIRST_LINK, link
from linemap.domain.record.reading_type import READINGS
from linemap.domain.survey.proof import NEEDS
from linemap.io.cells.meaning import VOCABULARY

SENT = "2026-05-15T12:00:00-06:00"


def said(structure: str = "13/5", step: str = "framed", **changed: Any) -> dict[str, Any]:
    given = {"id": str(uuid.uuid4()), "happened_at": "2026-05-13T09:10:00-06:00", "crew": "Heron"}
    return {"structure": structure, "step": step, **given, **changed}


def post(phone: TestClient, *events: object, sent_at: str = SENT) -> EventResults:
    answer = phone.post("/api/events", json={"sent_at": sent_at, "events": list(events)})
    assert answer.status_code == 200, answer.text
    return read_answer(EventResults, answer.json())


def test_a_batch_is_stored_and_a_replay_changes_nothing(phone: TestClient) -> None:
    batch = [said(), said("13/6", pole="A", step="set")]
    first = post(phone, *batch)
    assert [each.outcome for each in first.results] == ["stored", "stored"]
    assert (first.received_at, first.skew_s) == ("2026-05-15T18:00:00+00:00", 0.0)
    again = post(phone, *batch)
    assert [each.outcome for each in again.results] == ["duplicate", "duplicate"]
    assert again.data_version == first.data_version


def test_what_a_phone_can_say_comes_back_in_the_order_of_receipt(phone: TestClient) -> None:
    newest = events_since(phone, 0)[-1].seq
    full = said(
        pole="B",
        step="set",
        line="",
        result="rejected",
        actor="J. Ode",
        device="p7",
        signed_by="B. Lund",
        position={"longitude": -108.25, "latitude": 46.76, "accuracy_m": 6.5},
        revision_seen="C",
        supersedes=str(uuid.uuid4()),
        brand_seen="75-2 2025",
        wind={"speed_mph": 12.0, "gust_mph": 20.5},
        note='arm "in" – ü\nsecond line',
        photos=[str(uuid.uuid4())],
    )
    post(phone, full, sent_at="2026-05-15T14:00:00-06:00")
    (listed,) = events_since(phone, newest)
    assert listed.event["note"] == full["note"]
    assert listed.event["photos"] == full["photos"]
    assert (listed.event["signed_by"], "content" in listed.event) == ("B. Lund", False)
    assert (listed.event["longitude"], listed.event["accuracy_m"]) == (-108.25, 6.5)
    assert (listed.event["wind_gust_mph"], listed.event["skew_s"]) == (20.5, 7200.0)
    assert listed.event["happened_at"] == "2026-05-13T09:10:00-06:00"
    assert (listed.event["supersedes"], listed.event["brand_seen"]) == (full["supersedes"], "75-2 2025")


def test_readings_are_kept_with_value_and_unit_and_sent_again_change_nothing(phone: TestClient) -> None:
    newest = events_since(phone, 0)[-1].seq
    given = [
        {"name": "wind", "value": 18, "unit": "mph"},
        {"name": "low", "value": 0.5, "unit": "in", "pole": "B"},
        {"name": "depth", "value": 9.5, "unit": "Feet", "pole": "A"},
        {"name": "level", "value": True},
    ]
    batch = said("13/6", pole="A", step="set", readings=given)
    assert post(phone, batch).results[0].outcome == "stored"
    assert post(phone, batch | {"readings": given[::-1]}).results[0].outcome == "duplicate"
    assert post(phone, batch | {"readings": given[:-1]}).results[0].outcome == "refused"
    (listed,) = events_since(phone, newest)
    assert listed.event["readings"] == [
        {"name": "depth", "value": 9.5, "unit": "ft"},
        {"name": "level", "value": True},
        {"name": "low", "value": 0.5, "unit": "in", "pole": "B"},
        {"name": "wind", "value": 18.0, "unit": "mph"},
    ]
    history = phone.get("/api/structure", params={"number": "13/6"}).text
    assert "depth 9.5 ft, arm level, arm 0.5 in low at B, wind 18 mph" in history


def test_wind_brand_and_monitor_stand_wherever_the_record_is_read(phone: TestClient) -> None:
    given = [
        {"name": "wind", "value": 22, "unit": "mph"},
        {"name": "brand", "value": "75-2 2025"},
        {"name": "monitor", "value": "Jo Tern"},
    ]
    post(phone, said("14/1", pole="A", step="set", readings=given))
    words = "wind 22 mph, brand 75-2 2025, monitor Jo Tern on site"
    panel = phone.get("/api/structure", params={"number": "14/1"}).json()
    assert any(words in entry["text"] for entry in panel["history"])
    mile = phone.get("/api/field/mile", params={"mile": 14}).json()
    (card,) = (each for each in mile["structures"] if each["number"] == "14/1")
    assert any(words in entry["text"] for entry in card["last"])
    report = phone.get("/api/progress/period", params={"first": "2026-05-13"}).json()
    assert any(words in note["words"] for note in report["notes"])
    sheet = phone.get("/api/sheets/card.pdf", params={"structures": "14/1"})
    text = " ".join(
        "".join(page.extract_text() for page in PdfReader(io.BytesIO(sheet.content)).pages).split()
    )
    assert "wind 22 mph" in text
    assert "monitor Jo Tern on site" in text


def test_what_is_declared_is_asked_for_read_proved_and_documented(phone: TestClient) -> None:
    schemas = phone.get("/openapi.json").json()["components"]["schemas"]
    assert schemas["ReadingRequest"]["properties"]["name"]["enum"] == list(READINGS)
    asked = phone.get("/api/field/index").json()["readings"]
    assert [each["name"] for each in asked] == list(READINGS)
    assert READINGS.keys() <= NEEDS.keys()
    assert READINGS.keys() <= VOCABULARY["records"].keys()


@pytest.mark.parametrize(
    ("readings", "why"),
    [
        ([{"name": "depth", "value": 95}], "depth 95 ft cannot be; it lies between 0.5 and 60 ft"),
        (
            [{"name": "depth", "value": 9.5, "unit": "furlongs"}],
            "depth 9.5 is in 'furlongs'; use ft, in, m, cm",
        ),
        ([{"name": "ohms", "value": "25"}], "ohms '25' is no number; give one in ohms"),
        ([{"name": "ohms", "value": None}], "readings.0.value: Value error, None is no number"),
        ([{"name": "moon", "value": 1}], "'moon' is no reading; use one of depth, level"),
        ([{"name": "ohms", "value": 8}, {"name": "ohms", "value": 9}], "ohms is given twice: 8 ohms, 9 ohms"),
        ([{"name": "gust", "value": 8}], "the wind is given twice"),
    ],
)
def test_a_reading_that_cannot_be_is_refused_with_its_name_and_value(
    phone: TestClient, readings: list[dict[str, Any]], why: str
) -> None:
    (found,) = post(phone, said(readings=readings, wind={"speed_mph": 8.0})).results
    assert found.outcome == "refused"
    assert found.why.startswith(why)


def events_since(phone: TestClient, seq: int, limit: int = 1000) -> list[Any]:
    found = read_answer(EventList, phone.get(f"/api/events?since={seq}&limit={limit}").json())
    return found.events


def test_the_list_pages_on_and_its_chain_can_be_checked_by_anyone(phone: TestClient) -> None:
    seq, previous, count = 0, FIRST_LINK, 0
    while True:
        page = read_answer(EventList, phone.get(f"/api/events?since={seq}&limit=400").json())
        for listed in page.events:
            previous = link(previous, listed.event)
            assert listed.hash == previous
        count += len(page.events)
        if not page.more:
            break
        seq = page.events[-1].seq
    assert count == len(events_since(phone, 0)) > 400


@pytest.mark.parametrize(
    ("bad", "why"),
    [
        (said("99/9"), "has no structure '99/9'"),
        (said(line="Nowhere"), "no line 'Nowhere'"),
        (said(id="7"), "id: "),
        (said(structure=""), "structure: "),
        (said(structure="9" * 41), "structure: "),
        (said(step=" "), "blank step"),
        (said(what="wish"), "what: "),
        (said(content={"a": 1}), "a step has no content"),
        (said(pole="D"), "pole: "),
        (said(result="finished"), "result: "),
        (said(happened_at="2026-05-13T09:10:00"), "happened_at: "),
        (said(happened_at="yesterday"), "happened_at: "),
        (said(happened_at=1747127400), "happened_at: "),
        (said(happened_at="0001-01-01T00:00:00+14:00"), "happened_at: "),
        (said(note="a\x00b"), "note: "),
        (said(crew="a\x00"), "crew: "),
        (said(note="n" * 2001), "note: "),
        (said(position={"longitude": -108.0}), "position.latitude: "),
        (said(position={"longitude": 181.0, "latitude": 0.0}), "position.longitude: "),
        (said(position={"longitude": 10**400, "latitude": 0.0}), "position.longitude: "),
        (said(wind={"speed_mph": -1}), "wind.speed_mph: "),
        (said(photos=["a"]), "photos.0: "),
        (said(photos=[str(uuid.uuid4())] * 21), "photos: "),
        (said(colour="red"), "colour: "),
        ("not an event", "dictionary"),
        (None, "dictionary"),
        (17, "dictionary"),
        ([], "dictionary"),
    ],
)
def test_a_bad_record_is_refused_alone(phone: TestClient, bad: object, why: str) -> None:
    refused, stored = post(phone, bad, said("13/6")).results
    assert (refused.outcome, stored.outcome) == ("refused", "stored")
    assert why in refused.why
    assert refused.findings == []


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e400"])
@pytest.mark.parametrize("place", ["position", "wind"])
def test_numbers_that_json_does_not_have_are_refused(phone: TestClient, number: str, place: str) -> None:
    part = {"position": {"longitude": 1.5, "latitude": 46.0}, "wind": {"speed_mph": 1.5}}[place]
    body = json.dumps({"sent_at": SENT, "events": [said(**{place: part})]}).replace("1.5", number)
    answer = phone.post("/api/events", content=body, headers={"content-type": "application/json"})
    (result,) = read_answer(EventResults, answer.json()).results
    assert (answer.status_code, result.outcome) == (200, "refused")
    assert "finite" in result.why


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"\xff\xfe",
        b'{"sent_at": NaN, "events": []}',
        b'{"sent_at": "2026-05-15T12:00:00-06:00", "events": []}',
        b'{"sent_at": "2026-05-15T12:00:00", "events": [{}]}',
        b'{"sent_at": "2026-05-15T12:00:00-06:00", "events": {}}',
        b'{"events": [{}]}',
        b'{"sent_at": "2026-05-15T12:00:00-06:00", "events": [{}], "\\ud800": 1}',
        b"[" * 100_000,
        b'{"sent_at": ' + b"9" * 10_000 + b', "events": [{}]}',
    ],
)
def test_a_body_that_is_no_batch_is_refused_in_words(phone: TestClient, body: bytes) -> None:
    answer = phone.post("/api/events", content=body, headers={"content-type": "application/json"})
    assert answer.status_code in (400, 422), answer.text
    assert answer.json()["error"]["message"]


def test_an_identifier_that_is_no_text_does_not_stop_the_answer(phone: TestClient) -> None:
    body = json.dumps(
        {"sent_at": SENT, "events": [said(id="\ud800"), said(id={"a": 1}), said(step="\udfff")]}
    )
    answer = phone.post("/api/events", content=body, headers={"content-type": "application/json"})
    assert [each["outcome"] for each in answer.json()["results"]] == ["refused"] * 3


def test_ten_thousand_records_in_one_post_are_refused(phone: TestClient) -> None:
    small = {"id": str(uuid.UUID(int=0)), "structure": "1/1", "step": "set", "happened_at": SENT}
    few = phone.post("/api/events", json={"sent_at": SENT, "events": [small] * 10_000})
    assert (few.status_code, few.json()["error"]["code"]) == (422, "invalid_request")
    assert "1000" in few.json()["error"]["message"]
    large = phone.post(
        "/api/events", json={"sent_at": SENT, "events": [{**small, "note": "n" * 200}] * 10_000}
    )
    assert (large.status_code, large.json()["error"]["code"]) == (413, "too_large")


def test_a_thousand_records_in_one_post_are_taken(phone: TestClient) -> None:
    batch = [said("13/6", "inspected", note=f"look {at}") for at in range(1000)]
    assert {each.outcome for each in post(phone, *batch).results} == {"stored"}


def test_odd_records_are_kept_and_told(phone: TestClient) -> None:
    ahead, unlisted, future = post(
        phone,
        said("23/2", "set"),
        said("12/3A", "staked"),
        said("13/6", happened_at="2026-05-17T09:00:00-06:00"),
    ).results
    assert {ahead.outcome, unlisted.outcome, future.outcome} == {"stored"}
    assert "set recorded, but not" in ahead.findings[0]
    assert "inserted beside it?" in unlisted.findings[0]
    assert "fast" in future.findings[-1]


def test_the_map_shows_a_record_at_once(phone: TestClient) -> None:
    before = phone.get("/api/structures")
    row = before.json()["number"].index("13/6")
    assert before.json()["stage"][row] == 3  # dug
    post(phone, said("13/6"))
    after = phone.get("/api/structures", headers={"if-none-match": before.headers["etag"]})
    assert after.status_code == 200
    changed = [name for name, column in after.json().items() if column != before.json()[name]]
    assert set(changed) <= {"version", "stage", "findings"}
    assert after.json()["stage"][row] == 4  # framed
    assert "framed by Heron" in phone.get("/api/structure?number=13/6").text


def test_the_packed_answer_is_the_plain_one(phone: TestClient) -> None:
    for _ in range(2):
        plain = phone.get("/api/structures", headers={"accept-encoding": "identity"})
        packed = phone.get("/api/structures", headers={"accept-encoding": "gzip"})
        assert packed.headers["content-encoding"] == "gzip"
        assert packed.content == plain.content
        post(phone, said("13/7"))


@pytest.mark.parametrize("query", ["since=-1", "limit=0", "limit=1001", "since=a", f"since={2**70}"])
def test_a_bad_question_is_refused(phone: TestClient, query: str) -> None:
    answer = phone.get(f"/api/events?{query}")
    assert (answer.status_code, answer.json()["error"]["code"]) == (422, "invalid_request")


def test_a_server_that_starts_again_takes_records_again(phone: TestClient) -> None:
    for structure in ("13/5", "13/6"):
        with TestClient(phone.app, client=("127.0.0.1", 50000)) as opened:
            assert [each.outcome for each in post(opened, said(structure)).results] == ["stored"]


def test_a_part_is_asked_about_where_the_step_has_none(phone: TestClient) -> None:
    answer = phone.get("/api/field/index").json()["workflow"]["steps"]
    assert {step["per"] for step in answer} == {"structure", "pole"}
    plain = post(phone, said("9/2", "framed", part="9/2 to 9/3")).results[0]
    assert (plain.outcome, plain.findings[0]) == (
        "stored", "framed is recorded for each structure, not for 9/2 to 9/3",
    )  # fmt: skip


def test_a_phone_asks_what_of_what_it_sent_is_still_there(phone: TestClient) -> None:
    record, other, mark = said(), str(uuid.uuid4()), phone.get("/api/field/index").json()["record"]
    post(phone, record)
    asked = {"device": "p7", "records": [other, record["id"]], "seen": {"newest": mark["newest"], "at": SENT}}
    found = phone.post("/api/events/compare", json=asked).json()
    index = phone.get("/api/field/index").json()
    assert (found["missing"], found["lost"]) == ([other], [])
    assert (found["incarnation"], found["record"]) == (index["incarnation"], index["record"])
    assert found["record"]["seq"] == mark["seq"] + 1
    cut = {"device": "p7", "seen": {"newest": f"events {mark['seq']} {'0' * 64}", "at": SENT}}
    assert phone.post("/api/events/compare", json=cut).json()["lost"] == ["events"]
    assert "NOT HERE ARE ITS events" in phone.get("/settings").text
    assert "No backup of this job is on record" in phone.get("/progress").text
    bad = phone.post("/api/events/compare", json={"seen": {"newest": "x", "at": "today"}})
    assert bad.status_code == 422
