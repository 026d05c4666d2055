"""The shell of the map page: a folium map that obeys a strict content security policy.

Stock folium writes its script and style into the page and fetches its parts from other hosts. Here the
script is a file of its own, identifiers do not change from run to run, and every address is the server's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote

import folium
from branca.element import Element, Figure
from folium.template import Template

__all__ = ["MODULES", "MapPage", "map_page"]

MODULES = (
    "api",
    "filter",
    "geo",
    "grid",
    "html",
    "icons",
    "layer",
    "legend",
    "link",
    "list",
    "locate",
    "marks",
    "page",
    "paint_context",
    "paint_line",
    "paint_place",
    "paint_poles",
    "paint_structures",
    "panel",
    "search",
    "station",
    "structures",
    "theme",
)
"""Modules that ``map.js`` imports; the page asks for all of them at once instead of one after the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MapPage:
    """The two texts a server sends for the map page."""

    #: The page, without any inline script or style.
    html: str
    #: Body of ``/map.js``: makes the Leaflet map that the page's modules draw on.
    script: str


class _StrictFigure(Figure):
    """A figure with nothing inline. Its template alone holds text that people gave.

    folium compiles what its elements render as a template once more, so a title must never pass through one.
    """

    _template = Template("""\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>{{ this.title|e }}</title>
{{ this.header.render() }}
</head>
<body data-view="list">
<a class="skip" href="#list">Skip to the structure list</a>
<header class="bar">
<h1 id="title">{{ this.title|e }}</h1>
<p id="facts"></p>
<div class="tools">
<button type="button" id="theme" aria-pressed="false">Dark</button>
<button type="button" id="print">Print</button>
</div>
</header>
<p id="message" class="message" role="alert" hidden></p>
{{ this.html.render() }}
<noscript><p class="message">The map needs JavaScript. The printed sheets do not.</p></noscript>
</body>
</html>
""")

    def __init__(self, title: str) -> None:
        super().__init__(title=title)
        self.header = Element()
        self.header._parent = self


class _StrictMap(folium.Map):
    """A folium map whose parts all come from the server that sends the page."""

    _template = Template("""
{% macro header(this, kwargs) %}<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<link rel="icon" href="data:,">
<link rel="stylesheet" href="/vendor/leaflet/leaflet.css?v={{ this.version }}">
<link rel="stylesheet" href="/static/css/map.css?v={{ this.version }}">
<link rel="stylesheet" href="/static/css/panel.css?v={{ this.version }}">
<link rel="stylesheet" href="/static/css/print.css?v={{ this.version }}" media="print">
{%- for name in this.answers %}
<link rel="preload" as="fetch" crossorigin href="/api/{{ name }}">
{%- endfor %}
<script defer src="/vendor/leaflet/leaflet.js?v={{ this.version }}"></script>
<script defer src="/map.js?v={{ this.version }}"></script>
<script type="module" src="/static/js/map.js?v={{ this.version }}"></script>
{%- for name in this.modules %}
<link rel="modulepreload" href="/static/js/{{ name }}.js">
{%- endfor %}{% endmacro %}
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
<details class="legend"><summary>Signs</summary><div id="legend"></div></details>
</section>
<section id="panel" aria-label="Structure" hidden></section>
</main>{% endmacro %}
{% macro script(this, kwargs) %}
(() => {
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
})();
{% endmacro %}
""")

    def __init__(
        self, *, figure: Figure, centre: tuple[float, float], bounds: list[list[float]], version: str
    ) -> None:
        super().__init__(centre, tiles=None, zoom_control=False, zoom_snap=0.25, wheel_px_per_zoom_level=90)
        self.default_js, self.default_css = [], []
        self._name, self._id = (
            "line",
            "map",
        )  # folium's own are random: the page would never be the same twice
        self.first_bounds = bounds
        self.version = version
        self.modules = MODULES
        self.answers = ("job", "structures", "centreline")
        figure.add_child(self)


def map_page(
    title: str, *, centre: tuple[float, float], bounds: Sequence[tuple[float, float]], asset_version: str
) -> MapPage:
    """Make the page and the script of the map of one job.

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

    Returns
    -------
    MapPage
        ``html`` for the page, ``script`` for ``/map.js``. The page fetches ``/static``, ``/vendor/leaflet``
        and ``/api`` of the server that sent it and nothing else.
    """
    figure = _StrictFigure(title)
    corners = [[float(lat), float(lon)] for lon, lat in bounds]
    _StrictMap(
        figure=figure, centre=(centre[1], centre[0]), bounds=corners, version=quote(asset_version, safe="")
    )
    html = figure.render()
    return MapPage(html=html, script=figure.script.render())
