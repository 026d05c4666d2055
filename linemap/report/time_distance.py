"""Work over time and distance as SVG text: where each structure was dug, framed and set, and when.

Steps differ by mark as well as by class, so that a photocopy tells them apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from linemap.domain.crew.hold import Hold
from linemap.domain.schedule.progress import Site, Unit
from linemap.report.axis import Drawing, Frame, month_starts, round_step, short_day

__all__ = ["time_distance_svg"]

#: How far past the day of the report the chart of time and distance looks.
_AHEAD = timedelta(weeks=5)
#: Pixels the name of a hold takes.
_NAME = 38.0
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
    # holds that run on for months are cut at the edge, or the work would be a thin band
    ends = [hold.to_date or as_of + _AHEAD for hold, on in blocks if on]
    last = max([as_of, *(min(end, as_of + _AHEAD) for end in ends)])
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
    _hold_blocks(drawing, frame, blocks, first=first, last=last)
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


def _hold_blocks(
    drawing: Drawing,
    frame: Frame,
    blocks: Sequence[tuple[Hold, Sequence[float]]],
    *,
    first: date,
    last: date,
) -> None:
    """Draw the holds in line order; names that would meet go up by a line."""
    taken: list[tuple[float, float]] = []
    for hold, on in sorted((block for block in blocks if block[1]), key=lambda block: min(block[1])):
        begins, ends = max(hold.from_date or first, first), min(hold.to_date or last, last)
        if ends < begins:
            continue
        left, right = frame.x(min(on)) - 4, frame.x(max(on)) + 4
        top, bottom = frame.y(begins.toordinal()), frame.y(ends.toordinal())
        kind = "hold conditional" if hold.conditional else "hold"
        drawing.box(left, top, right - left, max(bottom - top, 3.0), kind)
        x, y = right + 3, bottom - 3
        while any(abs(x - other) < _NAME and abs(y - line) < 12 for other, line in taken):
            y -= 13
        taken.append((x, y))
        inside = right < frame.right - _NAME
        drawing.text(
            x if inside else left - 3, y, hold.id, "tick hold-name", anchor="start" if inside else "end"
        )


def _legend(drawing: Drawing, frame: Frame) -> None:
    x = frame.left
    for step, mark in _MARKS.items():
        drawing.shape(f"M{x + 4:.1f} {frame.top - 16:.1f}{mark}", f"mark step-{step}")
        drawing.text(x + 13, frame.top - 12, step)
        x += 66
    drawing.box(x, frame.top - 22, 14, 12, "hold")
    drawing.text(x + 19, frame.top - 12, "hold")
