"""Sheets over the web."""

from __future__ import annotations

import io
from typing import Protocol

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient

from linemap.domain.record.person import Role


def test_a_card_comes_as_a_pdf(phone: TestClient) -> None:
    answer = phone.get("/api/sheets/card.pdf", params={"structures": ["9/2"], "paper": "a4"})
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    (page,) = PdfReader(io.BytesIO(answer.content)).pages
    assert "9/2" in page.extract_text()
    again = phone.get("/api/sheets/card.pdf", params={"structures": ["9/2"], "paper": "a4"})
    assert again.content == answer.content


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/api/sheets/poster.pdf", 422),
        ("/api/sheets/card.pdf?paper=a3", 422),
        ("/api/sheets/card.pdf?structures=99/9", 404),
        ("/api/sheets/card.pdf?mile=99", 404),
    ],
)
def test_what_is_not_there_is_said(phone: TestClient, path: str, status: int) -> None:
    assert phone.get(path).status_code == status


class People(Protocol):
    """What the fixture `people` gives."""

    def client(self, role: Role | None) -> TestClient: ...


def test_a_managers_sheet_is_a_crews_sheet(people: People) -> None:
    """Paper goes from hand to hand: a manager's holds nothing that a crew may not see."""
    path = "/api/sheets/card.pdf?mile=14"
    made = {role: people.client(role).get(path) for role in (Role.MANAGER, Role.CREW, Role.VIEWER)}
    assert made[Role.VIEWER].status_code == 403
    assert made[Role.CREW].status_code == 200
    assert made[Role.MANAGER].content == made[Role.CREW].content
