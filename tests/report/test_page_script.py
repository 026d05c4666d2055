"""Joining modules into one script."""

from __future__ import annotations

import re

import pytest

from linemap.report.page_script import join_modules, page_script


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
