"""Weight spans of a job: the length of wire each structure carries, from low point to low point.

They take a catenary constant, which a person declares; without one there are none. Attachments are taken at
the arm bolts as framed, strings of one length; where no structure of the job has a known arm, at the ground
at the centres, which takes attachments of one height. The words say which.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from linemap.domain.design.catenary import NO_CATENARY
from linemap.domain.design.structure import FloatArray
from linemap.geometry.span import weight_spans
from linemap.service.view.marks import arm_elevation
from linemap.service.view.view import JobView

__all__ = ["weight_span_text", "weight_spans_of"]

_ARM = "arm bolts as framed, strings of one length"
_GROUND = "ground at the centres, attachments of one height taken"


def weight_spans_of(view: JobView) -> FloatArray | None:
    """Return the weight span of every structure, ground unit; nan = an attachment is not known.

    None when no catenary constant is declared.
    """
    if view.catenary is None:
        return None
    heights, _ = _attachments(view, range(len(view.figures)))
    return weight_spans(view.figures.back_span, view.figures.ahead_span, heights, view.catenary.constant)


def weight_span_text(view: JobView, row: int) -> str:
    """Print the weight span of one structure with what it stands on, or why there is none."""
    if view.catenary is None:
        return NO_CATENARY
    near = [other for step in (-1, 1) if (other := view.figures.neighbour(row, step)) is not None]
    rows = sorted([row, *near])
    heights, words = _attachments(view, rows)
    unknown = [view.key(each)[1] for each in rows if np.isnan(heights[each])]
    if unknown:
        return f"not available: no attachment elevation at {', '.join(unknown)}"
    spans = weight_spans(view.figures.back_span, view.figures.ahead_span, heights, view.catenary.constant)
    unit = view.figures.line_of(row).unit.symbol
    uplift = "; below 0: the wire pulls up" if spans[row] < 0.0 else ""
    return f"{spans[row]:,.2f} {unit} ({words}; {view.catenary.words(unit)}{uplift})"


def _attachments(view: JobView, rows: Iterable[int]) -> tuple[FloatArray, str]:
    """Return the attachment elevations of some rows, nan elsewhere, and what they are."""
    heights = np.full(len(view.figures), np.nan)
    for row in rows:
        heights[row] = arm_elevation(view, row)
    if not view.framing:
        return view.figures.structures.elevation, _GROUND
    return heights, _ARM
