"""Sheets that are lists and tables."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields

from pypdf import PdfReader

from linemap.answers.staking import StakedStructure
from linemap.report.paper import TitleBlock
from linemap.report.sheets.tables import CrewExceptions, ExceptionRow, exceptions_pdf, staking_pdf

Read = Callable[[bytes], PdfReader]


def test_exceptions_begin_a_page_for_each_crew(title_block: TitleBlock, read: Read) -> None:
    row = ExceptionRow(number="4/2", station="171+00", verdict="fail", sentences=("10.0 ft right",))
    crews = [
        CrewExceptions(crew="Heron", rows=(row,), punch=()),
        CrewExceptions(crew="Otter", rows=(), punch=("P-1 at 1/4: plate missing (open)",)),
    ]
    first, second = (page.extract_text() for page in read(exceptions_pdf(title_block, crews)).pages)
    assert "Heron" in first
    assert "10.0 ft right" in first
    assert "Otter" not in first
    assert "Otter" in second
    assert "plate missing" in second


def test_no_exception_is_said(title_block: TitleBlock, read: Read) -> None:
    (page,) = read(exceptions_pdf(title_block, [])).pages
    assert "No exception and no open punch item is recorded." in page.extract_text()


def test_a_structure_without_a_neighbour_has_no_set_up(title_block: TitleBlock, read: Read) -> None:
    nothing = dict.fromkeys((each.name for each in fields(StakedStructure)), "")
    told = {"structure": "1/1", "station_text": "0+00.00", "kind_text": "type TERM; A 70 ft class 2"}
    lists = {"points": (), "notes": (), "holds": ("no staking at 1/1",), "pole_ground_text": {}}
    entry = StakedStructure(**(nothing | told | lists | {"northing": 0.0, "easting": 0.0}))
    text = read(staking_pdf(title_block, [entry])).pages[0].extract_text()
    assert "not available: no neighbour to sight" in text
    assert "HOLD: no staking at 1/1" in text
    assert "type TERM; A 70 ft class 2" in text
