"""The shell of the map page: nothing inline, nothing from elsewhere, the same every time."""

from __future__ import annotations

import re

import pytest
from lxml import html

from linemap.report.map_page import MapPage, map_page

HOSTILE = "</title><script>alert(1)</script>{{ 7*7 }}{% raw %}"


def page(title: str = "North Line") -> MapPage:
    return map_page(
        title, centre=(-108.2, 46.8), bounds=((-108.4, 46.7), (-108.0, 46.9)), asset_version="a1b2"
    )


def test_same_arguments_same_bytes() -> None:
    assert page() == page()


def test_every_address_is_the_servers_own() -> None:
    document = html.document_fromstring(page().html)
    addresses = [*document.xpath("//@src"), *document.xpath("//link/@href")]
    assert len(addresses) >= 10
    assert all(re.match(r"/(static|vendor/leaflet|api|map\.js)|data:,$|#", address) for address in addresses)
    assert all("v=a1b2" in address for address in addresses if re.search(r"\.(js|css)", address))


def test_nothing_is_inline() -> None:
    document = html.document_fromstring(page().html)
    assert document.xpath("//style | //@style | //script[not(@src)]") == []
    assert [name for name in document.xpath("//@*") if getattr(name, "attrname", "").startswith("on")] == []


def test_what_a_reader_needs_is_there() -> None:
    document = html.document_fromstring(page().html)
    assert document.get("lang") == "en"
    assert document.findtext(".//title") == "North Line"
    assert document.xpath("string(//h1)") == "North Line"
    assert len(document.xpath("//main")) == 1
    (viewport,) = document.xpath("//meta[@name='viewport']/@content")
    assert "user-scalable" not in viewport
    assert "maximum-scale" not in viewport


def test_title_is_text_whatever_it_holds() -> None:
    made = page(HOSTILE)
    document = html.document_fromstring(made.html)
    assert document.xpath("string(//h1)") == HOSTILE
    assert document.findtext(".//title") == HOSTILE
    assert len(document.xpath("//script")) == len(html.document_fromstring(page().html).xpath("//script"))
    assert made.script == page().script


def test_asset_version_cannot_leave_its_address() -> None:
    made = map_page("x", centre=(0, 0), bounds=((0, 0), (1, 1)), asset_version='"><script>')
    assert '"><script>' not in made.html


@pytest.mark.parametrize(
    "part", ['L.map("line_map"', "center: [46.8, -108.2]", "[[46.7, -108.4], [46.9, -108.0]]", "maxZoom: 22"]
)
def test_script_makes_the_map(part: str) -> None:
    assert part in page().script
