"""What the pages are made of: nothing offered that no page takes, no rule for an element that no page has."""

from __future__ import annotations

import re
from pathlib import Path

from linemap.web.page import STATIC

PACKAGE = STATIC.parents[1]
TESTS = Path(__file__).parents[1] / "browser"
#: Classes that a page puts together from a code (of a stage, a step, a verdict), and Leaflet's own.
MADE = ("leaflet-", "sign-", "stage-", "step-", "rank-", "of-", "crew-")


def scripts() -> dict[Path, str]:
    return {path: path.read_text(encoding="utf-8") for path in sorted(STATIC.rglob("*.js"))}


def imports(text: str) -> set[tuple[str, str]]:
    """Return (name of the file, name taken) of each import; ``import * as`` takes what is used of it."""
    taken = set()
    for names, address in re.findall(r'^import \{ (.*) \} from "(.*)";$', text, re.MULTILINE):
        taken |= {(Path(address).name, name.split(" as ")[0]) for name in names.split(", ")}
    for whole, address in re.findall(r'^import \* as (\w+) from "(.*)";$', text, re.MULTILINE):
        taken |= {(Path(address).name, name) for name in re.findall(rf"\b{whole}\.(\w+)", text)}
    return taken


def test_every_export_is_taken_by_a_page_or_a_browser_test() -> None:
    known = scripts()
    taken = set().union(*(imports(text) for text in known.values()))
    tested = "\n".join(path.read_text(encoding="utf-8") for path in TESTS.rglob("*.py"))
    exported = {
        (path, name)
        for path, text in known.items()
        for names in re.findall(r"^export \{ (.*) \};$", text, re.MULTILINE)
        for name in names.split(", ")
    }
    assert len(exported) > 100
    idle = [
        f"{path.relative_to(STATIC)}: {name}"
        for path, name in sorted(exported)
        if (path.name, name) not in taken and not re.search(rf"\b{name}\b", tested)
    ]
    assert idle == []


def test_every_class_of_the_style_sheets_is_on_a_page() -> None:
    makers = [*STATIC.rglob("*.js"), *PACKAGE.rglob("*.html"), *(PACKAGE / "report").rglob("*.py")]
    words = set(re.findall(r"[\w-]+", "\n".join(path.read_text(encoding="utf-8") for path in makers)))
    idle = []
    for sheet in sorted(STATIC.rglob("*.css")):
        rules = re.sub(r"/\*.*?\*/|\{[^{}]*\}", " ", sheet.read_text(encoding="utf-8"), flags=re.DOTALL)
        names = sorted(set(re.findall(r"\.([a-zA-Z][\w-]*)", rules)))
        idle += [f"{sheet.relative_to(STATIC)}: {one}" for one in names if one not in words]
    assert [one for one in idle if not one.split(": ")[1].startswith(MADE)] == []
