import re
from collections.abc import Callable

import pytest
from pypdf import PdfReader

from linemap.domain.schedule.progress import MileRow
from linemap.report.along import SIGNS, Cell
from linemap.report.paper import TitleBlock
from linemap.report.sheets.progress import Wall, wall_pdf

Read = Callable[[bytes], PdfReader]


def wall(miles: int, stage: str = "none", *, held: bool = False) -> Wall:
    rows = tuple(
        MileRow(
            line="L",
            mile=mile,
            structures=(f"{mile}/1", f"{mile}/2"),
            done=(f"{mile}/1",),
            holes=(f"{mile}/2",) if mile == 3 else (),
            span_done=0.0,
            span_all=0.0,
        )
        for mile in range(1, miles + 1)
    )
    cells = {
        ("L", number): Cell(number=number, stage=stage, held=held)
        for row in rows
        for number in row.structures
    }
    return Wall(mile_word="mile", rows=rows, cells=cells, counts="set 23 of 46")


def test_23_miles_are_one_page_of_letter(title_block: TitleBlock, read: Read) -> None:
    (page,) = read(wall_pdf(title_block, wall(23))).pages
    text = page.extract_text()
    assert all(f"mile {mile}\n" in f"{text}\n" for mile in range(1, 24))
    assert text.count("1 of 2 set") == 23
    assert "passed by: 3/2" in text
    assert float(page.mediabox.width) == pytest.approx(792)


def test_60_miles_take_more_pages_and_lose_none(title_block: TitleBlock, read: Read) -> None:
    pages = read(wall_pdf(title_block, wall(60))).pages
    text = "\n".join(page.extract_text() for page in pages)
    assert len(pages) == 3
    assert all(f"mile {mile}\n" in f"{text}\n" for mile in range(1, 61))


def test_every_stage_is_drawn_differently_without_colours(title_block: TitleBlock, read: Read) -> None:
    drawn = {}
    for stage in SIGNS:
        content = read(wall_pdf(title_block, wall(1, stage))).pages[0].get_contents()
        assert content is not None
        data = content.get_data()
        assert all(len(set(colour.split())) == 1 for colour in re.findall(rb"([\d. ]+) rg", data))
        drawn[stage] = data
    assert len(set(drawn.values())) == len(SIGNS)


def test_a_hold_is_a_letter(title_block: TitleBlock, read: Read) -> None:
    counts = [
        read(wall_pdf(title_block, wall(1, held=held))).pages[0].extract_text().split().count("H")
        for held in (False, True)
    ]
    assert counts[1] - counts[0] == 2


def test_no_row_is_said(title_block: TitleBlock, read: Read) -> None:
    (page,) = read(wall_pdf(title_block, wall(0))).pages
    assert "not available" in page.extract_text()
