"""The joined script against the browser's own modules: every module offers the same in both."""

from __future__ import annotations

from importlib.resources import files

import pytest
from playwright.sync_api import Browser

from linemap.report.page_files import join_modules

pytestmark = pytest.mark.browser

JS = files("linemap").joinpath("web", "static", "js")
PATHS = sorted(
    f"{part}/{item.name}"
    for part in ("shared", "map", "survey", "progress", "files", "sign_in", "field")
    for item in JS.joinpath(part).iterdir()
    if item.name not in ("app.js", "sw.js")
)


@pytest.fixture(scope="module")
def sources() -> dict[str, str]:
    return {path: JS.joinpath(path).read_text(encoding="utf-8") for path in PATHS}


def test_every_module_offers_the_same_joined_and_imported(
    browser: Browser, line_url: str, sources: dict[str, str]
) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{line_url}/static/js/shared/html.js")  # no page: nothing but the modules runs
    for path in PATHS:
        name = path.removesuffix(".js").replace("/", "$")
        joined = f"{join_modules(sources, entry=path)}\nreturn Object.keys({name}).sort();"
        imported = page.evaluate(
            "async (path) => Object.keys(await import(path)).sort()", f"/static/js/{path}"
        )
        assert imported == page.evaluate("text => new Function(text)()", joined), path
        assert imported, path
    context.close()
