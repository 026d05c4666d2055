"""One pole as set, for paper and workbooks: design, observed, correction, corrected, difference, heights."""

from __future__ import annotations

import numpy as np

from linemap.domain.design.structure import FloatArray
from linemap.report.red_marks import MarkedPole
from linemap.service.view.view import JobView

#: What is less is printed as no correction, CRS unit.
_NOTHING = 5e-4


def marked_poles(
    view: JobView, row: int, difference: FloatArray, observed: FloatArray
) -> tuple[MarkedPole, ...]:
    """Return the poles of a structure.

    `difference` is as set minus design, ground unit, (3, 2): ahead, right; `observed` where each was
    observed, grid, (3, 2).
    """
    listed = {pole.letter: pole.ground_elevation for pole in view.poles_by_structure.get(view.key(row), ())}
    return tuple(
        _pole(view, row, pole, difference[pole], observed[pole], listed.get(letter))
        for pole, letter in enumerate(view.figures.letters_of(row))
    )


def _pole(
    view: JobView,
    row: int,
    pole: int,
    difference: FloatArray,
    observed: FloatArray,
    ground: float | None,
) -> MarkedPole:
    design, position = view.figures.poles[row, pole], view.set_poles.position[row, pole]
    used = bool(np.isfinite(position).all())
    decimals = decimals_of(view, row)
    correction = position - observed
    moved = bool((np.abs(correction) > _NOTHING).any())
    return MarkedPole(
        letter=view.figures.called(row)[view.figures.letters_of(row)[pole]],
        design_north=grid_text(design[1]),
        design_east=grid_text(design[0]),
        set_north=grid_text(position[1]),
        set_east=grid_text(position[0]),
        ahead=signed(difference[0], decimals),
        right=signed(difference[1], decimals),
        sigma=f"{view.set_poles.sigma[row, pole]:.3f}" if used else "",
        measured=_measured(int(view.set_poles.count[row, pole]), used=used),
        observed_north=grid_text(observed[1]),
        observed_east=grid_text(observed[0]),
        correction_north=signed(correction[1], 3) if moved else "",
        correction_east=signed(correction[0], 3) if moved else "",
        elevation=grid_text(float(view.set_poles.elevation[row, pole])),
        design_elevation="" if ground is None else grid_text(ground),
    )


def _measured(count: int, *, used: bool) -> str:
    if not count:
        return "not shot"
    shots = f"{count} shot{'s' * (count > 1)}"
    if not used:
        return f"{shots}, not used"
    return f"mean of {shots}" if count > 1 else shots


def decimals_of(view: JobView, row: int) -> int:
    """Return how many decimals lengths at a structure are told with."""
    return view.figures.line_of(row).station_decimals


def signed(value: float, decimals: int) -> str:
    """Print a difference with its sign; what rounds to nothing is +0.

    >>> signed(-0.001, 2), signed(0.128, 2), signed(float("nan"), 2)
    ('+0.00', '+0.13', '')
    """
    return "" if np.isnan(value) else f"{round(float(value), decimals) + 0.0:+.{decimals}f}"


def grid_text(value: float) -> str:
    """Print a coordinate or a height to three decimals; "" = none."""
    return "" if np.isnan(value) else f"{value:.3f}"
