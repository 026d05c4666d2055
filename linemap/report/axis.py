"""What charts of progress share: the paper they are drawn on, axes of dates and numbers, and text.

Colours are ``currentColor`` and classes, so the page or the sheet that shows a chart decides them; standing
alone it is black on nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from html import escape
from math import ceil, log10

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
