"""Joining modules into one script."""

from __future__ import annotations

import re

import pytest

from linemap.report.page_script import join_modules, page_script


def test_each_module_once_and_after_what_it_needs() -> None:
    sources = {
        "map": 'import { one } from "./a.js";\nimport * as all from "./b.js";\none(all.two);\n',
        "a": 'import { two as deux } from "./b.js";\nexport function one() { return deux; }\n',
        "b": "export const two = 2;\nexport async function three() {}\nexport class Four {}\n",
        "unused": "export const five = 5;\n",
    }
    text = join_modules(sources, entry="map")
    assert re.findall(r"^const \$(\w+)", text, re.MULTILINE) == ["b", "a", "map"]
    assert "const { two: deux } = $b;" in text
    assert "const all = $b;" in text
    assert "return { two, three, Four };" in text
    assert not re.search(r"^(import|export)\b", text, re.MULTILINE)


@pytest.mark.parametrize(
    ("sources", "message"),
    [
        ({"a": 'import { x } from "./b.js";\n'}, "'b', needed by a, is missing"),
        (
            {"a": 'import { x } from "./b.js";\n', "b": 'import { y } from "./a.js";\n'},
            "circle: a > b > a",
        ),
        ({"a": "export default 1;\n"}, "export default 1;"),
        ({"a": 'import x from "./b.js";\n'}, "import x from"),
    ],
)
def test_other_forms_are_refused(sources: dict[str, str], message: str) -> None:
    with pytest.raises(ValueError, match=re.escape(message)):
        join_modules(sources, entry="a")


def test_the_pages_own_modules_join() -> None:
    text = page_script()
    assert text == page_script()
    names = re.findall(r"^const \$(\w+) = ", text, re.MULTILINE)
    assert names[-1] == "app"
    assert len(names) == len(set(names)) > 20
