import io
import re
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from linemap.report.page_files import icon_png, join_modules, page_script, style_sheet


def test_each_module_once_and_after_what_it_needs() -> None:
    sources = {
        "map/app.js": 'import { one } from "./a.js";\nimport * as all from "../b.js";\n\none(all.two);\n',
        "map/a.js": '// x\nimport { two as deux } from "../b.js";\nconst one = deux;\n\nexport { one };\n',
        "b.js": "const two = 2;\nasync function three() {}\nclass Four {}\n\nexport { two, three, Four };\n",
        "unused.js": "const five = 5;\n\nexport { five };\n",
    }
    text = join_modules(sources, entry="map/app.js")
    assert re.findall(r"^const (\S+) = \(\(\)", text, re.MULTILINE) == ["b", "map$a", "map$app"]
    assert "const { two: deux } = b;" in text
    assert "const all = b;" in text
    assert "return { two, three, Four };" in text
    assert not re.search(r"^(import|export)\b", text, re.MULTILINE)


def test_what_stands_between_imports_and_exports_is_not_touched() -> None:
    body = 'const text = `\nimport { no } from "./no.js";\nexport const no = 1;\n`;'
    text = join_modules(
        {"a.js": f'import {{ b }} from "./b.js";\n{body}\n', "b.js": "export { b };"}, entry="a.js"
    )
    assert body in text


@pytest.mark.parametrize(
    ("sources", "message"),
    [
        ({"a.js": 'import { x } from "./b.js";\n'}, "b.js, needed by a.js, is missing"),
        (
            {"a.js": 'import { x } from "./b.js";\n', "b.js": 'import { y } from "./a.js";\n'},
            "circle: a.js > b.js > a.js",
        ),
        ({"a.js": 'import x from "./b.js";\n'}, 'a.js has import x from "./b.js";'),
        ({"a.js": "import {\n  x,\n} from './b.js';\n"}, "a.js has import {"),
        ({"a.js": 'import { x } from "b.js";\n'}, 'a.js has import { x } from "b.js"'),
    ],
)
def test_other_forms_are_refused(sources: dict[str, str], message: str) -> None:
    with pytest.raises(ValueError, match=re.escape(message)):
        join_modules(sources, entry="a.js")


def test_the_pages_own_modules_join() -> None:
    text = page_script()
    names = re.findall(r"^const (\S+) = \(\(\) => \{$", text, re.MULTILINE)
    assert names[-1] == "map$app"
    assert len(names) == len(set(names)) > 20
    for name in ("import ", "export "):
        assert not [line for line in text.splitlines() if line.startswith(name)]


CSS = Path(str(files("linemap") / "web" / "static" / "css"))
SHEETS = sorted(path.name for path in CSS.glob("*.css"))


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_asks_for_no_other(name: str) -> None:
    text = style_sheet(name)
    assert "@import" not in text
    assert "url(" not in text
    assert text.count("{") == text.count("}") > 0


def test_each_part_is_imported_once_by_a_sheet() -> None:
    imported = {
        name: re.findall(r'^@import "(.+)";$', (CSS / name).read_text("utf-8"), re.MULTILINE)
        for name in SHEETS
    }
    for name, parts in imported.items():
        assert len(parts) == len({*parts}), name
    colours = {f"colours/{name}.css" for name in ("day", "field", "night", "sign_in")}
    there = {path.relative_to(CSS).as_posix() for path in CSS.glob("*/*.css")}
    assert {part for parts in imported.values() for part in parts} == there | colours


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


@pytest.mark.parametrize("size", [192, 512])
def test_sign_shows_two_poles_and_an_arm(size: int) -> None:
    """Light strokes on a dark ground."""
    light = np.asarray(Image.open(io.BytesIO(icon_png(size))).convert("RGB")).mean(axis=2) > 128
    assert light.shape == (size, size)
    low = light[int(0.75 * size)]
    assert int(np.count_nonzero(np.diff(low.astype(int)) == 1)) == 2
    assert light[int(0.32 * size), int(0.5 * size)]
    assert (light == light[:, ::-1]).mean() > 0.99
    margin = int(0.1 * size)
    assert not light[:margin].any()
    assert not light[:, :margin].any()
