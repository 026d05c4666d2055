"""Lengths and directions on every basis, each named, on the invented line."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from linemap.service.view.basis import ahead_lengths_text, arm_magnetic_text
from linemap.service.view.view import JobView


def test_three_lengths_of_one_span_are_named_and_differ(demo_view: JobView) -> None:
    # 1,073.00 ft on the ground; grid = ground x 0.999217; the ellipsoid lies between them
    assert ahead_lengths_text(demo_view, demo_view.row("", "1/1")) == (
        "grid 1,072.16 ft, ground 1,073.00 ft, geodesic 1,072.80 ft"
    )
    assert ahead_lengths_text(demo_view, demo_view.row("", "23/2")) == ""


def test_a_compass_azimuth_carries_its_day_and_uncertainty(demo_view: JobView) -> None:
    told = arm_magnetic_text(demo_view, demo_view.row("", "1/1"))
    assert told.endswith("magnetic (WMM2025, 2026-05-15)")
    assert "±" in told
    assert arm_magnetic_text(replace(demo_view, as_of=dt.date(2041, 1, 1)), 0) == ""
