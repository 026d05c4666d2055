"""Photos over HTTP: in parts, resumable, whole or not at all, and nothing but pictures."""

from __future__ import annotations

import hashlib
import random
import uuid
from typing import Protocol

import pytest
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.record import PhotoState
from linemap.domain.record.person import Role

PART = 256 * 1024
HEAD = (
    b"\xff\xd8\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"
    b"\xff\xc0\x00\x0b\x08\x00\x03\x00\x02\x01\x01\x11\x00\xff\xda\x00\x08\x01\x01\x00\x00\x3f\x00"
)


def jpeg(size: int) -> bytes:
    """The frame of a JPEG around noise without marks."""
    noise = bytes(byte % 255 for byte in random.Random(size).randbytes(size - len(HEAD) - 2))
    return HEAD + noise + b"\xff\xd9"


@pytest.fixture
def event(phone: TestClient) -> str:
    """A record to which photos belong."""
    identifier = str(uuid.uuid4())
    at = "2026-05-15T12:00:00-06:00"
    record = {"id": identifier, "structure": "13/5", "step": "framed", "happened_at": at}
    assert phone.post("/api/events", json={"sent_at": at, "events": [record]}).status_code == 200
    return identifier


def put(
    phone: TestClient, photo: str, event: str, content: bytes, start: int, total: int, **more: str
) -> tuple[int, dict[str, object]]:
    answer = phone.put(
        f"/api/photos/{photo}",
        params={"event": event, "total": total, **more},
        content=content,
        headers={
            "content-type": "application/octet-stream",
            "content-range": f"bytes {start}-{start + len(content) - 1}/{total}",
        },
    )
    return answer.status_code, answer.json()


def test_a_photo_arrives_in_parts_and_goes_on_after_a_lost_signal(phone: TestClient, event: str) -> None:
    photo, content = str(uuid.uuid4()), jpeg(3 * PART - 100)
    assert phone.head(f"/api/photos/{photo}").status_code == 404
    status, body = put(phone, photo, event, content[:PART], 0, len(content))
    assert (status, read_answer(PhotoState, body).received) == (200, PART)
    assert phone.get(f"/api/photos/{photo}").status_code == 404
    # the answer was lost: the same part again changes nothing
    assert put(phone, photo, event, content[:PART], 0, len(content)) == (status, body)
    asked = phone.head(f"/api/photos/{photo}")
    assert (asked.headers["upload-offset"], asked.headers["upload-length"]) == (str(PART), str(len(content)))
    # a part too far ahead says where to go on
    status, body = put(phone, photo, event, content[2 * PART :], 2 * PART, len(content))
    assert (status, f"{PART} bytes" in body["error"]["message"]) == (409, True)  # type: ignore[index]
    put(phone, photo, event, content[PART : 2 * PART], PART, len(content))
    digest = hashlib.sha256(content).hexdigest()
    status, body = put(phone, photo, event, content[2 * PART :], 2 * PART, len(content), sha256=digest)
    state = read_answer(PhotoState, body)
    assert (status, state.complete, state.sha256, state.media_type) == (200, True, digest, "image/jpeg")
    got = phone.get(f"/api/photos/{photo}")
    assert (got.content, got.headers["content-type"]) == (content, "image/jpeg")
    assert "/" not in got.headers["content-disposition"].split("filename=")[1]
    again = phone.get(f"/api/photos/{photo}", headers={"if-none-match": got.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_small_photo_needs_no_range(phone: TestClient, event: str) -> None:
    photo, content = str(uuid.uuid4()), jpeg(5000)
    answer = phone.put(f"/api/photos/{photo}", params={"event": event, "total": 5000}, content=content)
    assert read_answer(PhotoState, answer.json()).complete
    assert phone.head(f"/api/photos/{photo}").headers["upload-offset"] == "5000"


@pytest.mark.parametrize(
    "content", [b"GIF89a" + bytes(50), b"<svg/>", b"PK\x03\x04" + bytes(60), b"\x00" * 100, b"%PDF-1.7 " * 9]
)
def test_what_is_no_photo_is_refused_at_its_first_part(phone: TestClient, event: str, content: bytes) -> None:
    photo = str(uuid.uuid4())
    status, body = put(phone, photo, event, content, 0, len(content))
    assert (status, "is no photo" in body["error"]["message"]) == (422, True)  # type: ignore[index]
    assert phone.head(f"/api/photos/{photo}").status_code == 404


def test_what_begins_as_a_photo_and_is_none_is_taken_out(phone: TestClient, event: str) -> None:
    photo, content = str(uuid.uuid4()), jpeg(3000)[:-2] + b"\x00\x00"
    status, body = put(phone, photo, event, content, 0, 3000)
    assert (status, "no whole photo" in body["error"]["message"]) == (422, True)  # type: ignore[index]
    assert put(phone, photo, event, jpeg(3000), 0, 3000)[0] == 200


def test_a_photo_that_changed_on_the_way_is_taken_out(phone: TestClient, event: str) -> None:
    photo = str(uuid.uuid4())
    status, body = put(phone, photo, event, jpeg(3000), 0, 3000, sha256="0" * 64)
    assert (status, "SHA-256" in body["error"]["message"]) == (422, True)  # type: ignore[index]
    assert phone.head(f"/api/photos/{photo}").status_code == 404


def test_a_photo_without_its_record_is_not_here_to_stay(phone: TestClient) -> None:
    status, body = put(phone, str(uuid.uuid4()), str(uuid.uuid4()), jpeg(3000), 0, 3000)
    assert (status, "send the record first" in body["error"]["message"]) == (404, True)  # type: ignore[index]


def test_an_identifier_belongs_to_one_photo(phone: TestClient, event: str) -> None:
    photo = str(uuid.uuid4())
    put(phone, photo, event, jpeg(3000), 0, 3000)
    assert put(phone, photo, event, jpeg(3001), 0, 3001)[0] == 409
    assert put(phone, photo, event, jpeg(3000)[:-3] + b"\x01\xff\xd9", 0, 3000)[0] == 409
    assert phone.get(f"/api/photos/{photo}").content == jpeg(3000)


def test_a_record_has_at_most_twenty_photos(phone: TestClient, event: str) -> None:
    statuses = [put(phone, str(uuid.uuid4()), event, jpeg(500), 0, 500)[0] for _ in range(21)]
    assert statuses == [200] * 20 + [409]


@pytest.mark.parametrize(
    ("size", "total", "content_range", "status"),
    [
        (PART + 1, PART + 1, "", 413),
        (100, 12 * 1024 * 1024 + 1, "", 422),
        (100, 0, "", 422),
        (100, 200, "bytes 0-98/200", 422),
        (100, 200, "bytes 0-99/300", 422),
        (100, 200, "bytes 150-249/200", 422),
        (100, 200, "bytes 0-99/*", 422),
        (100, 200, "99-0", 422),
        (0, 200, "", 422),
    ],
)
def test_sizes_that_do_not_fit_are_refused(
    phone: TestClient, event: str, size: int, total: int, content_range: str, status: int
) -> None:
    headers = {"content-range": content_range} if content_range else {}
    answer = phone.put(
        f"/api/photos/{uuid.uuid4()}",
        params={"event": event, "total": total},
        content=(HEAD + bytes(PART))[:size],
        headers=headers,
    )
    assert answer.status_code == status, answer.text
    assert answer.json()["error"]["message"]


def test_an_identifier_that_is_none_is_refused(phone: TestClient, event: str) -> None:
    assert phone.get("/api/photos/7-2").status_code == 422
    assert phone.get("/api/photos/..%2Fapp.py").status_code in (404, 422)


class People(Protocol):
    """What the fixture `people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


@pytest.mark.parametrize(
    ("structure", "position", "shown"),
    [
        pytest.param("13/5", None, True, id="no restricted place near"),
        pytest.param("14/2", None, False, id="under a restricted hold"),
        pytest.param("21/3", None, False, id="at the cultural site"),
        pytest.param("13/5", "14/2", False, id="by its position near a restricted place"),
    ],
)
def test_a_photo_of_a_restricted_place_is_for_the_manager_and_whoever_took_it(
    people: People, structure: str, position: str | None, shown: bool
) -> None:
    crew, event, photo = people.client(Role.CREW), str(uuid.uuid4()), str(uuid.uuid4())
    at = "2026-05-15T12:00:00-06:00"
    record = {"id": event, "structure": structure, "step": "framed", "happened_at": at}
    if position is not None:
        there = people.client(Role.MANAGER).get("/api/field/mile?mile=14").json()["structures"]
        card = next(each for each in there if each["number"] == position)
        place = {"longitude": card["longitude"], "latitude": card["latitude"], "accuracy_m": 5.0}
        record = {**record, "position": place}
    assert crew.post("/api/events", json={"sent_at": at, "events": [record]}).status_code == 200
    content = jpeg(3000)
    assert put(crew, photo, event, content, 0, len(content))[0] == 200
    for role in (Role.CREW, Role.MANAGER):
        answer = people.client(role).get(f"/api/photos/{photo}")
        assert answer.content == content
        assert answer.headers["cache-control"] == "private, no-cache"
    for role in (Role.INSPECTOR, Role.SURVEYOR):
        answer = people.client(role).get(f"/api/photos/{photo}")
        assert answer.status_code == (200 if shown else 403)
        if not shown:
            assert "only to the manager and to whoever took it" in answer.json()["error"]["message"]
            assert "nest" not in answer.text
    assert people.client(Role.VIEWER).get(f"/api/photos/{photo}").status_code == 403
