"""The map in one file: what it holds, what it refuses, and what its policy allows."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from typing import Any

import pytest
from lxml import html
from read_answer import read_answer
from sample_line import Sample

from linemap.report.snapshot import SnapshotAnswers, SnapshotAssets, read_assets, snapshot_html

HOSTILE = "</script><img src=x onerror=alert(1)><!--\u2028"


def answers(name: str = "North Line") -> SnapshotAnswers:
    """The answers of a line of 25 structures, one of which bears a hostile name."""
    found = Sample(count=25, name=name, rename={3: HOSTILE}).answers()
    return replace(found, job=replace(found.job, tile_url="https://tiles.invalid/{z}", tile_attribution="x"))


def embedded(text: str) -> dict[str, Any]:
    (data,) = html.document_fromstring(text).xpath("//script[@type='application/json']/text()")
    loaded: dict[str, Any] = json.loads(data)
    return loaded


def test_data_comes_back_as_it_went_in() -> None:
    given = answers(HOSTILE)
    found = read_answer(SnapshotAnswers, embedded(snapshot_html(given, assets=read_assets())))
    assert found.details == given.details
    assert found.details[3].number == HOSTILE
    assert found.structures == given.structures
    assert found.job == replace(given.job, tile_url=None, tile_attribution=None)


def test_no_text_breaks_out_of_its_element() -> None:
    hostile = snapshot_html(answers(HOSTILE), assets=read_assets())
    assert "<img" not in hostile
    assert "\u2028" not in hostile.split("</title>")[1].split("<body")[0]
    tags = [element.tag for element in html.document_fromstring(hostile).iter()]
    calm = snapshot_html(answers(), assets=read_assets())
    assert tags == [element.tag for element in html.document_fromstring(calm).iter()]


def test_policy_names_exactly_what_is_inside() -> None:
    text = snapshot_html(answers(), assets=read_assets())
    policy = re.search(r'content-security-policy" content="([^"]+)"', text)
    assert policy
    assert policy[1].startswith("default-src 'none'; ")
    assert "unsafe" not in policy[1]
    assert "http" not in policy[1]
    inline = re.findall(
        r"<(?:style|script)(?: type=\"module\"| media=[^>]*| id=[^>]*media[^>]*)?>(.*?)</(?:style|script)>",
        text,
        re.DOTALL,
    )
    hashes = {f"'sha256-{base64.b64encode(hashlib.sha256(t.encode()).digest()).decode()}'" for t in inline}
    assert hashes == set(re.findall(r"'sha256-[^']+'", policy[1]))
    assert text.index("content-security-policy") < text.index("<style")


def test_no_address_outside_the_file() -> None:
    document = html.document_fromstring(snapshot_html(answers(), assets=read_assets()))
    assert document.xpath("//@src") == []
    assert document.xpath("//link/@href") == ["data:,"]


def test_a_number_that_is_not_finite_is_written_as_none() -> None:
    given = answers()
    given = replace(given, details=[replace(given.details[0], probability=float("nan"))])
    assert embedded(snapshot_html(given, assets=read_assets()))["details"][0]["probability"] is None


def test_an_asset_that_would_end_its_element_is_refused() -> None:
    assets = SnapshotAssets(leaflet_js='document.write("</SCRIPT>")', styles=())
    with pytest.raises(ValueError, match="would end its element"):
        snapshot_html(answers(), assets=assets)


def test_a_job_without_structures_still_opens_on_the_earth() -> None:
    given = answers()
    given = replace(given, structures=replace(given.structures, n=0, lon=[], lat=[]))
    assert "[[-60.0, -180.0], [60.0, 180.0]]" in snapshot_html(given, assets=read_assets())
