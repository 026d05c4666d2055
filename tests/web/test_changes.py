"""Loading over HTTP: bring, read, review, accept, undo; each role its own lists; files that are no use."""

from __future__ import annotations

import threading
import time
import uuid
from pathlib import Path
from typing import Any, Protocol

import pytest
from read_answer import read_answer
from starlette.testclient import TestClient

from linemap.answers.change import Accepted, ChangeList, Proposal
from linemap.domain.record.person import Role
from linemap.io.source import container
from linemap.web import readings as module
from linemap.web.readings import Readings

HOLD = "id,activities,structures,reason,set by,release by\nHZ-9,framing,13/6,wet ground,Otter,Otter\n"
#: As of a job elsewhere.
FAR = b"structure,easting,northing\n9/1,5000000,8000000\n9/2,5000900,8000100\n"
PUNCH = "item,structure,opened,text\nP-901,13/5,2026-05-15,arm bolt loose\n"


class People(Protocol):
    """What the fixture `own_people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


def begun(client: TestClient, **files: str | bytes) -> str:
    proposal: str = client.post("/api/proposals", json={}).json()["id"]
    for name, content in files.items():
        sent = client.put(f"/api/proposals/{proposal}/files/{name.replace('__', '.')}", content=content)
        assert sent.status_code == 200, sent.text
    return proposal


def waited(client: TestClient, proposal: str) -> Proposal:
    until = time.monotonic() + 60
    while time.monotonic() < until:
        found = read_answer(Proposal, client.get(f"/api/proposals/{proposal}").json())
        if found.state in {"ready", "refused"}:
            return found
        time.sleep(0.05)
    raise AssertionError("the files were not read within a minute")


def read(client: TestClient, proposal: str, **choices: Any) -> Proposal:
    until = time.monotonic() + 60
    # the thread that read it before may not be through yet
    while (answer := client.post(f"/api/proposals/{proposal}/read", json=choices)).status_code == 409:
        assert time.monotonic() < until
        time.sleep(0.05)
    assert answer.status_code == 202, answer.text
    return waited(client, proposal)


def brought(client: TestClient, choices: dict[str, Any] | None = None, **files: str | bytes) -> Proposal:
    return read(client, begun(client, **files), **(choices or {}))


def accept(client: TestClient, proposal: Proposal, *removes: str, by: str = "Otter", **more: Any) -> Any:
    said = {"digest": proposal.digest, "reason": "as agreed", "removes": removes, "by": by, **more}
    return client.post(f"/api/proposals/{proposal.id}/accept", json=said)


def accepted(client: TestClient, proposal: Proposal, *removes: str, by: str = "Otter") -> Accepted:
    answer = accept(client, proposal, *removes, by=by)
    assert answer.status_code == 200, answer.text
    return read_answer(Accepted, answer.json())


def changes(client: TestClient) -> ChangeList:
    return read_answer(ChangeList, client.get("/api/changes").json())


def holds(client: TestClient) -> set[str]:
    return {hold["id"] for hold in client.get("/api/holds").json()["holds"]}


def message(answer: Any) -> str:
    text: str = answer.json()["error"]["message"]
    return text


def test_brought_reviewed_accepted_and_undone(phone: TestClient) -> None:
    before = holds(phone)
    found = brought(phone, holds__csv=HOLD)
    assert (found.state, found.button) == ("ready", "Load 1 hold, end 0")
    assert [each.kind for each in found.files] == ["holds"]
    assert holds(phone) == before
    assert [each.id for each in changes(phone).waiting] == [found.id]
    done = accepted(phone, found)
    assert holds(phone) == before | {"HZ-9"}
    entry = changes(phone).changes[0]
    assert (entry.id, entry.who, entry.reason, entry.files) == (
        done.change,
        "Otter",
        "as agreed",
        ["holds.csv"],
    )
    assert changes(phone).waiting == []
    undo = phone.post(f"/api/changes/{done.change}/undo", json={"by": "Otter"})
    assert undo.status_code == 201
    back = waited(phone, undo.json()["id"])
    assert (back.what, back.state) == ("undo", "ready")
    accepted(phone, back, *(need.word for need in back.needs))
    assert holds(phone) == before
    assert changes(phone).changes[1].undone_by == changes(phone).changes[0].id


def test_of_two_people_the_second_sees_what_changed_meanwhile(phone: TestClient) -> None:
    first = brought(phone, holds__csv=HOLD)
    second = brought(phone, {"ends": ["holds"]}, other__csv=HOLD.replace("HZ-9", "HZ-8"))
    accepted(phone, first)
    late = accepted(phone, second, "holds", by="Raven")
    assert late.change == ""
    assert late.proposal is not None
    assert late.proposal.needs[0].count == second.needs[0].count + 1
    assert "HZ-8" not in holds(phone)
    assert accepted(phone, late.proposal, "holds", by="Raven").change
    assert holds(phone) == {"HZ-8"}


def test_of_two_who_accept_at_the_same_moment_one_is_first(phone: TestClient) -> None:
    ends = {"ends": ["holds"]}
    found = [brought(phone, ends, holds__csv=HOLD.replace("HZ-9", name)) for name in ("HZ-1", "HZ-2")]
    done: list[Accepted] = []
    together = threading.Barrier(2)

    def accepts(proposal: Proposal) -> None:
        together.wait()
        done.append(accepted(phone, proposal, "holds"))

    threads = [threading.Thread(target=accepts, args=(each,)) for each in found]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    first, second = sorted(done, key=lambda each: each.change == "")
    assert (bool(first.change), second.change, second.proposal is not None) == (True, "", True)
    assert len(holds(phone)) == 1
    assert len(changes(phone).waiting) == 1


def test_what_is_taken_away_needs_its_word_and_a_change_its_reason(phone: TestClient) -> None:
    before = holds(phone)
    found = brought(phone, {"ends": ["holds"]}, holds__csv=HOLD)
    refused = accept(phone, found)
    assert (refused.status_code, refused.json()["error"]["code"]) == (422, "input_refused")
    assert accept(phone, found, "holds", reason="  ").status_code == 422
    assert accept(phone, found, "holds", by=" ").status_code == 422
    assert holds(phone) == before


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("empty.csv", b"", "empty"),
        (
            "far.csv",
            b"structure,easting,northing\n9/1,5000000,8000000\n9/2,5000900,8000100\n",
            "km or more from the line",
        ),
        ("words.csv", b"to,whom\nit,may\n", "no row of headings is understood"),
        ("picture.csv", b"\x89PNG\r\n\x1a\n" + bytes(200), "PNG"),
    ],
)
def test_a_file_that_cannot_be_loaded_is_refused_in_words_and_nothing_is_stored(
    phone: TestClient, name: str, content: bytes, words: str
) -> None:
    version = changes(phone).data_version
    found = brought(phone, **{name.replace(".", "__"): content})
    assert (found.state, found.consequences) == ("refused", [])
    reasons = [*found.refused, *(each.reason for file in found.files for each in file.problems)]
    assert any(words in reason for reason in reasons), reasons
    answer = accept(phone, found)
    assert answer.status_code == 422
    assert changes(phone).data_version == version


def test_a_large_file_is_refused_before_it_is_sent(
    phone: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    proposal = begun(phone)
    path = f"/api/proposals/{proposal}/files/large.csv"

    def body() -> Any:
        raise AssertionError("the file was asked for")
        yield b""

    answer = phone.put(path, content=body(), headers={"content-length": str(1 << 30)})
    assert (answer.status_code, message(answer)) == (
        413, "the file is larger than 256 MB; part it, or leave out what is no list",
    )  # fmt: skip
    # one that does not say how large it is, is counted as it comes
    monkeypatch.setattr("linemap.web.routes.changes.MAX_BYTES", 1000)
    said_nothing = phone.put(path, content=iter([b"x" * 600, b"x" * 600]))
    assert said_nothing.status_code == 413
    assert container.MAX_BYTES == 256 << 20
    assert read(phone, proposal).refused


def test_files_are_dropped_and_a_proposal_is_there_once(phone: TestClient) -> None:
    found = brought(phone, holds__csv=HOLD)
    assert phone.delete(f"/api/proposals/{found.id}").status_code == 200
    assert changes(phone).waiting == []
    for answer in (
        phone.get(f"/api/proposals/{found.id}"),
        phone.delete(f"/api/proposals/{found.id}"),
        phone.put(f"/api/proposals/{found.id}/files/a.csv", content=b"x"),
        phone.post(f"/api/proposals/{found.id}/read", json={}),
        accept(phone, found),
        phone.post(f"/api/changes/{uuid.uuid4()}/undo", json={}),
    ):
        assert answer.status_code == 404
    assert phone.get("/api/proposals/a%20b").status_code == 422


def test_dropping_files_ends_their_reading(phone: TestClient, demo_files: Path) -> None:
    version = changes(phone).data_version
    proposal = begun(phone, structures__csv=(demo_files / "structures_revC.csv").read_bytes())
    assert phone.post(f"/api/proposals/{proposal}/read", json={}).status_code == 202
    assert phone.post(f"/api/proposals/{proposal}/read", json={}).status_code == 409
    assert phone.delete(f"/api/proposals/{proposal}").status_code == 200
    readings: Readings = phone.app.state.readings  # type: ignore[attr-defined]
    readings.close()
    assert phone.get(f"/api/proposals/{proposal}").status_code == 404
    assert (changes(phone).waiting, changes(phone).data_version) == ([], version)


def test_a_reading_that_fails_leaves_its_proposal_free(caplog: pytest.LogCaptureFixture) -> None:
    readings = Readings(at_once=1)
    began: list[str] = []

    def fails() -> None:
        raise RuntimeError("disk full")

    with pytest.raises(RuntimeError):
        readings.start("a", begin=fails, read=lambda: None)
    readings.start("a", begin=lambda: began.append("a"), read=fails)
    readings.close()
    assert began == ["a"]
    assert [(each.name, each.getMessage()) for each in caplog.records] == [
        (module.__name__, "reading a failed")
    ]


def test_a_column_that_nothing_took_is_named_and_the_files_read_again(phone: TestClient) -> None:
    found = brought(phone, holds__csv=HOLD.replace("release by", "releese by"))
    (unread,) = found.files[0].unread
    assert (unread.heading, "release_by" in unread.near) == ("releese by", True)
    path = f"/api/proposals/{found.id}/columns"
    said = {"by": "Otter", "file": "holds.csv", "kind": "holds", "fields": {"release_by": "releese by"}}
    assert phone.post(path, json={**said, "file": "other.csv"}).status_code == 404
    assert phone.post(path, json={**said, "fields": {"release_by": "no such"}}).status_code == 422
    assert phone.post(path, json=said).status_code == 200
    again = read(phone, found.id)
    assert again.files[0].unread == []
    assert "release_by" in {column.field for column in again.files[0].columns}
    # what is said of another column stands beside it
    assert phone.post(path, json={**said, "fields": {"set_by": "set by"}}).status_code == 200
    third = read(phone, found.id)
    assert {"release_by": "releese by", "set_by": "set by"}.items() <= {
        column.field: column.named for column in third.files[0].columns
    }.items()


def test_records_of_phones_and_an_accepted_load_are_both_kept(phone: TestClient) -> None:
    found = brought(phone, holds__csv=HOLD)
    sent: list[str] = []

    def send() -> None:
        for _ in range(25):
            record = {
                "id": str(uuid.uuid4()),
                "structure": "13/5",
                "step": "framed",
                "happened_at": "2026-05-13T09:10:00-06:00",
                "crew": "Heron",
            }
            batch = {"sent_at": "2026-05-15T12:00:00-06:00", "events": [record]}
            outcome = phone.post("/api/events", json=batch).json()["results"][0]["outcome"]
            sent.append(f"{record['id']} {outcome}")

    phones = [threading.Thread(target=send) for _ in range(2)]
    for each in phones:
        each.start()
    done = accepted(phone, found)
    for each in phones:
        each.join()
    assert done.change
    assert "HZ-9" in holds(phone)
    assert len({each for each in sent if each.endswith(" stored")}) == 50


def test_each_trade_accepts_its_own_lists_and_a_manager_the_rest(own_people: People) -> None:
    surveyor, inspector, manager = (
        own_people.client(role) for role in (Role.SURVEYOR, Role.INSPECTOR, Role.MANAGER)
    )
    found = brought(surveyor, holds__csv=HOLD)
    assert found.who == "Person surveyor"
    refused = accept(surveyor, found, by="Person surveyor")
    assert (refused.status_code, message(refused)) == (
        403, "a surveyor may not load holds; ask a manager to accept this",
    )  # fmt: skip
    assert accept(surveyor, found, by="Person manager").status_code == 403
    for answer in (
        inspector.get(f"/api/proposals/{found.id}"),
        inspector.delete(f"/api/proposals/{found.id}"),
        accept(inspector, found, by="Person inspector"),
    ):
        assert answer.status_code == 403
    assert [len(changes(each).waiting) for each in (surveyor, inspector, manager)] == [1, 0, 1]
    done = accepted(manager, found, by="Person manager")
    undo = f"/api/changes/{done.change}/undo"
    assert surveyor.post(undo, json={}).status_code == 403
    own = accepted(inspector, brought(inspector, punch__csv=PUNCH), by="Person inspector")
    assert inspector.post(f"/api/changes/{own.change}/undo", json={}).status_code == 201


def test_a_surveyor_reads_no_kept_reason(own_people: People, demo_files: Path) -> None:
    surveyor, manager = own_people.client(Role.SURVEYOR), own_people.client(Role.MANAGER)
    rows = (demo_files / "holds.csv").read_text("utf-8").replace("nest", "heronry", 1)
    accepted(manager, brought(manager, holds__csv=rows), by="Person manager")
    # 14/2 is under the hold of a nest
    listed = (demo_files / "structures_revC.csv").read_text("utf-8").splitlines(keepends=True)
    without = "".join(line for line in listed if ",14/2," not in line)
    found = brought(surveyor, structures__csv=without)
    assert found.state == "ready"
    shown = surveyor.get(f"/api/proposals/{found.id}").text + surveyor.get("/api/changes").text
    assert "nest" not in shown.replace("nearest", "")
    assert {need.word for need in found.needs} == {"structures", "holds"}
    # the hold would hold nothing back any more
    assert accept(surveyor, found, "structures", "holds", by="Person surveyor").status_code == 403
    assert accepted(manager, found, "structures", "holds", by="Person manager").change


def test_pages_say_who_accepts_what(own_people: People) -> None:
    page = own_people.client(Role.INSPECTOR).get("/files").text
    assert "As inspector you accept punch, facts; a manager accepts the rest." in page
    assert "a manager accepts the rest" not in own_people.client(Role.MANAGER).get("/files").text
    assert f'data-most-bytes="{container.MAX_BYTES}"' in page
    assert own_people.client(Role.INSPECTOR).get("/review?id=x").status_code == 200
    assert own_people.client(Role.CREW).get("/review?id=x").status_code == 403
