"""Charts of progress as SVG text: planned against actual, and work over time and distance.

Series differ by stroke and mark as well as by class, so that a photocopy tells them apart. Every chart has a
table beside it on the page; a chart of nothing is "" and the page says why.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from linemap.domain.forecast import DateRange
from linemap.domain.hold import Hold
from linemap.domain.plan import CurvePoint
from linemap.domain.progress import Site, Unit
from linemap.report.axis import Drawing, Frame, month_starts, round_step, short_day

__all__ = ["CurveEnd", "curve_svg", "time_distance_svg"]

_SIX = timedelta(days=6)


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveEnd:
    """What the forecast says of the end, for the curve."""

    #: Structures that are done within `range`.
    bulk: int
    range: DateRange
    #: Structures that come after all others, and the first day they may.
    late: int = 0
    not_before: date | None = None


def curve_svg(
    points: Sequence[CurvePoint],
    *,
    words: str,
    total: int,
    as_of: date,
    width: float = 860.0,
    end: CurveEnd | None = None,
) -> str:
    """Draw planned and actual counts week by week, and the range of the end.

    Parameters
    ----------
    points : sequence of CurvePoint
        As `linemap.domain.plan.curve` gives them; "" comes back for none.
    words : str
        The step, "set".
    total : int
        Structures that need it.
    as_of : date
        Day of the report.
    width : float
        Pixels.
    end : CurveEnd, optional
        None = no forecast is to be had.
    """
    if not points:
        return ""
    height = 340.0 if width > 500 else 300.0
    drawing = Drawing(width, height, f"{words}: planned and actual, cumulative by week")
    last = max([points[-1].week + _SIX, as_of, *_end_days(end)])
    frame = Frame(
        left=40.0,
        right=width - 14.0,
        top=34.0,
        bottom=height - 30.0,
        x_ends=((points[0].week - timedelta(days=1)).toordinal(), last.toordinal()),
        y_ends=(0.0, float(max(total, *(point.planned or 0 for point in points), 1))),
    )
    _count_axis(drawing, frame)
    _date_axis(drawing, frame, points[0].week, last)
    _today(drawing, frame, as_of)
    planned = [(point, point.planned) for point in points if point.planned is not None]
    actual = [(point, point.actual) for point in points if point.actual is not None]
    _series(drawing, frame, planned, "planned", as_of)
    _series(drawing, frame, actual, "actual", as_of)
    _direct_label(drawing, frame, planned, "planned", as_of)
    _direct_label(drawing, frame, actual, "actual", as_of)
    if end is not None:
        _draw_end(drawing, frame, end)
    return drawing.svg()


def _end_days(end: CurveEnd | None) -> list[date]:
    if end is None:
        return []
    return [end.range.late, *([end.not_before] if end.not_before else [])]


def _count_axis(drawing: Drawing, frame: Frame) -> None:
    top = frame.y_ends[1]
    step = round_step(top, most=6)
    value = 0.0
    while value <= top:
        drawing.line(frame.left, frame.y(value), frame.right, frame.y(value), "grid")
        drawing.text(frame.left - 6, frame.y(value) + 4, f"{value:g}", "tick", anchor="end")
        value += step


def _date_axis(drawing: Drawing, frame: Frame, first: date, last: date) -> None:
    drawing.line(frame.left, frame.bottom, frame.right, frame.bottom, "axis")
    for day in month_starts(first, last, most=max(int((frame.right - frame.left) / 70), 2)):
        x = frame.x(day.toordinal())
        drawing.line(x, frame.bottom, x, frame.bottom + 5, "axis")
        anchor = "end" if x > frame.right - 24 else "middle"
        drawing.text(x, frame.bottom + 19, short_day(day), "tick", anchor=anchor)


def _today(drawing: Drawing, frame: Frame, as_of: date) -> None:
    x = frame.x(as_of.toordinal())
    drawing.line(x, frame.top, x, frame.bottom, "today")
    right = x > (frame.left + frame.right) / 2
    drawing.text(
        x + (-5 if right else 5),
        frame.bottom - 6,
        f"as of {short_day(as_of)}",
        "tick",
        anchor="end" if right else "start",
    )


def _at(frame: Frame, point: CurvePoint, value: int, as_of: date, kind: str) -> tuple[float, float]:
    day = point.week + _SIX
    return frame.x((min(day, as_of) if kind == "actual" else day).toordinal()), frame.y(value)


def _series(
    drawing: Drawing, frame: Frame, found: Sequence[tuple[CurvePoint, int]], kind: str, as_of: date
) -> None:
    places = [_at(frame, point, value, as_of, kind) for point, value in found]
    drawing.path(places, f"series {kind}")
    for x, y in places if kind == "actual" else ():
        drawing.shape(f"M{x - 3.5:.1f} {y:.1f}a3.5 3.5 0 1 0 7 0a3.5 3.5 0 1 0 -7 0Z", "mark actual")


def _direct_label(
    drawing: Drawing, frame: Frame, found: Sequence[tuple[CurvePoint, int]], kind: str, as_of: date
) -> None:
    """Write the number of the day of the report beside each series: it needs no legend then."""
    now = [(point, value) for point, value in found if point.week <= as_of]
    if not now:
        return
    x, y = _at(frame, *now[-1], as_of, kind)
    words = f"{kind} {now[-1][1]}"
    left = kind == "planned" and x > 120
    drawing.text(
        x - 8 if left else x + 9, y - 7 if left else y + 13, words, f"name {kind}",
        anchor="end" if left else "start",
    )  # fmt: skip


def _draw_end(drawing: Drawing, frame: Frame, end: CurveEnd) -> None:
    y = frame.y(end.bulk)
    early, middle, late = (
        frame.x(day.toordinal()) for day in (end.range.early, end.range.middle, end.range.late)
    )
    drawing.line(early, y, late, y, "range")
    for x in (early, late):
        drawing.line(x, y - 5, x, y + 5, "range")
    drawing.shape(f"M{middle:.1f} {y - 6:.1f}l5 6l-5 6l-5 -6Z", "mark forecast")
    words = f"{end.bulk} by {short_day(end.range.early)} to {short_day(end.range.late)}"
    anchor = "end" if late > frame.right - 60 else "middle"
    drawing.text(late if anchor == "end" else middle, frame.top - 18, words, "name forecast", anchor=anchor)
    if end.not_before is not None:
        x = frame.x(end.not_before.toordinal())
        drawing.line(x, frame.top - 4, x, frame.top + 26, "late")
        drawing.text(
            x, frame.top + 40, f"last {end.late}: from {short_day(end.not_before)}", "name", anchor="end"
        )


#: Marks of the steps in the chart of time and distance: path data around a point, by step.
_MARKS = {
    "dug": "m-3.5 0h7",
    "framed": "m-3 3l3 -6l3 6Z",
    "set": "m-3 -3h6v6h-6Z",
}


def time_distance_svg(
    sites: Sequence[Site],
    done: Iterable[Unit],
    holds: Iterable[tuple[Hold, Sequence[Site]]],
    *,
    as_of: date,
    per_mile: float,
    mile_word: str,
    width: float = 860.0,
) -> str:
    """Draw where on the line each structure was dug, framed and set, and when; holds as blocks.

    A crew that leaps ahead shows as a stroke of its own, a structure passed by as a gap.

    Parameters
    ----------
    sites : sequence of Site
        Of one line; "" comes back when nothing is done on it.
    done : iterable of Unit
        Units of any step; those without a mark of their own are left out.
    holds : iterable of (Hold, sites)
        Holds to be drawn and the structures each is on.
    as_of : date
        Day of the report.
    per_mile : float
        Ground units in one mile or kilometre.
    mile_word : str
        "mile" or "kilometre".
    width : float
        Pixels.
    """
    at = {site.key: site.distance / per_mile for site in sites}
    drawn = [unit for unit in done if unit.step in _MARKS and (unit.line, unit.structure) in at]
    if not drawn:
        return ""
    blocks = [(hold, [at[site.key] for site in on if site.key in at]) for hold, on in holds]
    first = min(unit.day for unit in drawn)
    last = max([as_of, *(hold.to_date for hold, on in blocks if hold.to_date and on)])
    height = 420.0
    drawing = Drawing(width, height, f"where and when structures were dug, framed and set, by {mile_word}")
    frame = Frame(
        left=56.0,
        right=width - 14.0,
        top=34.0,
        bottom=height - 34.0,
        x_ends=(0.0, max(*at.values(), 0.1)),
        # time runs down the paper: the first day is at the top
        y_ends=(float(last.toordinal()), float(first.toordinal())),
    )
    _distance_axis(drawing, frame, mile_word)
    _time_axis(drawing, frame, first, last, as_of)
    for hold, on in blocks:
        _hold_block(drawing, frame, hold, on, first=first, last=last)
    for unit in drawn:
        x, y = frame.x(at[unit.line, unit.structure]), frame.y(unit.day.toordinal())
        drawing.shape(f"M{x:.1f} {y:.1f}{_MARKS[unit.step]}", f"mark step-{unit.step}")
    _legend(drawing, frame)
    return drawing.svg()


def _distance_axis(drawing: Drawing, frame: Frame, mile_word: str) -> None:
    top = frame.x_ends[1]
    step = round_step(top, most=max(int((frame.right - frame.left) / 42), 2))
    value = 0.0
    while value <= top:
        x = frame.x(value)
        drawing.line(x, frame.top, x, frame.bottom, "grid")
        drawing.text(x, frame.bottom + 15, f"{value:g}", "tick", anchor="middle")
        value += step
    middle = (frame.left + frame.right) / 2
    drawing.text(middle, frame.bottom + 30, f"{mile_word} from the back end", "tick", anchor="middle")


def _time_axis(drawing: Drawing, frame: Frame, first: date, last: date, as_of: date) -> None:
    drawing.line(frame.left, frame.top, frame.left, frame.bottom, "axis")
    today = frame.y(as_of.toordinal())
    for day in month_starts(first, last, most=8):
        y = frame.y(day.toordinal())
        drawing.line(frame.left - 5, y, frame.left, y, "axis")
        if abs(y - today) > 12:
            drawing.text(frame.left - 8, y + 4, short_day(day), "tick", anchor="end")
    drawing.line(frame.left, today, frame.right, today, "today")
    drawing.text(frame.left - 8, today + 4, short_day(as_of), "tick strong", anchor="end")


def _hold_block(
    drawing: Drawing, frame: Frame, hold: Hold, on: Sequence[float], *, first: date, last: date
) -> None:
    begins, ends = max(hold.from_date or first, first), min(hold.to_date or last, last)
    if not on or ends < begins:
        return
    left, right = frame.x(min(on)) - 5, frame.x(max(on)) + 5
    top, bottom = frame.y(begins.toordinal()), frame.y(ends.toordinal())
    drawing.box(
        left, top, right - left, max(bottom - top, 3.0), "hold conditional" if hold.conditional else "hold"
    )
    drawing.text(right + 3 if right < frame.right - 40 else left - 3, bottom - 3, hold.id, "tick hold-name",
                 anchor="start" if right < frame.right - 40 else "end")  # fmt: skip


def _legend(drawing: Drawing, frame: Frame) -> None:
    x = frame.left
    for step, mark in _MARKS.items():
        drawing.shape(f"M{x + 4:.1f} {frame.top - 16:.1f}{mark}", f"mark step-{step}")
        drawing.text(x + 13, frame.top - 12, step)
        x += 66
    drawing.box(x, frame.top - 22, 14, 12, "hold")
    drawing.text(x + 19, frame.top - 12, "hold")
