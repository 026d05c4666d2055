"""Every answer carries the guarding headers, and pages name no other address."""

from __future__ import annotations

import re

import pytest
from starlette.testclient import TestClient

from linemap.web.guard import content_policy


@pytest.mark.parametrize("path", ["/", "/map.js", "/api/job", "/health", "/nothing", "/static/js/map/app.js"])
def test_guarding_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    assert headers["content-security-policy"].startswith("default-src 'none'")
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


@pytest.mark.parametrize("path", ["/", "/map.js"])
def test_pages_name_no_other_address(client: TestClient, path: str) -> None:
    text = client.get(path).text
    other = set(re.findall(r"https?://[^\"'\s<>)]+", text)) - {"http://www.w3.org/2000/svg"}
    assert other == set()


def test_a_tile_source_is_allowed_for_images_only() -> None:
    policy = content_policy("https://tiles.invalid/{z}/{x}/{y}.png")
    images = next(part for part in policy.split(";") if "img-src" in part)
    assert images.split()[-1] == "https://tiles.invalid"
    assert policy.count("tiles.invalid") == 1
    assert content_policy("javascript:alert(1)") == content_policy("")
