"""The files of a page: its modules and its style sheets, each put together to one in memory, and its sign.

The modules stay what they are, files without a build step that any page can import. One script instead of two
dozen saves the map as many requests, and lets a snapshot carry the same code in a single file, where modules
cannot import each other.

Where a line stands says what it is, so that no code has to be understood here: a module begins with comments
and one import a line, its last line may export names, and what lies between is never looked at.
"""

from __future__ import annotations

import io
import posixpath
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib.resources import files

from PIL import Image, ImageDraw

from linemap.report.palette import OFFICE, colour_sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class _Module:
    #: What is taken, as the left side of a constant, and the path of the module it is taken from.
    imports: list[tuple[str, str]]
    body: str
    #: The names exported, as an object has them.
    exports: str


def join_modules(sources: Mapping[str, str], *, entry: str) -> str:
    r"""Join modules into one script that runs `entry` last.

    Parameters
    ----------
    sources : mapping
        Path of a module to its text. Imports name modules by their paths as seen from the importing one.
    entry : str
        Path of the module that starts the page.

    Returns
    -------
    str
        Each module the entry needs, once, after the modules it needs itself, in a scope of its own.

    Raises
    ------
    ValueError
        If a module is missing, if modules need each other in a circle, or if an import is not written as
        ``import { a, b as c } from "./path.js";`` or ``import * as a from "./path.js";``.

    >>> b = "const b = 1;\n\nexport { b };"
    >>> a = 'import { b } from "./part/b.js";\n\nb();'
    >>> print(join_modules({"a.js": a, "part/b.js": b}, entry="a.js"))
    const part$b = (() => {
    const b = 1;
    return { b };
    })();
    const a = (() => {
    const { b } = part$b;
    b();
    return {  };
    })();
    """
    modules: dict[str, _Module] = {}
    waiting = [(entry, "the page")]
    while waiting:
        path, asked_by = waiting.pop()
        if path in modules:
            continue
        if path not in sources:
            raise ValueError(f"module {path}, needed by {asked_by}, is missing")
        modules[path] = _parted(path, sources[path])
        waiting += [(needed, path) for _, needed in modules[path].imports]
    graph = {path: [needed for _, needed in module.imports] for path, module in modules.items()}
    try:
        order = list(TopologicalSorter(graph).static_order())
    except CycleError as error:
        raise ValueError(f"modules need each other in a circle: {' > '.join(error.args[1])}") from error
    return "\n".join(_scoped(path, modules[path]) for path in order)


def _parted(path: str, text: str) -> _Module:
    """Part a module by where its lines stand: imports first, exports last."""
    lines = text.rstrip().splitlines()
    imports = []
    first = 0
    while first < len(lines) and (not lines[first] or lines[first].startswith(("import ", "//"))):
        if lines[first].startswith("import "):
            imports.append(_taken(path, lines[first]))
        first += 1
    exports = ""
    if lines[-1].startswith("export { ") and lines[-1].endswith(" };"):
        exports = lines.pop().removeprefix("export { ").removesuffix(" };")
    return _Module(imports=imports, body="\n".join(lines[first:]).rstrip(), exports=exports)


def _taken(path: str, line: str) -> tuple[str, str]:
    """Return what one import takes and the path it takes it from."""
    what, found, address = line.removeprefix("import ").removesuffix('";').partition(' from "')
    whole = what.startswith("* as ")
    if not (found and address.startswith(".") and (whole or what[:2] + what[-2:] == "{  }")):
        raise ValueError(f'{path} has {line}; write import {{ a, b as c }} from "./path.js"; on one line')
    needed = posixpath.normpath(posixpath.join(posixpath.dirname(path), address))
    return what.removeprefix("* as ") if whole else what.replace(" as ", ": "), needed


def _scoped(path: str, module: _Module) -> str:
    taken = "".join(f"const {what} = {_name(needed)};\n" for what, needed in module.imports)
    return f"const {_name(path)} = (() => {{\n{taken}{module.body}\nreturn {{ {module.exports} }};\n}})();"


def _name(path: str) -> str:
    return path.removesuffix(".js").replace("/", "$")


@cache
def page_script() -> str:
    """Return the script of the map page, read from the package once per process."""
    folder = files("linemap").joinpath("web", "static", "js")
    sources = {
        f"{part}/{item.name}": item.read_text(encoding="utf-8")
        for part in ("shared", "map")
        for item in folder.joinpath(part).iterdir()
    }
    return join_modules(sources, entry="map/app.js")


_IMPORT = re.compile(r'^@import "([\w/]+\.css)";$', re.MULTILINE)


def style_sheet(name: str) -> str:
    """Return a style sheet with the parts it imports put in their places, in its order.

    A page then waits for one answer, where a browser would first read the imports and ask again; and a
    snapshot, which may fetch nothing, holds all of them.

    Parameters
    ----------
    name : str
        File directly under ``web/static/css``. Parts lie in folders beside it and import nothing; those under
        ``colours`` are made of the palette.
    """
    folder = files("linemap").joinpath("web", "static", "css")

    def part(found: re.Match[str]) -> str:
        if found[1].startswith("colours/"):
            return colour_sheet(found[1].removeprefix("colours/").removesuffix(".css"))
        return folder.joinpath(found[1]).read_text(encoding="utf-8")

    return _IMPORT.sub(part, folder.joinpath(name).read_text(encoding="utf-8"))


_GROUND, _INK = OFFICE["bar"].day, OFFICE["bar-ink"].day
#: Strokes of the frame, ends and width, as shares of the side: two poles, one arm, two braces.
_STROKES = (
    ((0.335, 0.20), (0.335, 0.82), 0.07),
    ((0.665, 0.20), (0.665, 0.82), 0.07),
    ((0.17, 0.32), (0.83, 0.32), 0.06),
    ((0.335, 0.40), (0.665, 0.66), 0.036),
    ((0.665, 0.40), (0.335, 0.66), 0.036),
)


def icon_png(size: int) -> bytes:
    r"""Return the application's sign, an H-frame seen along the line, as a square PNG, `size` pixels a side.

    What matters lies in the middle 80 %.

    >>> icon_png(64)[:8]
    b'\x89PNG\r\n\x1a\n'
    """
    image = Image.new("RGB", (size, size), _GROUND)
    draw = ImageDraw.Draw(image)
    for start, end, width in _STROKES:
        places = [(x * size, y * size) for x, y in (start, end)]
        draw.line(places, fill=_INK, width=round(width * size))
    into = io.BytesIO()
    image.save(into, "PNG", optimize=True)
    return into.getvalue()
