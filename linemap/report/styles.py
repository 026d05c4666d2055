"""Style sheets of the pages: written in parts, one for each thing on a page, and sent as one text each."""

from __future__ import annotations

import re
from importlib.resources import files

from linemap.report.palette import colour_sheet

__all__ = ["style_sheet"]

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
