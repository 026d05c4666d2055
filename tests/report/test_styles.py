"""Style sheets: every part stands in exactly the sheets that import it, and nothing is left to fetch."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest

from linemap.report.styles import style_sheet

CSS = Path(str(files("linemap") / "web" / "static" / "css"))
SHEETS = sorted(path.name for path in CSS.glob("*.css"))


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_asks_for_no_other(name: str) -> None:
    text = style_sheet(name)
    assert "@import" not in text
    assert "url(" not in text
    assert text.count("{") == text.count("}") > 0


def test_each_part_is_imported_once() -> None:
    imported = [
        part
        for name in SHEETS
        for part in re.findall(r'^@import "(.+)";$', (CSS / name).read_text("utf-8"), re.MULTILINE)
    ]
    colours = [f"colours/{name}.css" for name in ("day", "field", "night", "sign_in")]
    parts = [path.relative_to(CSS).as_posix() for path in CSS.glob("*/*.css")]
    assert sorted(imported) == sorted([*parts, *colours])


def test_colours_have_one_home() -> None:
    package = Path(str(files("linemap")))
    written = [
        path.relative_to(package).as_posix()
        for ending in ("py", "js", "css", "html")
        for path in package.rglob(f"*.{ending}")
        if re.search(r"#(?:[0-9a-fA-F]{3}|[0-9a-fA-F]{6})\b(?!-)", path.read_text("utf-8"))
    ]
    assert written == ["report/palette.py"]


def test_a_colour_that_a_sheet_names_is_in_its_palette() -> None:
    for name in SHEETS:
        text = style_sheet(name if name in ("field.css", "sign_in.css") else "map.css") + style_sheet(name)
        named = set(re.findall(r"var\((--[\w-]+)\)", style_sheet(name)))
        assert named <= set(re.findall(r"(--[\w-]+):", text))


def test_parts_stand_whole_and_in_the_order_of_the_imports() -> None:
    parts = re.findall(r'"(field/.+)"', (CSS / "field.css").read_text("utf-8"))
    text = style_sheet("field.css")
    places = [text.index((CSS / part).read_text("utf-8")) for part in parts]
    assert places == sorted(places)
    assert len(set(places)) == len(parts) > 1


def test_only_sheets_on_the_first_level_hold_imports() -> None:
    assert not [path for path in CSS.glob("*/*.css") if "@import" in path.read_text("utf-8")]
