import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from linemap.errors import InputRefused
from linemap.io.cells.table import RawTable
from linemap.io.source.read import SUFFIXES, check_signs, read_source, recognise
from linemap.io.source.text import read_text

Save = Callable[[str, str | bytes], Path]


def test_a_source_carries_bytes_and_fingerprint(save: Save) -> None:
    text = b"structure,easting,northing\n1/1,2250000,900000\n"
    source = read_source(save("list.csv", text))
    assert (source.name, source.size, source.data) == ("list.csv", len(text), text)
    assert source.sha256 == hashlib.sha256(text).hexdigest()
    assert source.kind == "structures"
    assert source.table("structures") is source.tables[0]


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("list.csv", b"PK\x03\x04 packed", "a ZIP archive"),
        ("list.csv", b"%PDF-1.7", "a PDF document"),
        ("list.txt", b"\x89PNG\r\n\x1a\n", "a PNG picture"),
        ("list.csv", b"\xd0\xcf\x11\xe0\xa1", "an old binary office file"),
        ("list.xlsx", b"Str,N,E\n1/1,1,2\n", "text or something else"),
        ("map.gpkg", b"PK\x03\x04", "a ZIP archive"),
        ("map.shp", b"{}", "text or something else"),
        ("map.geojson", b"\x89PNG", "a PNG picture"),
        ("list.zip", b"PK\x03\x04", "unpack it first"),
        ("map.kmz", b"<kml/>", "text or something else"),
        ("list.docx", b"PK\x03\x04", "not read"),
        ("list", b"Str,N,E", "not read"),
    ],
)
def test_a_file_must_be_what_its_name_says(save: Save, name: str, content: bytes, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_source(save(name, content))


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_garbage_under_any_suffix_is_refused_in_one_message(save: Save, suffix: str) -> None:
    with pytest.raises(InputRefused) as caught:
        read_source(save(f"list{suffix}", b"\x07garbage\n,,;\x01\n"))
    assert len(caught.value.problems) == 1
    assert f"list{suffix}" in str(caught.value)


@pytest.mark.parametrize(
    ("headings", "words"), [("name,easting,northing", "may be"), ("what,colour", "no row of headings")]
)
def test_unclear_files_ask_for_their_kind(save: Save, headings: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        recognise(read_source(save("list.csv", f"{headings}\na,2250000,900000\n")).tables[0])


def test_the_remedy_of_an_unclear_file_is_the_option(save: Save) -> None:
    with pytest.raises(InputRefused, match="--as KIND, one of structures, centreline"):
        recognise(RawTable(file="x.csv", kinds=("structures", "centreline")))


def test_a_kind_said_by_the_user_decides(save: Save) -> None:
    path = save("list.csv", "name,easting,northing\n1/1,2250000,900000\n")
    assert recognise(read_source(path, kind="structures").tables[0]) == "structures"
    assert recognise(read_source(path, kind="centreline").tables[0]) == "centreline"
    with pytest.raises(InputRefused, match="holds need"):
        read_source(path, kind="holds")


def test_json_settings_become_a_table(save: Save) -> None:
    path = save("t.json", '{"rotation_deg": 0.3, "spacing": {"value": 0.1, "unit": "ft", "source": "4.2"}}')
    table = read_source(path).tables[0]
    assert recognise(table) == "tolerances"
    assert [list(row) for row in table.rows] == [
        ["rotation_deg", 0.3, "deg", None],
        ["spacing", 0.1, "ft", "4.2"],
    ]


@pytest.mark.parametrize("content", ["[1, 2]", "{broken", '{"a":' * 100_000, '"text"'])
def test_unusable_json_is_refused(save: Save, content: str) -> None:
    with pytest.raises(InputRefused, match="JSON"):
        read_source(save("t.json", content))


@pytest.mark.parametrize(
    "after", ["STR,N,E\n1/1,900000,2250001\n", "STR,N,E\n1/1,900000,2250000\n1/2,1,2\n", ""]
)
def test_a_file_that_changes_while_it_is_read_is_refused(
    save: Callable[..., Path], monkeypatch: pytest.MonkeyPatch, after: str
) -> None:
    path = save("list.csv", "STR,N,E\n1/1,900000,2250000\n")

    def read_and_change(data: bytes, name: str, **said: object) -> RawTable:
        table = read_text(data, name, kind=None)
        path.write_text(after, encoding="utf-8")
        return table

    monkeypatch.setattr("linemap.io.source.read.read_text", read_and_change)
    with pytest.raises(InputRefused, match="the file changed while it was read; wait until"):
        read_source(path)


def test_a_file_that_grows_between_its_size_and_its_bytes_is_refused(
    save: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = save("list.csv", "STR,N,E\n1/1,900000,2250000\n")
    plain = Path.read_bytes

    def read_late(self: Path) -> bytes:
        with self.open("ab") as stream:
            stream.write(b"1/2,900500,2250900\n")
        return plain(self)

    monkeypatch.setattr(Path, "read_bytes", read_late)
    with pytest.raises(InputRefused, match="changed while it was read"):
        read_source(path)


TABLE = RawTable(
    file="list.csv",
    headers=("structure", "note"),
    header_row=2,
    rows=(("1/1", "fine \N{BULLET} \U0001f600"), ("1/2", None)),
    row_numbers=(3, 4),
)


def test_a_table_of_real_characters_is_returned_as_it_is() -> None:
    assert check_signs(TABLE) is TABLE


@pytest.mark.parametrize("sign", ["\x00", "\ud800"])
def test_the_cell_is_named(sign: str) -> None:
    damaged = RawTable(
        file="list.csv",
        headers=TABLE.headers,
        header_row=2,
        rows=(("1/1", "fine"), ("1/2", 7.0), ("1/3", f"a{sign}b")),
        row_numbers=(3, 4, 6),
    )
    with pytest.raises(InputRefused, match=r'list\.csv, row 6, note "a\?b": holds a character that is none'):
        check_signs(damaged)


def test_a_heading_is_looked_at_too() -> None:
    with pytest.raises(InputRefused, match="row 2"):
        check_signs(RawTable(file="list.csv", headers=("structure", "no\x00te"), header_row=2))


@pytest.mark.parametrize("sign", ["\x00", "\ud800"])
def test_a_json_file_with_one_is_refused(tmp_path: Path, sign: str) -> None:
    path = tmp_path / "tolerances.json"
    path.write_text(json.dumps({"rotation_deg": {"value": 1.0, "source": f"drawing a{sign}b"}}))
    with pytest.raises(InputRefused, match="character that is none"):
        read_source(path)
