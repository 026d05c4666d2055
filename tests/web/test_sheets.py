"""Sheets over the web."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient


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
