"""The shell of the map page: a folium map that obeys a strict content security policy.

Stock folium writes its script and style into the page and fetches its parts from other hosts. Here the
script is a file of its own, identifiers do not change from run to run, and every address is the server's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote

import folium
from branca.element import Figure
from folium.template import Template

from linemap.answers.line import Waiting
from linemap.report.page_files import page_script

_HEAD = """\
<meta name="linemap-job" content="{job}">
<link rel="stylesheet" href="/vendor/leaflet/leaflet.css?v={v}">
<link rel="stylesheet" href="/static/css/map.css?v={v}">
<link rel="stylesheet" href="/static/css/panel.css?v={v}">
<link rel="stylesheet" href="/static/css/dark.css?v={v}" id="dark" media="{dark}">
<link rel="stylesheet" href="/static/css/print.css?v={v}" media="print">
<link rel="preload" as="fetch" crossorigin href="/api/job">
<link rel="preload" as="fetch" crossorigin href="/api/structures">
<link rel="preload" as="fetch" crossorigin href="/api/centreline">
<script defer src="/vendor/leaflet/leaflet.js?v={v}"></script>
<script type="module" src="/map.js?v={v}"></script>"""

DARK_MEDIA = "screen and (prefers-color-scheme: dark)"
"""When the dark colours are in force until the person chooses; the page's script knows the same words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPage:
    """The two texts of the map page."""

    #: The page, without any inline script or style unless the head brought some.
    html: str
    #: The page's script: makes the Leaflet map, then runs the page's modules on it.
    script: str


class _StrictFigure(Figure):
    """A figure with nothing inline of its own.

    Its template alone holds text that people gave: folium compiles what its elements render as a template
    once more, so neither a title nor a script that holds braces may pass through one.
    """

    _template = Template("""\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
{{ this.policy }}<title>{{ this.title|e }}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<link rel="icon" href="data:,">
{{ this.head }}
</head>
<body data-view="list">
<a class="skip" href="#list">Skip to the structure list</a>
<header class="bar">
<h1 id="title">{{ this.title|e }}</h1>
{% if this.ways %}<nav class="ways" aria-label="Pages of the job">
{% for path, words in this.ways %}
<a href="{{ path }}"{% if path == "/" %} aria-current="page"{% endif %}>{{ words }}</a>
{% endfor %}</nav>
{% endif %}<p id="facts"></p>
<div class="tools">
<button type="button" id="theme" aria-pressed="false">Dark</button>
<button type="button" id="print">Print</button>
</div>
</header>
{% if this.waits %}<section class="waits" aria-label="What is not loaded or declared yet">
{% for each in this.waits %}<p>{{ each.words|e }} <a href="{{ each.page }}">{{ each.link }}</a></p>
{% endfor %}</section>
{% endif %}<p id="message" class="message" role="alert" hidden></p>
{{ this.html.render() }}
<noscript><p class="message">The map needs JavaScript. The printed sheets do not.</p></noscript>
</body>
</html>
""")

    def __init__(
        self, title: str, *, head: str, policy: str, ways: Sequence[tuple[str, str]], waits: Sequence[Waiting]
    ) -> None:
        super().__init__(title=title)
        self.waits = waits
        self.ways = ways
        self.head = head
        self.policy = policy


class _StrictMap(folium.Map):
    """A folium map that brings no address, style or identifier of its own."""

    _template = Template("""
{% macro html(this, kwargs) %}<main>
<section id="listing" aria-label="Structure list">
<div id="search"></div>
<div id="list"></div>
</section>
<section id="chart" aria-label="Map, north up. The structure list holds the same structures.">
<div id="{{ this.get_name() }}" class="line-map"></div>
<div class="map-tools">
<button type="button" id="whole-line">Whole line</button>
<button type="button" id="exaggerate" aria-pressed="false">Residuals ×10</button>
</div>
<p class="north" aria-hidden="true"><span class="north-arrow"></span>true north up</p>
<p id="readout" class="readout" aria-hidden="true"></p>
<details class="legend"><summary>Legend</summary><div id="legend"></div></details>
</section>
<section id="panel" aria-label="Structure" hidden></section>
</main>{% endmacro %}
{% macro script(this, kwargs) %}
{
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const map = L.map({{ this.get_name()|tojson }}, {
    center: {{ this.location|tojson }},
    crs: L.CRS.{{ this.crs }},
    maxZoom: 22,
    zoomAnimation: !still,
    fadeAnimation: !still,
    inertia: !still,
    ...{{ this.options|tojavascript }}
  });
  map.attributionControl.setPrefix(false);
  map.fitBounds({{ this.first_bounds|tojson }}, {animate: false});
  L.control.zoom({position: "bottomright"}).addTo(map);
  L.control.scale({position: "bottomright", maxWidth: 160}).addTo(map);
  window.linemapShell = {map};
}
{% endmacro %}
""")

    def __init__(self, figure: Figure, *, centre: tuple[float, float], bounds: list[list[float]]) -> None:
        super().__init__(centre, tiles=None, zoom_control=False, zoom_snap=0.25, wheel_px_per_zoom_level=90)
        self.default_js, self.default_css = [], []
        self._name, self._id = "line", "map"  # folium's own are random: no page would be the same twice
        self.first_bounds = bounds
        figure.add_child(self)


def map_page(
    title: str,
    *,
    centre: tuple[float, float],
    bounds: Sequence[tuple[float, float]],
    asset_version: str,
    job: str = "",
    ways: Sequence[tuple[str, str]] = (),
    waits: Sequence[Waiting] = (),
) -> MapPage:
    """Make the page and the script of the map of one job, as a server sends them.

    The same arguments give the same text, byte for byte, so that a server can answer with an ETag.

    Parameters
    ----------
    title : str
        Name of the job; any text, escaped here.
    centre : tuple of float
        Longitude and latitude the map opens at, degrees (WGS 84).
    bounds : sequence of two tuples
        South-west and north-east corner, each longitude and latitude in degrees.
    asset_version : str
        Goes into the addresses of scripts and style sheets, so that a new version is fetched.
    job : str
        Identity of the job, which the page's questions to the server name; "" = they name none.
    ways : sequence of two texts
        Path and words of the job's pages that may be opened, this one included.
    waits : sequence of Waiting
        What is not loaded or declared yet; it stands on top of the page.

    The page fetches ``/static/css``, ``/map.js``, ``/vendor/leaflet`` and ``/api`` of the server that sent it
    and nothing else.
    """
    head = _HEAD.format(v=quote(asset_version, safe=""), dark=DARK_MEDIA, job=quote(job, safe=""))
    return map_shell(title, centre=centre, bounds=bounds, head=head, ways=ways, waits=waits)


def map_shell(
    title: str,
    *,
    centre: tuple[float, float],
    bounds: Sequence[tuple[float, float]],
    head: str,
    policy: str = "",
    ways: Sequence[tuple[str, str]] = (),
    waits: Sequence[Waiting] = (),
) -> MapPage:
    """Make the page around a head that brings styles and scripts; what is not said here is as in `map_page`.

    `policy` is markup that must stand before anything else, "" when the server sends it as a header; it and
    `head` are trusted. A page that stands alone has no `ways`.
    """
    figure = _StrictFigure(title, head=head, policy=policy, ways=ways, waits=waits)
    corners = [[float(lat), float(lon)] for lon, lat in bounds]
    _StrictMap(figure, centre=(centre[1], centre[0]), bounds=corners)
    html = figure.render()
    return MapPage(html=html, script=f"{figure.script.render().strip()}\n{page_script()}\n")
