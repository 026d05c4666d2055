"""Charts of progress: what is drawn, in the order of time and distance, and nothing for nothing."""

from __future__ import annotations

import datetime as dt
import re
import xml.etree.ElementTree as ET
from itertools import pairwise

from linemap.domain.crew.hold import Hold
from linemap.domain.schedule.forecast import DateRange
from linemap.domain.schedule.plan import CurvePoint
from linemap.domain.schedule.progress import MileRow, Site, Unit
from linemap.report.along import SIGNS, Cell, strip_svg, time_distance_svg
from linemap.report.charts import CurveEnd, curve_svg, month_starts, round_step

SVG = "{http://www.w3.org/2000/svg}"
TODAY = dt.date(2026, 5, 15)
POINTS = [
    CurvePoint(week=dt.date(2026, 5, 4), planned=59, actual=51),
    CurvePoint(week=dt.date(2026, 5, 11), planned=68, actual=59),
    CurvePoint(week=dt.date(2026, 5, 18), planned=77, actual=None),
]
SITES = [Site(line="North", number=f"1/{k}", distance=1000.0 * k, mile=1) for k in range(8)]


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in parsed(svg).iter(f"{SVG}text")]


def drawn(svg: str, kind: str) -> list[ET.Element]:
    return [element for element in parsed(svg).iter() if kind in (element.get("class") or "").split()]


def points_of(element: ET.Element) -> list[tuple[float, float]]:
    numbers = [float(text) for text in re.findall(r"-?\d+\.?\d*", element.get("d") or "")]
    return list(zip(numbers[::2], numbers[1::2], strict=False))


def test_curve_has_both_series_and_their_numbers_of_the_day() -> None:
    svg = curve_svg(POINTS, words="set", total=121, as_of=TODAY)
    assert {"planned 68", "actual 59", "as of 15 May"} <= set(texts(svg))
    planned, actual = drawn(svg, "series")
    assert len(points_of(planned)) == 3
    assert len(points_of(actual)) == 2, "a week to come has no actual"
    heights = [y for _, y in points_of(planned)]
    assert heights == sorted(heights, reverse=True), "more is higher"
    assert points_of(actual)[-1][1] > points_of(planned)[1][1], "59 lies below 68"


def test_curve_shows_the_range_of_the_end_and_who_comes_later() -> None:
    end = CurveEnd(
        bulk=120,
        range=DateRange(early=dt.date(2026, 6, 24), middle=dt.date(2026, 7, 2), late=dt.date(2026, 7, 20)),
        late=1,
        not_before=dt.date(2026, 8, 17),
    )
    svg = curve_svg(POINTS, words="set", total=121, as_of=TODAY, end=end)
    assert {"120 by 24 Jun to 20 Jul", "last 1: not before 17 Aug"} <= set(texts(svg))
    assert drawn(svg, "range")
    assert drawn(svg, "late")


def test_charts_of_nothing_are_nothing() -> None:
    assert curve_svg([], words="set", total=0, as_of=TODAY) == ""
    assert strip_svg([], {}, words="progress") == ""
    assert time_distance_svg(SITES, [], [], as_of=TODAY, per_mile=5280.0, mile_word="mile") == ""
    unit = Unit(line="North", structure="1/1", step="staked", day=TODAY, crew="Lark")
    assert time_distance_svg(SITES, [unit], [], as_of=TODAY, per_mile=5280.0, mile_word="mile") == ""


def test_one_structure_and_one_week_are_drawn() -> None:
    one = [CurvePoint(week=dt.date(2026, 5, 11), planned=None, actual=1)]
    assert "actual 1" in texts(curve_svg(one, words="set", total=1, as_of=TODAY, width=350.0))
    site = Site(line="North", number="1/1", distance=0.0, mile=1)
    unit = Unit(line="North", structure="1/1", step="set", day=TODAY, crew="Otter")
    svg = time_distance_svg([site], [unit], [], as_of=TODAY, per_mile=5280.0, mile_word="mile")
    assert len(drawn(svg, "step-set")) == 2, "the mark, and its twin in the legend"


def test_leapfrog_stands_apart_and_holds_are_blocks() -> None:
    done = [
        Unit(line="North", structure=f"1/{k}", step="set", day=dt.date(2026, 5, 4 + k), crew="Otter")
        for k in (0, 1, 2, 7)
    ]
    hold = Hold(id="HL-1", from_date=dt.date(2026, 5, 1), to_date=dt.date(2026, 5, 31))
    svg = time_distance_svg(SITES, done, [(hold, SITES[3:5])], as_of=TODAY, per_mile=5280.0, mile_word="mile")
    places = [points_of(mark)[0] for mark in drawn(svg, "step-set")]
    marks = sorted(place for place in places if place[1] > 30.0)
    assert len(marks) == 4, "and one in the legend"
    gaps = [ahead[0] - back[0] for back, ahead in pairwise(marks)]
    assert gaps[2] > 4 * max(gaps[:2])
    assert [y for _, y in marks] == sorted(y for _, y in marks), "time runs down"
    block = next(box for box in drawn(svg, "hold") if float(box.get("height") or 0) > 20)
    left, right = float(block.get("x") or 0), float(block.get("x") or 0) + float(block.get("width") or 0)
    assert marks[2][0] < left < right < marks[3][0]
    assert "HL-1" in texts(svg)


def test_names_of_neighbouring_holds_do_not_lie_on_each_other() -> None:
    unit = Unit(line="North", structure="1/0", step="set", day=dt.date(2026, 5, 4), crew="Otter")
    holds = [(Hold(id=f"H-{k}", to_date=dt.date(2026, 5, 31)), SITES[3:4]) for k in range(3)]
    svg = time_distance_svg(SITES, [unit], holds, as_of=TODAY, per_mile=5280.0, mile_word="mile")
    places = [(text.get("x"), text.get("y")) for text in drawn(svg, "hold-name")]
    assert len(places) == len(set(places)) == 3


def test_the_name_of_a_hold_stands_outside_the_boxes_of_others() -> None:
    unit = Unit(line="North", structure="1/0", step="set", day=dt.date(2026, 5, 4), crew="Otter")
    holds = [(Hold(id=f"H-{k}", to_date=dt.date(2026, 5, 31)), SITES[k : k + 1]) for k in (3, 4)]
    svg = time_distance_svg(SITES, [unit], holds, as_of=TODAY, per_mile=5280.0, mile_word="mile", width=350.0)
    boxes = [box for box in drawn(svg, "hold") if float(box.get("height") or 0) > 20]
    assert len(boxes) == 2
    for text in drawn(svg, "hold-name"):
        x, y = float(text.get("x") or 0), float(text.get("y") or 0)
        x -= 38.0 if text.get("text-anchor") == "end" else 0.0
        for box in boxes:
            left, top = float(box.get("x") or 0), float(box.get("y") or 0)
            across = x < left + float(box.get("width") or 0) and left < x + 38.0
            assert not (across and top < y < top + float(box.get("height") or 0))


def test_strip_has_a_sign_a_structure_and_names_its_holes() -> None:
    row = MileRow(
        line="North",
        mile=7,
        structures=("7/1", "7/2", "7/3"),
        done=("7/1", "7/3"),
        holes=("7/2",),
        span_done=0.0,
        span_all=0.0,
    )
    cells = {
        ("North", "7/1"): Cell(number="7/1", stage="set"),
        ("North", "7/2"): Cell(number="7/2", stage="staked", held=True),
        ("North", "7/3"): Cell(number="7/3", stage="inspected"),
    }
    svg = strip_svg([row], cells, words="progress by mile")
    assert "2 of 3 set: 7/2" in texts(svg)
    assert len(drawn(svg, "sign")) == 3 + len(SIGNS)
    assert len(drawn(svg, "hole")) == 2, "the hole, and its twin in the legend"
    assert len(drawn(svg, "held")) == 2


def test_signs_differ_by_shape_so_that_a_photocopy_is_readable() -> None:
    assert len({(sign.path(0.0, 0.0), sign.filled) for sign in SIGNS.values()}) == len(SIGNS)


def test_columns_of_the_strip_hold_all_miles() -> None:
    rows = [
        MileRow(line="North", mile=k, structures=(f"{k}/1",), done=(), holes=(), span_done=0.0, span_all=0.0)
        for k in range(1, 24)
    ]
    for columns in (1, 2):
        svg = strip_svg(rows, {}, words="progress", columns=columns)
        assert sum(text == "0 of 1 set" for text in texts(svg)) == 23
        _, _, width, height = map(float, (parsed(svg).get("viewBox") or "").split())
        assert all(0 <= float(t.get("x") or 0) <= width for t in parsed(svg).iter(f"{SVG}text"))
        assert all(0 <= float(t.get("y") or 0) <= height for t in parsed(svg).iter(f"{SVG}text"))


def test_hostile_names_stay_text() -> None:
    svg = curve_svg(POINTS, words='<script>"&', total=121, as_of=TODAY)
    assert parsed(svg).find(f"{SVG}script") is None
    assert "<script>" in "".join(parsed(svg).itertext())


def test_nothing_inline_that_a_strict_policy_forbids() -> None:
    svg = curve_svg(POINTS, words="set", total=121, as_of=TODAY)
    assert " style=" not in svg
    assert " on" not in " ".join(f" {name}" for element in parsed(svg).iter() for name in element.attrib)


def test_axes_are_round() -> None:
    assert [round_step(length, most=6) for length in (1, 7, 121, 10_000)] == [1.0, 2.0, 50.0, 2000.0]
    assert month_starts(dt.date(2026, 3, 1), dt.date(2026, 4, 30)) == [
        dt.date(2026, 3, 1),
        dt.date(2026, 4, 1),
    ]
    assert len(month_starts(dt.date(2020, 1, 1), dt.date(2026, 1, 1), most=8)) <= 9
