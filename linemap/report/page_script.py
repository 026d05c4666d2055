"""The page's modules as one script, put together in memory.

The modules stay what they are, files without a build step. One script instead of two dozen saves the page
as many requests, and lets a snapshot carry the same code in a single file, where modules cannot import
each other. Only the forms of ``import`` and ``export`` that the page uses are understood; others are refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

__all__ = ["join_modules", "page_script"]

_IMPORT = re.compile(
    r'^import \{(?P<names>[^}]*)\} from "\.\.?/(?:\w+/)?(?P<named>\w+)\.js";\n'
    r'|^import \* as (?P<whole>\w+) from "\.\.?/(?:\w+/)?(?P<all>\w+)\.js";\n',
    re.MULTILINE,
)
_EXPORT = re.compile(r"^export (?P<kind>(?:async )?function|const|class) (?P<name>\w+)", re.MULTILINE)
_LEFT_OVER = re.compile(r"^(?:import|export)\b.*$", re.MULTILINE)


def join_modules(sources: Mapping[str, str], *, entry: str) -> str:
    r"""Join modules into one script that runs `entry` last.

    Parameters
    ----------
    sources : mapping
        Module name, without ``.js``, to its text.
    entry : str
        The module that starts the page.

    Returns
    -------
    str
        Each module the entry needs, once, after the modules it needs itself, in a scope of its own.

    Raises
    ------
    ValueError
        If a module is missing, if modules need each other in a circle, or if an import or export has a form
        this function does not know.

    >>> two = {"a": 'import { b } from "./b.js";\nb();', "b": "export const b = 1;"}
    >>> print(join_modules(two, entry="a"))
    const $b = (() => {
    const b = 1;
    return { b };
    })();
    const $a = (() => {
    const { b } = $b;
    b();
    return {  };
    })();
    """
    return "\n".join(_scoped(name, sources[name]) for name in _in_order(sources, entry))


def _in_order(sources: Mapping[str, str], entry: str) -> list[str]:
    """Return the modules needed, each after those it needs."""
    done: list[str] = []

    def visit(name: str, above: tuple[str, ...]) -> None:
        if name in above:
            raise ValueError(f"modules need each other in a circle: {' > '.join((*above, name))}")
        if name in done:
            return
        if name not in sources:
            raise ValueError(f"module {name!r}, needed by {above[-1] if above else 'the page'}, is missing")
        for match in _IMPORT.finditer(sources[name]):
            visit(match["named"] or match["all"], (*above, name))
        done.append(name)

    visit(entry, ())
    return done


def _scoped(name: str, source: str) -> str:
    exported = [match["name"] for match in _EXPORT.finditer(source)]
    body = _EXPORT.sub(r"\g<kind> \g<name>", _IMPORT.sub(_taken, source))
    left_over = _LEFT_OVER.search(body)
    if left_over:
        raise ValueError(
            f"module {name!r} has {left_over[0]!r}; use import {{ }} or * as, export at the name"
        )
    return f"const ${name} = (() => {{\n{body.rstrip()}\nreturn {{ {', '.join(exported)} }};\n}})();"


def _taken(match: re.Match[str]) -> str:
    """Turn one import into a constant."""
    if match["whole"]:
        return f"const {match['whole']} = ${match['all']};\n"
    names = re.sub(r"\s+", " ", match["names"]).strip().rstrip(",").replace(" as ", ": ")
    return f"const {{ {names} }} = ${match['named']};\n"


@cache
def page_script() -> str:
    """Return the script of the map page, read from the package once per process."""
    folder = files("linemap").joinpath("web", "static", "js")
    sources = {
        item.name.removesuffix(".js"): item.read_text(encoding="utf-8")
        for part in ("shared", "map")
        for item in folder.joinpath(part).iterdir()
    }
    return join_modules(sources, entry="app")
