"""The map as one file that a manager can mail: page, styles, scripts and data in a single HTML text.

It opens from a disk without any network. Its own content security policy names every script and style by
its hash and allows no connection, so text that came from files can neither run nor call out.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from itertools import accumulate

import orjson

from linemap.answers.line import Centrelines, FeatureCollection, Job, Structures
from linemap.answers.panel import Panel
from linemap.report.map_page import DARK_MEDIA, map_shell
from linemap.report.page_files import style_sheet

_DATA_ID = "linemap-answers"
_ESCAPED = "<>&\u2028\u2029"
_SOURCE_MAP = re.compile(r"^//# sourceMappingURL=.*$", re.MULTILINE)
_BREAKS_OUT = re.compile(r"</script|<!--|</style", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class SnapshotAnswers:
    """The answers of the server as their routes send them."""

    job: Job
    structures: Structures
    centreline: Centrelines
    context: FeatureCollection
    #: The panel of every single structure.
    details: Sequence[Panel]


@dataclass(frozen=True, slots=True, kw_only=True)
class SnapshotAssets:
    """Texts of the files a snapshot carries besides its data."""

    #: Leaflet, the classic script that defines ``L``.
    leaflet_js: str
    #: Style sheets in order, each with the media it is for ("" = all).
    styles: tuple[tuple[str, str], ...]


def read_assets() -> SnapshotAssets:
    """Read the assets from this package and from the package that ships Leaflet."""
    leaflet = files("js_lib_leaflet").joinpath("static", "js_lib_leaflet")
    own = (("map.css", ""), ("panel.css", ""), ("dark.css", DARK_MEDIA), ("print.css", "print"))
    return SnapshotAssets(
        leaflet_js=leaflet.joinpath("leaflet.js").read_text(encoding="utf-8"),
        styles=(
            (leaflet.joinpath("leaflet.css").read_text(encoding="utf-8"), ""),
            *((style_sheet(name), media) for name, media in own),
        ),
    )


def snapshot_html(answers: SnapshotAnswers, *, assets: SnapshotAssets) -> str:
    """Put a whole job into one HTML text: what the served page shows, as of the same data.

    A tile source is left out: the file asks for nothing outside itself. An asset that would end its own
    element raises ValueError.
    """
    bounds = _bounds(answers.structures)
    title = answers.job.name
    centre = ((bounds[0][0] + bounds[1][0]) / 2.0, (bounds[0][1] + bounds[1][1]) / 2.0)
    page = map_shell(title, centre=centre, bounds=bounds, head="")
    scripts = [_contained(assets.leaflet_js), _contained(page.script)]
    styles = [(_contained(text), media) for text, media in assets.styles]
    head = "\n".join(
        [
            *(_style(text, media) for text, media in styles),
            f'<script type="application/json" id="{_DATA_ID}">{_data(answers)}</script>',
            f"<script>{scripts[0]}</script>",
            f'<script type="module">{scripts[1]}</script>',
        ]
    )
    policy = _policy(scripts, [text for text, _ in styles])
    return map_shell(title, centre=centre, bounds=bounds, head=head, policy=policy).html


def _bounds(structures: Structures) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the south-west and north-east corner of all structures; the whole earth when there are none."""
    scale = structures.scale
    lon, lat = ([value / scale for value in accumulate(one)] for one in (structures.lon, structures.lat))
    if not lon:
        return (-180.0, -60.0), (180.0, 60.0)
    return (min(lon), min(lat)), (max(lon), max(lat))


def _data(answers: SnapshotAnswers) -> str:
    """Write the answers as JSON that cannot end or open an element: its signs are escaped, and line ends."""
    untiled = replace(answers.job, tile_url=None, tile_attribution=None)
    text = orjson.dumps(replace(answers, job=untiled)).decode()
    for sign in _ESCAPED:
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _contained(text: str) -> str:
    """Return an asset with line ends as an HTML parser reads them, without its source map."""
    plain = _SOURCE_MAP.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))
    found = _BREAKS_OUT.search(plain)
    if found:
        raise ValueError(f"an asset holds {found[0]!r}, which would end its element; write it in two pieces")
    return plain


def _style(text: str, media: str) -> str:
    if media == DARK_MEDIA:
        return f'<style id="dark" media="{media}">{text}</style>'
    return f'<style media="{media}">{text}</style>' if media else f"<style>{text}</style>"


def _policy(scripts: list[str], styles: list[str]) -> str:
    rules = (
        "default-src 'none'",
        f"script-src {' '.join(map(_hash, scripts))}",
        f"style-src {' '.join(map(_hash, styles))}",
        "img-src data: blob:",
        "base-uri 'none'",
        "form-action 'none'",
    )
    return f'<meta http-equiv="content-security-policy" content="{"; ".join(rules)}">\n'


def _hash(text: str) -> str:
    """Return the source expression of an inline text (Content Security Policy Level 3, 6.7.3)."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
