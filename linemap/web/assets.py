"""Where the page's own files and Leaflet's lie, and one fingerprint over them for cached addresses."""

from __future__ import annotations

import hashlib
from importlib.resources import files
from pathlib import Path

__all__ = ["LEAFLET", "STATIC", "asset_version"]

#: The page's modules and style sheets.
STATIC = Path(str(files("linemap.web") / "static"))
#: Leaflet as its package ships it.
LEAFLET = Path(str(files("js_lib_leaflet") / "static" / "js_lib_leaflet"))


def asset_version() -> str:
    """Return a short fingerprint of all files of the page; it changes when any of them does."""
    digest = hashlib.sha256()
    for path in sorted(path for path in STATIC.rglob("*") if path.is_file()):
        digest.update(path.relative_to(STATIC).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]
