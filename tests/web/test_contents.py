"""What only one kind of record has, written wrong in every way: each refused in words, alone."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import numpy as np
import pytest
from rover_checks import check_at
from starlette.testclient import TestClient

from linemap.service.view.build import build_view

STRUCTURE = "13/4"
WRONG = (None, [], {}, [[]], {"a": 1}, 1e308, -1, "", "x", True, [1], "0" * 5_000)
TAPED = {
    "method": "tape", "unit": "ft", "spacing": 12.5, "poles": "AB", "radii": [0.6, 0.6], "set": "quick",
    "stakes": {"A OS25BK": [-6.25, -25.0]}, "readings": [["A OS25BK", "A", 24.4]], "verdict": "cannot tell",
}  # fmt: skip
CONTENTS = {
    "tape": ("check", TAPED),
    "case": ("case", {"act": "close", "code": "step missing", "part": "framed", "records": ["1"]}),
    "moved": ("moved", {"event": str(uuid.uuid4()), "structure": "13/5", "pole": "A"}),
    "punch": ("punch", {"item": "P-99", "action": "opened", "text": "plate missing", "due": "2026-06-01"}),
}


def outcomes(phone: TestClient, what: str, content: dict[str, Any]) -> list[str]:
    """Send a record, and a good one with it; say what became of both."""
    common = {"structure": STRUCTURE, "happened_at": "2026-05-14T10:00:00-06:00", "note": "as seen"}
    events = [
        {"id": str(uuid.uuid4()), "what": what, "content": content, **common},
        {"id": str(uuid.uuid4()), "step": "dug", **common},
    ]
    answer = phone.post("/api/events", json={"sent_at": "2026-05-15T12:00:00-06:00", "events": events})
    assert answer.status_code == 200, content
    return [each["outcome"] for each in answer.json()["results"]]


@pytest.mark.parametrize("kind", [*CONTENTS, "rover"])
def test_a_content_written_wrong_is_refused_alone_and_nothing_breaks(phone: TestClient, kind: str) -> None:
    if kind in CONTENTS:
        what, content = CONTENTS[kind]
    else:
        view = build_view(phone.app.state.database, today=dt.date(2026, 5, 16))  # type: ignore[attr-defined]
        what, content = "check", check_at(view, view.row("", STRUCTURE), np.random.default_rng(5))
    for name in (*content, "unheard of"):
        for value in WRONG:
            assert outcomes(phone, what, {**content, name: value})[1] == "stored"
    for name in ("fixes", "readings"):
        for value in WRONG if name in content else ():
            (first, *more) = content[name]
            ends = {"at": value, "face": value} if name == "fixes" else {}
            changed = {**first, **ends} if ends else [value, *first[1:]]
            assert outcomes(phone, what, {**content, name: [changed, *more]}) == ["refused", "stored"]
    assert phone.get("/api/structure", params={"number": STRUCTURE}).status_code == 200


@pytest.mark.parametrize("changed", [{"radii": [-1.0, 0.6]}, {"stakes": {"A OS25BK": [1e308, 0.0]}}])
def test_a_tape_check_by_lengths_that_cannot_be_is_refused(
    phone: TestClient, changed: dict[str, Any]
) -> None:
    assert outcomes(phone, "check", {**TAPED, **changed}) == ["refused", "stored"]
    assert outcomes(phone, "check", TAPED) == ["stored", "stored"]
