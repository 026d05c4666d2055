"""The workbook and the sheets: texts only, the same bytes each time, fonts in the file, pages counted."""

from __future__ import annotations

import io
import re
import subprocess
import time
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from python_calamine import CalamineWorkbook

from linemap.report import Paper
from linemap.report.red_marks import (
    STRUCTURE_COLUMNS,
    MarkedDecision,
    MarkedPole,
    MarkedShot,
    MarkedStructure,
    MarkSheet,
    red_marks_xlsx,
)
from linemap.report.red_marks_pdf import red_marks_pdf


def pole(letter: str) -> MarkedPole:
    return MarkedPole(
        letter=letter,
        design_north="900006.189",
        design_east="2249996.742",
        set_north="900006.201",
        set_east="2249996.730",
        ahead="-0.01",
        right="+0.02",
        sigma="0.030",
        measured="mean of 2 shots",
    )


def structure(number: str, *, marked: bool = False) -> MarkedStructure:
    return MarkedStructure(
        line="North",
        number=number,
        station="10+73.00",
        verdict="fail" if marked else "pass",
        marked=marked,
        residuals=(("rotation", "+0.19 ± 0.19°"), ("across", "-9.98 ± 0.03 ft")),
        findings=("arm turned 4.5° clockwise",) if marked else (),
        cause="offset stake: built 10 ft right?" if marked else "",
        decision="offset stake accepted: photo" if marked else "",
        decided_by="P. Chief, 2026-05-16" if marked else "",
        method="",
        surveyed_on="2026-04-16",
        source="may.csv rows 1, 2",
        poles=(pole("A"), pole("B")),
    )


def sheet(count: int = 40) -> MarkSheet:
    shot = MarkedShot(
        line="North",
        structure="1/1",
        pole="A",
        point="=HYPERLINK(1)",
        north="900006.201",
        east="2249996.730",
        elevation="",
        sigma="",
        observed_on="2026-04-16",
        file="may.csv",
        row="1",
        description="+1/1 A",
    )
    decision = MarkedDecision(
        at="2026-05-16T09:00-06:00",
        who="P. Chief",
        answer="accepted",
        cause="offset stake",
        subject="structure 1/3",
        note="photo",
    )
    return MarkSheet(
        job="North 115 kV",
        source="job 7d44, life 0c2f, linemap 0.1.0",
        lines=("North: Stone Hollow ahead to Windle Fork; structures Rev C",),
        data_version=7,
        data_date="2026-05-15",
        declared="EPSG:6515 in international feet",
        unit="ft",
        caution="Positions and records only. Treat every wire as energized.",
        counts="39 pass, 1 fail",
        structures=tuple(structure(f"1/{n}", marked=n == 3) for n in range(1, count + 1)),
        shots=(shot,),
        decisions=(decision,),
        corrections=(),
    )


def text_of(pdf: bytes, tmp_path: Path) -> list[str]:
    """Return the text of each page, as Poppler reads it."""
    path = tmp_path / "sheets.pdf"
    path.write_bytes(pdf)
    found = subprocess.run(
        ["pdftotext", "-layout", str(path), "-"], check=True, capture_output=True, text=True
    )
    return found.stdout.split("\f")[:-1]


def boxes_of(pdf: Path) -> list[tuple[float, ...]]:
    """Return left, top, right and bottom of every word on the pages, points."""
    found = subprocess.run(["pdftotext", "-bbox", str(pdf), "-"], check=True, capture_output=True, text=True)
    words = re.findall(r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)"', found.stdout)
    assert words
    return [tuple(map(float, word)) for word in words]


def test_workbook_holds_texts_and_no_formula() -> None:
    book = CalamineWorkbook.from_filelike(io.BytesIO(red_marks_xlsx(sheet())))
    assert book.sheet_names == ["structures", "poles", "shots as observed", "decisions", "job"]
    rows = {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}
    assert tuple(rows["structures"][0]) == STRUCTURE_COLUMNS
    assert len(rows["structures"]) == 41
    assert len(rows["poles"]) == 81
    assert all(isinstance(cell, str) for table in rows.values() for row in table for cell in row)
    assert rows["poles"][1][3:7] == ["900006.189", "2249996.742", "900006.201", "2249996.730"]
    assert rows["shots as observed"][1][3] == "=HYPERLINK(1)"
    with zipfile.ZipFile(io.BytesIO(red_marks_xlsx(sheet()))) as parts:
        pages = [parts.read(name).decode() for name in parts.namelist() if "worksheets/sheet" in name]
    assert not any("<f>" in page or "<hyperlink" in page for page in pages)


@pytest.mark.parametrize("make", [red_marks_xlsx, red_marks_pdf])
def test_the_same_data_give_the_same_bytes_later_too(make: object) -> None:
    assert callable(make)
    first = make(sheet(3))
    time.sleep(1.1)
    assert make(sheet(3)) == first
    assert make(replace(sheet(3), data_version=8)) != first


@pytest.mark.parametrize(("paper", "size"), [("letter", "792 x 612"), ("a4", "841.89 x 595.276")])
def test_sheets_have_their_size_fonts_and_page_numbers(paper: Paper, size: str, tmp_path: Path) -> None:
    made = red_marks_pdf(sheet(), paper=paper)
    pages = text_of(made, tmp_path)
    assert len(pages) > 2
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page
        assert "data version 7, as of 2026-05-15" in page
        assert "structures Rev C" in page
        assert "Treat every wire as energized" in page
    info = subprocess.run(
        ["pdfinfo", str(tmp_path / "sheets.pdf")], check=True, capture_output=True, text=True
    ).stdout
    assert f"{size} pts" in info
    fonts = subprocess.run(
        ["pdffonts", str(tmp_path / "sheets.pdf")], check=True, capture_output=True, text=True
    ).stdout.splitlines()[2:]
    assert len(fonts) == 2
    assert all(re.search(r"TrueType.* yes yes yes ", font) for font in fonts)


def test_every_structure_is_on_the_sheets_once(tmp_path: Path) -> None:
    text = "\n".join(text_of(red_marks_pdf(sheet()), tmp_path))
    for number in range(1, 41):
        assert len(re.findall(rf"^1/{number}\s", text, re.MULTILINE)) == 1
    assert text.count("mean of 2 shots") == 80
    for words in ("likely cause: offset stake", "decided by: P. Chief", "instrument and method not recorded"):
        assert words in text


def test_nothing_runs_off_the_paper_and_unknown_signs_are_told(tmp_path: Path) -> None:
    long = replace(structure("1/1", marked=True), cause="x" * 3000, source="y " * 4000, decision="→ 漢 é")
    whole = replace(sheet(1), structures=(long,), job="<b>&amp; 100%</b>")
    text = "\n".join(text_of(red_marks_pdf(whole), tmp_path))
    assert text.count("x") == 3000 + sheet(1).lines[0].count("x")
    assert text.count("y") >= 4000
    assert "decision: → ? é" in text
    assert "<b>&amp; 100%</b>" in text
    for box in boxes_of(tmp_path / "sheets.pdf"):
        assert 0.0 < box[0] < box[2] <= 792.0
        assert 0.0 < box[1] < box[3] <= 612.0


@pytest.mark.parametrize("name", ["Říčka – Łąka", "Țărmul Őr", "Линия Ωμέγα", "Tuyến Đường", "ᐃᓄᒃᑎᑐᑦ"])
def test_letters_of_other_alphabets_are_printed(name: str) -> None:
    named = replace(structure(name, marked=True), cause=f"as on {name}")
    made = red_marks_pdf(replace(sheet(1), job=name, lines=(f"{name}: Rev C",), structures=(named,)))
    text = PdfReader(io.BytesIO(made)).pages[0].extract_text().splitlines()
    assert {name, f"{name}: Rev C", f"likely cause: as on {name}"} <= {line.strip() for line in text}


def test_a_job_without_structures_still_makes_a_sheet(tmp_path: Path) -> None:
    (page,) = text_of(red_marks_pdf(replace(sheet(0), decisions=())), tmp_path)
    assert "page 1 of 1" in page
