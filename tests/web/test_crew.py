"""A crew's questions over HTTP: next, and where."""

from __future__ import annotations

import pytest
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.crew import NextAnswer, WhereAnswer

PLACE = {"longitude": -108.28320, "latitude": 46.74346}


def test_next_answers_as_its_model_says(client: TestClient) -> None:
    answer = client.get("/api/next", params={"crew": "Heron", "from": "13/4"})
    assert answer.status_code == 200
    found = read_answer(NextAnswer, answer.json())
    assert [row.number for row in found.workable][:3] == ["13/5", "13/6", "14/1"]
    assert found.workable_count == len(found.workable)
    assert "no-cache" in answer.headers["cache-control"]
    assert "Treat every wire as energized" in found.caution


def test_the_list_may_be_cut_and_the_count_stays(client: TestClient) -> None:
    found = client.get("/api/next", params={"crew": "Heron", "from": "13/4", "limit": 2}).json()
    assert [row["number"] for row in found["workable"]] == ["13/5", "13/6"]
    assert found["workable_count"] > 2


def test_from_a_fix_the_answer_says_where_it_lies(client: TestClient) -> None:
    found = client.get("/api/next", params={"crew": "Heron", "accuracy_m": 5.0, **PLACE}).json()
    assert found["where"]["sentence"].startswith("at or near 5/5, ")
    assert found["from"].startswith("from at or near 5/5, ")


def test_where_is_told_by_station_and_structures(client: TestClient) -> None:
    answer = client.get("/api/where", params={"accuracy_m": 5.0, **PLACE})
    found = read_answer(WhereAnswer, answer.json())
    assert found.station_text.startswith("260+")
    assert found.accuracy_text == "±17 ft"


@pytest.mark.parametrize(
    ("path", "params", "status"),
    [
        ("/api/next", {}, 422),
        ("/api/next", {"crew": "Magpie"}, 404),
        ("/api/next", {"crew": "Heron", "from": "99/9"}, 404),
        ("/api/next", {"crew": "Heron", "longitude": "-108.2"}, 404),
        ("/api/next", {"crew": "Heron", "longitude": "200", "latitude": "0"}, 422),
        ("/api/next", {"crew": "Heron", "step": "lunch"}, 404),
        ("/api/where", {"longitude": "-108.2"}, 422),
        ("/api/where", {"longitude": "nan", "latitude": "0"}, 422),
        ("/api/where", {"longitude": "0", "latitude": "0", "accuracy_m": "-1"}, 422),
    ],
)
def test_what_cannot_be_answered_is_refused_in_the_one_shape(
    client: TestClient, path: str, params: dict[str, str], status: int
) -> None:
    answer = client.get(path, params=params)
    assert answer.status_code == status
    assert set(answer.json()["error"]) == {"code", "message", "where"}


def test_a_place_on_the_other_side_of_the_earth_has_an_answer_or_a_reason(client: TestClient) -> None:
    answer = client.get("/api/where", params={"longitude": 71.6, "latitude": -46.7})
    assert answer.status_code in {200, 404}
    if answer.status_code == 200:
        assert "from the line" in answer.json()["sentence"]
