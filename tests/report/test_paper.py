"""What every printed page carries."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader
from reportlab.pdfbase.pdfmetrics import stringWidth

from linemap.report.lettering import PLAIN, paragraph
from linemap.report.paper import HALF, PORTRAIT, Surface, TitleBlock, draw_pages, page_room

TITLE_BLOCK = TitleBlock(
    title="Sheet",
    job="North → Ω",
    lines=("North: structures Rev C",),
    version="data version 4, as of 2026-05-15",
    cautions=("Treat every wire as energized.",),
    source="job 7d444840-9dc0-11d1-b245-5ffdce74fad2, life 0c2f1a6e-3f57-4f0e-9e0c-5b9e6a1f2d43, linemap 9.1",
)


def nothing(_page: Surface) -> None:
    """Draw nothing."""


def lines_of(words: str, width: float) -> list[str]:
    """Return the lines that words take within a width."""
    told = paragraph(words, size=7.0)
    told.wrap(width, 1000.0)
    return [" ".join(line).replace("\u00a0", " ") for _, line in told.blPara.lines]


def test_every_page_has_revision_date_caution_and_its_number() -> None:
    pages = PdfReader(io.BytesIO(draw_pages(TITLE_BLOCK, [nothing] * 3, size=PORTRAIT["letter"]))).pages
    assert len(pages) == 3
    for number, page in enumerate(pages, start=1):
        text = page.extract_text()
        for words in (
            "Rev C",
            "data version 4, as of 2026-05-15",
            "Treat every wire as energized.",
            f"page {number} of 3",
        ):
            assert words in text


def test_what_job_it_is_of_fits_on_the_smallest_page() -> None:
    page = PdfReader(io.BytesIO(draw_pages(TITLE_BLOCK, [nothing], size=HALF["letter"]))).pages[0]
    assert TITLE_BLOCK.source in page.extract_text()
    assert stringWidth(TITLE_BLOCK.source, PLAIN, 5.2) < HALF["letter"][0] - 60.0


def test_the_same_content_gives_the_same_bytes() -> None:
    one, other = (draw_pages(TITLE_BLOCK, [nothing], size=HALF["a4"]) for _ in range(2))
    assert one == other


def test_fonts_are_in_the_file() -> None:
    page = PdfReader(io.BytesIO(draw_pages(TITLE_BLOCK, [nothing], size=PORTRAIT["a4"]))).pages[0]
    fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
    assert fonts
    assert all("/FontFile2" in font["/FontDescriptor"] for font in fonts)


@pytest.mark.parametrize(
    ("size", "inches"), [(HALF["letter"], (5.5, 8.5)), (PORTRAIT["letter"], (8.5, 11.0))]
)
def test_sizes_are_those_of_the_paper(size: tuple[float, float], inches: tuple[float, float]) -> None:
    assert size == pytest.approx([72 * part for part in inches])


def test_long_cautions_take_room_from_the_page() -> None:
    long = TitleBlock(title="S", job="J", lines=(), version="v", cautions=("energized " * 200,))
    assert page_room(long, HALF["letter"])[1] < page_room(TITLE_BLOCK, HALF["letter"])[1] - 50.0


def test_a_word_longer_than_the_page_is_broken() -> None:
    assert len(lines_of("x" * 500, 500.0)) > 3


def test_inches_and_their_fraction_stay_on_one_line() -> None:
    words = "lower brace bolt 24'-3 1/4\", ground line 61'-0\""
    for width in range(40, 200, 5):
        lines = lines_of(words, float(width))
        assert not any(line.endswith("24'-3") for line in lines)
        assert " ".join(lines) == words
