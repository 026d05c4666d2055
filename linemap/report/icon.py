"""The application's sign, an H-frame seen along the line, as PNG bytes of any size."""

from __future__ import annotations

import io

from PIL import Image, ImageDraw

from linemap.report.palette import OFFICE

_GROUND, _INK = OFFICE["bar"].day, OFFICE["bar-ink"].day
#: Strokes of the frame, ends and width, as shares of the side: two poles, one arm, two braces.
_STROKES = (
    ((0.335, 0.20), (0.335, 0.82), 0.07),
    ((0.665, 0.20), (0.665, 0.82), 0.07),
    ((0.17, 0.32), (0.83, 0.32), 0.06),
    ((0.335, 0.40), (0.665, 0.66), 0.036),
    ((0.665, 0.40), (0.335, 0.66), 0.036),
)


def icon_png(size: int) -> bytes:
    r"""Return the sign as a square PNG, `size` pixels a side; what matters lies in the middle 80 %.

    >>> icon_png(64)[:8]
    b'\x89PNG\r\n\x1a\n'
    """
    image = Image.new("RGB", (size, size), _GROUND)
    draw = ImageDraw.Draw(image)
    for start, end, width in _STROKES:
        places = [(x * size, y * size) for x, y in (start, end)]
        draw.line(places, fill=_INK, width=round(width * size))
    into = io.BytesIO()
    image.save(into, "PNG", optimize=True)
    return into.getvalue()
