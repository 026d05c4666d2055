"""Dirty files for the reading benchmark: every kind of list, with the damage lists collect on their way."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from datetime import datetime
from io import BytesIO

import xlsxwriter

__all__ = ["dirty_file"]

Rows = list[list[object]]

_HEADS: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "structures": (
        ("Str", "Station", "Northing", "Easting", "Type", "Angle", "Poles", "Pole Spacing (ft)", "Remarks"),
        ("line", "Structure No", "E (ft)", "N (ft)", "Sta", "Type", "Line Angle", "Section Break"),
        ("Str No", "Longitude", "Latitude", "Northing", "Easting", "Ground El", "Arm Rule", "Azimuth"),
    ),
    "centreline": (
        ("PI", "Sta Bk", "Sta Ah", "N", "E", "Delta", "Brg Ah", "Dist Ah", "Remarks"),
        ("line", "PI", "Northing", "Easting", "Back Bearing", "Deflection"),
    ),
    "poles": (
        ("Structure", "Pole", "Length", "Class", "Ground El", "Ground wire", "Remarks"),
        ("Str", "Leg", "Ht/Class", "Remarks"),
    ),
    "shots": (
        ("Point", "Northing", "Easting", "Elevation", "Description", "HRMS"),
        ("P", "E", "N", "Z", "D", "Date"),
        (),
    ),
    "records": (("Structure", "Pole", "Step", "Date", "Time", "Result", "Crew"),),
    "holds": (("Hold", "Activities", "Structures", "From date", "To date", "Reason", "Restricted"),),
    "crossings": (("What", "Station", "True distance", "Span", "kV", "Energized"),),
    "equations": (("Back", "Ahead"),),
    "types": (("Type", "Words", "Poles", "Spacing", "Arm rule", "Blocks", "Weight"),),
    "tolerances": (("Name", "Value", "Unit", "Source"),),
}

#: Cells lists hold where they should not, apart by bars.
_WORDS = """
| |-|?|N/A|#REF!|nan|inf|1e400|TOTAL 4|Sheet 3 of 7|do.|as above|DELETED|=1+1|'=x|2-Jan|Jan-02|1/2/2026
|45293|12/30|0012|75-2/70-2|75-1 (3)|2-75|22.9m|75'|900,499.4|900499,4|1.234.567,8|-108.37717|46.71312
|62.1030 L|18-45-10 LT|N24.5600E|470+00.00 BK|470+00 BK = 473+84.50 AH|118 + 40|1+234.560|12/3A|21/4
|2/14|STR 5/5 A|5-5 C GL|CL HUB 5/5|CP-3 CHECK|XING GAS MKR|12/3A ; note|опора 12/3 А|鉄塔 5/5|Str
|Northing|say "hi"
""".replace("\n", "").split("|")
_DIRT: tuple[object, ...] = (
    *_WORDS,
    '"',
    "a\nb",
    "x" * 200,
    "\u202eabc",
    "\u00a0",
    True,
    datetime(2026, 1, 2),  # noqa: DTZ001
    datetime(1932, 12, 1),  # noqa: DTZ001
    47.0,
    -1e300,
    0,
)


_USUALLY_BLANK = (*[""] * 40, "x", 0)


def _cell(rng: random.Random, head: str, row: int) -> object:
    """Return a likely value of a column."""
    word = head.casefold()
    mile, number = 1 + row // 5, 1 + row % 5
    likely: Mapping[str, Callable[[], object]] = {
        "str": lambda: f"{mile}/{number}",
        "n": lambda: f"{900_000 + 470 * row + rng.random():.3f}",
        "e": lambda: f"{2_250_000 + 900 * row + rng.random():.3f}",
        "lon": lambda: f"{-108.37 + row / 300:.7f}",
        "lat": lambda: f"{46.71 + row / 600:.7f}",
        "sta": lambda: f"{row * 10}+{rng.randrange(100):02d}.{rng.randrange(100):02d}",
        "pole": lambda: rng.choice("ABC"),
        "leg": lambda: rng.choice(("A", "B", "A/B", "both")),
        "type": lambda: f"H-TAN {row}" if len(head) > 4 else rng.choice(("H-TAN", "P3-DE", "TERM")),
        "from": lambda: "2026-05-01",
        "true": lambda: f"{row * 1000}",
        "desc": lambda: f"STR {mile}/{number} {rng.choice('AB')}",
        "d": lambda: f"STR {mile}/{number} {rng.choice('AB')}",
        "step": lambda: rng.choice(("dug", "framed", "set", "lunch")),
        "date": lambda: f"2026-05-{1 + row % 28:02d}",
        "length": lambda: rng.choice((70, 75, "75'", "22.86 m")),
        "class": lambda: rng.choice((1, 2, "H1")),
        "ht": lambda: rng.choice(("70-2", "75-1 (3)", "75-2/70-2")),
        "back": lambda: f"{470 + row}+00.00 BK",
        "ahead": lambda: f"{473 + row}+84.50 AH",
        "activities": lambda: "all",
        "what": lambda: "river",
        "name": lambda: rng.choice(("rotation", "along_tangent", "spacing")),
        "value": lambda: f"{1 + row / 10:.1f}",
    }
    best = max((key for key in likely if word.startswith(key)), key=len, default="")
    return likely[best]() if best else rng.choice(_USUALLY_BLANK)


def _rows(rng: random.Random, kind: str) -> Rows:
    heads = rng.choice(_HEADS[kind])
    columns = heads or ("Point", "N", "E", "Elevation", "Description")
    dirt = rng.choice((0.0, 0.0, 0.01, 0.04, 0.2))
    rows: Rows = [[rng.choice(_DIRT)] + [""] * rng.randrange(4) for _ in range(rng.choice((0, 0, 1, 3, 6)))]
    if heads:
        rows.append(list(heads))
    for row in range(rng.randrange(1, 14)):
        made = [rng.choice(_DIRT) if rng.random() < dirt else _cell(rng, head, row) for head in columns]
        if rng.random() < 0.1 and {"N", "E"} <= set(columns):
            north, east = columns.index("N"), columns.index("E")
            made[north], made[east] = made[east], made[north]
        rows.append(made + [""] * rng.choice((0, 0, 0, 2)))
        if rng.random() < 0.08:
            rows.append(rng.choice(([], list(heads), ["", "", "SUBTOTAL"], [rng.choice(_DIRT)])))
    return rows


def _as_text(rng: random.Random, rows: Rows) -> bytes:
    delimiter = rng.choice((",", ",", ",", ";", "\t", "|", " "))
    quoted = rng.random() < 0.8
    lines = []
    for row in rows:
        cells = [str(cell) for cell in row]
        if quoted:
            cells = [
                '"' + cell.replace('"', '""') + '"' if delimiter in cell or '"' in cell else cell
                for cell in cells
            ]
        lines.append(delimiter.join(cells) + rng.choice(("", "", "", delimiter, " ; note")))
    text = rng.choice(("\n", "\r\n", "\r")).join(lines)
    encoding = rng.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16", "cp1252"))
    data = text.encode(encoding, errors="replace")
    if rng.random() < 0.05 and data:
        place = rng.randrange(len(data))
        data = data[:place] + bytes(rng.randrange(256) for _ in range(4)) + data[place + 2 :]
    return data


def _as_workbook(rng: random.Random, rows: Rows) -> bytes:
    stream = BytesIO()
    options = {"in_memory": True, "default_date_format": "d-mmm", "nan_inf_to_errors": True}
    with xlsxwriter.Workbook(stream, options) as book:
        page = book.add_worksheet("Sheet1")
        struck = book.add_format({"font_strikeout": True})
        for number, row in enumerate(rows):
            look = struck if rng.random() < 0.05 else None
            for column, cell in enumerate(row):
                if isinstance(cell, str) and cell.startswith("="):
                    page.write_string(number, column, cell, look)
                elif isinstance(cell, datetime):
                    page.write_datetime(number, column, cell)
                else:
                    page.write(number, column, cell, look)
            if rng.random() < 0.05:
                page.set_row(number, None, None, {"hidden": True})
        if rng.random() < 0.2:
            page.autofilter(0, 0, len(rows), 5)
    data = stream.getvalue()
    if rng.random() < 0.1:
        place = rng.randrange(len(data))
        data = data[:place] + bytes([rng.randrange(256)]) + data[place + 1 :]
    return data


def dirty_file(seed: int) -> tuple[str, bytes, str]:
    """Return the suffix, the bytes and the kind of the dirty file of a seed; the same for the same seed."""
    rng = random.Random(seed)
    kind = rng.choice((*_HEADS, "structures", "structures", "shots", "shots", "shots", "poles", "centreline"))
    rows = _rows(rng, kind)
    if rng.random() < 0.12:
        return ".xlsx", _as_workbook(rng, rows), kind
    return rng.choice((".csv", ".txt")), _as_text(rng, rows), kind
