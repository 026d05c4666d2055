"""What was planted in the as-set survey, structure by structure.

A fault says how the frame really stands (turned, moved, wrong spacing) or how it was shot and labelled.
`reads_rotation` and `reads_spacing` are the values the survey must show in spite of its noise.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["FAULTS", "Fault"]

#: Half the line angle of 5/5 (18°45'10" left): the frame stands square to the back tangent.
_HALF_ANGLE_5_5 = (18 + 45 / 60 + 10 / 3600) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One structure's planted state; the defaults are a structure without a fault."""

    #: Frame turned clockwise about its centre, degrees.
    rotation: float = 0.0
    #: Frame moved, ground feet: ahead and right, in the structure's frame.
    ahead: float = 0.0
    right: float = 0.0
    #: Change of the distance between neighbouring poles, ground feet.
    spacing: float = 0.0
    #: Labels of the outer poles exchanged.
    exchanged: bool = False
    #: Standard deviation of a shot on each axis, feet.
    sigma: float = 0.03
    #: Poles that were not shot.
    missing: str = ""
    #: Structure number written on the shots; "" = its own.
    label: str = ""
    #: A second shot of a pole: its letter, and how far it lies from the first (ahead, right), ground feet.
    again: tuple[str, float, float] | None = None
    #: Rotation (degrees, after exchanging labels back) or spacing (ground feet) the survey shows.
    reads_rotation: float | None = None
    reads_spacing: float | None = None


FAULTS: dict[str, Fault] = {
    "1/5": Fault(reads_rotation=0.3),
    "2/3": Fault(exchanged=True, reads_rotation=0.2),
    "2/5": Fault(label="2/4"),
    "3/3": Fault(again=("A", 0.04, 0.03)),
    "3/4": Fault(spacing=-0.5, reads_spacing=11.94),
    "3/5": Fault(again=("B", 6.2, 0.0)),
    "4/2": Fault(right=10.0),
    "5/5": Fault(rotation=_HALF_ANGLE_5_5, reads_rotation=9.2),
    "6/4": Fault(exchanged=True, reads_rotation=0.0),
    "8/1": Fault(rotation=1.1, sigma=0.10, reads_rotation=1.1),
    "8/2": Fault(rotation=4.2, reads_rotation=4.5),
    "8/4": Fault(missing="B"),
    "9/4": Fault(ahead=25.0),
    "10/2": Fault(spacing=-1.1, reads_spacing=11.4),
    "10/3": Fault(exchanged=True, reads_rotation=0.0),
    "10/4": Fault(exchanged=True, reads_rotation=0.0),
    "10/5": Fault(exchanged=True, reads_rotation=0.0),
    "11/1": Fault(exchanged=True, reads_rotation=0.0),
    "11/2": Fault(exchanged=True, reads_rotation=0.0),
    "11/3": Fault(exchanged=True, reads_rotation=0.0),
}
