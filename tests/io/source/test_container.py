from __future__ import annotations

import io
import os
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from linemap.errors import InputRefused
from linemap.io.source.container import MAX_BYTES, check_xml, fingerprint, nature, read_bytes
from linemap.io.source.workbook_size import check_workbook

BOMB = b"""<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]><kml>&b;</kml>"""


def packed(parts: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("name", "words"), [("missing.csv", "no such file"), (".", "is a folder"), ("empty.csv", "file is empty")]
)
def test_files_that_are_not_there_are_refused(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "empty.csv").write_bytes(b"\xef\xbb\xbf\r\n \n")
    with pytest.raises(InputRefused, match=words):
        read_bytes(tmp_path / name, name)


def test_a_file_the_system_will_not_open_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.symlink_to(path)
    with pytest.raises(InputRefused, match="cannot be read"):
        read_bytes(path, path.name)


def test_an_impossible_path_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputRefused):
        read_bytes(tmp_path / ("x" * 300), "x")


def test_a_file_above_the_limit_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.truncate(MAX_BYTES + 1)
    with pytest.raises(InputRefused, match="268,435,457 bytes"):
        read_bytes(path, path.name)


@pytest.mark.parametrize(
    "data",
    [
        BOMB,
        BOMB.decode().encode("utf-16"),
        b"<kml/><!doctype x>",
        b'<?xml version="1.0" encoding="utf-7"?><kml/>',
    ],
)
def test_xml_with_entities_or_odd_encodings_is_refused(data: bytes) -> None:
    with pytest.raises(InputRefused):
        check_xml(data, "map.kml")


def test_plain_xml_passes() -> None:
    check_xml(b'<?xml version="1.0" encoding="UTF-8"?><kml/>', "map.kml")


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"xl/worksheets/sheet1.xml": b"<sheetData/>" + b" " * 60_000_000}, "times its size"),
        ({"xl/workbook.xml": BOMB}, "entities"),
        (
            {"xl/worksheets/sheet1.xml": b'<row r="1048576"><c r="XFD1048576"/></row>'},
            "1,048,576 rows and 16,384",
        ),
        (
            {"xl/worksheets/sheet1.xml": b"<row r='1048576'><c r='XFD1048576'/></row>"},
            "1,048,576 rows and 16,384",
        ),
        (
            {"xl/worksheets/sheet1.xml": b"<row r='1'><c\nr = 'XFD1048576'/></row>"},
            "1,048,576 rows and 16,384",
        ),
        ({"xl/worksheets/sheet1.xml": b'<row><c r="XFD1"/></row>' * 8_000}, "8,001 rows and 16,384"),
        (
            {"xl/worksheets/sheet1.xml": b"<x:row/>" * 8_000 + b"<x:row>" + b"<x:c/>" * 16_000},
            "16,000 columns",
        ),
        ({"xl/worksheets/sheet1.xml": b'<row r="1"><c r="&#88;FD1048576"/></row>'}, "hides the references"),
        ({"xl/worksheets/sheet1.xml": b'<row r="1"><c r="A0"/></row>'}, "hides the references"),
        ({"xl/worksheets/sheet1.xml": '<row r="1"/>'.encode("utf-16")}, "two bytes a letter"),
        (
            {
                "xl/sharedStrings.xml": b"<si>" + os.urandom(1) * 1_000_000 + b"</si>",
                "xl/worksheets/sheet1.xml": b'<c t="s"/>' * 5_000,
            },
            "repeat a text",
        ),
        (
            {
                "xl/sharedStrings.xml": b"<si>" + os.urandom(1) * 1_000_000 + b"</si>",
                "xl/worksheets/sheet1.xml": b"<row/>" + b"<c t='s'/>" * 5_000,
            },
            "repeat a text",
        ),
        (
            {"xl/sharedStrings.xml": b'<sst count="3" uniqueCount="4294967296"><si><t>a</t></si></sst>'},
            "table of 1 texts says it holds 4,294,967,296",
        ),
        ({f"xl/media/{number}.xml": b"" for number in range(5_001)}, "5,001 parts"),
    ],
)
def test_workbooks_made_to_fill_memory_are_refused(parts: dict[str, bytes], words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        check_workbook(packed(parts), "list.xlsx")


def test_long_and_wide_lists_are_no_reason_to_refuse() -> None:
    cells = "".join(f'<c r="{chr(65 + at)}{{0}}" t="s"><v>1</v></c>' for at in range(26))
    rows = "".join(f'<row r="{row}">{cells.format(row)}</row>' for row in range(1, 20_001))
    bare = "<row>" + "<c><v>1</v></c>" * 30 + "</row>"
    check_workbook(packed({"xl/worksheets/sheet1.xml": rows.encode()}), "list.xlsx")
    check_workbook(packed({"xl/worksheets/sheet1.xml": (bare * 20_000).encode()}), "list.xlsx")


def test_damaged_and_cut_workbooks_are_refused(workbook: Callable[..., Path]) -> None:
    rows: list[list[Any]] = [["Str", "N", "E"], ["1/1", 1.0, 2.0]]
    data = workbook({"Sheet": rows}).read_bytes()
    check_workbook(data, "list.xlsx")
    for cut in (data[: len(data) // 2], data[:100], data[:300] + b"\0" * 200 + data[500:]):
        with pytest.raises(InputRefused, match="damaged"):
            check_workbook(cut, "list.xlsx")


def test_nature_and_fingerprint() -> None:
    assert nature(b"\x89PNG\r\n") == "a PNG picture"
    assert nature(b"5001,911423.70") == ""
    # SHA-256 of the empty message, FIPS 180-4 examples.
    assert fingerprint(b"") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
