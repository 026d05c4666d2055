"""Charts of progress as SVG text: the paper and axes all share, and planned against actual week by week.

Colours are ``currentColor`` and classes, so the page or the sheet that shows a chart decides them; standing
alone it is black on nothing. Series differ by stroke and mark too, so that a photocopy tells them apart. The
page has a table beside it; a chart of nothing is "" and the page says why.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from html import escape
from math import ceil, log10

from linemap.domain.schedule.forecast import DateRange
from linemap.domain.schedule.plan import CurvePoint

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(slots=True)
class Drawing:
    """An SVG under way: pieces in the order they are painted."""

    width: float
    height: float
    title: str
    pieces: list[str] = field(default_factory=list)

    def line(self, x1: float, y1: float, x2: float, y2: float, kind: str) -> None:
        """Draw a straight line."""
        self.pieces.append(f'<path class="{kind}" d="M{_n(x1)} {_n(y1)}L{_n(x2)} {_n(y2)}"/>')

    def path(self, points: list[tuple[float, float]], kind: str) -> None:
        """Draw a line through points; one point or none draws nothing."""
        if len(points) > 1:
            data = "L".join(f"{_n(x)} {_n(y)}" for x, y in points)
            self.pieces.append(f'<path class="{kind}" d="M{data}"/>')

    def box(self, x: float, y: float, width: float, height: float, kind: str) -> None:
        """Draw a rectangle."""
        self.pieces.append(
            f'<rect class="{kind}" x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}"/>'
        )

    def shape(self, data: str, kind: str) -> None:
        """Draw a path given as path data."""
        self.pieces.append(f'<path class="{kind}" d="{data}"/>')

    def text(self, x: float, y: float, words: str, kind: str = "label", *, anchor: str = "start") -> None:
        """Write words, escaped; `anchor` is start, middle or end."""
        self.pieces.append(
            f'<text class="{kind}" x="{_n(x)}" y="{_n(y)}" text-anchor="{anchor}">{escape(words)}</text>'
        )

    def svg(self) -> str:
        """Return the whole drawing as SVG text."""
        body = "".join(self.pieces)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(self.width)} {_n(self.height)}" '
            f'role="img" class="chart" fill="none" stroke="currentColor" font-size="12">'
            f"<title>{escape(self.title)}</title>{body}</svg>"
        )


def _n(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The plot within a drawing: edges in pixels, and the ends of both axes."""

    left: float
    right: float
    top: float
    bottom: float
    x_ends: tuple[float, float]
    y_ends: tuple[float, float]

    def x(self, value: float) -> float:
        """Return the pixel of a value on the horizontal axis."""
        first, last = self.x_ends
        return self.left + (value - first) / ((last - first) or 1.0) * (self.right - self.left)

    def y(self, value: float) -> float:
        """Return the pixel of a value on the vertical axis: the first end at the bottom."""
        first, last = self.y_ends
        return self.bottom - (value - first) / ((last - first) or 1.0) * (self.bottom - self.top)


def round_step(length: float, *, most: int) -> float:
    """Return a round step that divides an axis into at most so many parts.

    >>> round_step(121, most=6), round_step(22.3, most=12), round_step(3, most=6)
    (50.0, 2.0, 1.0)
    """
    raw = max(length / most, 1.0)
    power = 10.0 ** int(log10(raw))
    return next((power * factor for factor in (1, 2, 5) if power * factor >= raw), power * 10)


def round_marks(length: float, *, most: int) -> list[float]:
    """Return the places of round steps along an axis from 0.

    >>> round_marks(121, most=6)
    [0.0, 50.0, 100.0]
    """
    step = round_step(length, most=most)
    return [step * place for place in range(int(length / step) + 1)]


def month_starts(first: date, last: date, *, most: int = 8) -> list[date]:
    """Return the first days of months between two days, some left out when there are many.

    >>> [day.month for day in month_starts(date(2026, 3, 9), date(2026, 7, 20))]
    [4, 5, 6, 7]
    """
    day = (first.replace(day=1) + timedelta(days=32)).replace(day=1) if first.day > 1 else first
    found = []
    while day <= last:
        found.append(day)
        day = (day + timedelta(days=32)).replace(day=1)
    return found[:: max(ceil(len(found) / most), 1)]


def short_day(day: date) -> str:
    """Print a day for a chart: "15 May".

    >>> short_day(date(2026, 5, 15))
    '15 May'
    """
    return f"{day.day} {_MONTHS[day.month - 1]}"


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
        As `linemap.domain.schedule.plan.curve` gives them; "" comes back for none.
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
    drawing = Drawing(width, height, f"structures {words}: planned and actual, cumulative by week")
    last = max([points[-1].week + _SIX, as_of, *_end_days(end)])
    frame = Frame(
        left=40.0,
        right=width - 14.0,
        top=54.0,
        bottom=height - 30.0,
        x_ends=((points[0].week - timedelta(days=1)).toordinal(), last.toordinal()),
        y_ends=(0.0, float(max(total, *(point.planned or 0 for point in points), 1))),
    )
    _count_axis(drawing, frame, f"structures {words}")
    _date_axis(drawing, frame, points[0].week, last)
    _today(drawing, frame, as_of)
    planned = [(point, point.planned) for point in points if point.planned is not None]
    actual = [(point, point.actual) for point in points if point.actual is not None]
    _series(drawing, frame, planned, "planned", as_of)
    _series(drawing, frame, actual, "actual", as_of)
    _direct_label(drawing, frame, planned, "planned", as_of)
    _direct_label(drawing, frame, actual, "actual", as_of)
    if end is not None:
        # below the name of the actual series, or above it where that lies low
        low = 0.2 if actual and actual[-1][1] > 0.35 * frame.y_ends[1] else 0.55
        _draw_end(drawing, frame, end, late_at=low)
    return drawing.svg()


def _end_days(end: CurveEnd | None) -> list[date]:
    if end is None:
        return []
    return [end.range.late, *([end.not_before] if end.not_before else [])]


def _count_axis(drawing: Drawing, frame: Frame, unit: str) -> None:
    drawing.text(4.0, 14.0, unit, "tick")
    for value in round_marks(frame.y_ends[1], most=6):
        drawing.line(frame.left, frame.y(value), frame.right, frame.y(value), "grid")
        drawing.text(frame.left - 6, frame.y(value) + 4, f"{value:g}", "tick", anchor="end")


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
    x, y = frame.x(as_of.toordinal()), frame.y(now[-1][1])
    words = f"{kind} {now[-1][1]}"
    left = kind == "planned" and x > 120
    drawing.text(
        x - 8 if left else x + 9, y - 7 if left else y + 13, words, f"name {kind}",
        anchor="end" if left else "start",
    )  # fmt: skip


def _draw_end(drawing: Drawing, frame: Frame, end: CurveEnd, *, late_at: float) -> None:
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
        x, low = frame.x(end.not_before.toordinal()), frame.bottom - late_at * (frame.bottom - frame.top)
        drawing.line(x, frame.top - 4, x, frame.bottom, "late")
        words = f"last {end.late}: not before {short_day(end.not_before)}"
        drawing.text(x - 6, low, words, "name forecast", anchor="end")
