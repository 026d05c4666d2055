"""TitleBlock as the sheets of a job have it, and how a PDF is read back."""

from __future__ import annotations

import io
from collections.abc import Callable

import pytest
from pypdf import PdfReader

from linemap.report.paper import TitleBlock

Read = Callable[[bytes], PdfReader]


@pytest.fixture
def title_block() -> TitleBlock:
    return TitleBlock(
        title="Sheet",
        job="North",
        lines=("North: structures Rev C",),
        version="data version 4, as of 2026-05-15; holds as of 2026-05-15",
        cautions=("Treat every wire as energized. The stamped drawing governs.",),
    )


@pytest.fixture
def read() -> Read:
    def opened(content: bytes) -> PdfReader:
        return PdfReader(io.BytesIO(content))

    return opened
