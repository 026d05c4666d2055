"""Characters that are none are refused in one place, whatever file they come from."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from linemap.errors import InputRefused
from linemap.io.cells.table import RawTable
from linemap.io.source.read import read_source
from linemap.io.source.signs import check_signs

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


@pytest.mark.parametrize("index", [0, 999, 1000, 2500])
def test_one_cell_among_thousands_is_named(index: int) -> None:
    rows = [("1/1", None if row % 2 else "fine") for row in range(2501)]
    rows[index] = ("1/1", "a\x00b")
    table = RawTable(file="a.csv", headers=TABLE.headers, rows=rows, row_numbers=range(2, 2503))
    with pytest.raises(InputRefused, match=f"row {index + 2}, note"):
        check_signs(table)
