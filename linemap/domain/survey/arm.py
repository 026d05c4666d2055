"""A level arm on poles whose tops differ: how far below each top its bolt goes.

Common practice, no source: the tops follow from ground, length, depth and rake; the pole whose top, less the
smallest drop the drawing allows, is lowest limits the arm.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PoleTop:
    """What is known of one pole before it is marked. Lengths in one unit, along the pole unless said."""

    letter: str
    #: What the owner calls the pole; "" = by its letter.
    called: str = ""
    #: Ground elevation at the pole.
    ground: float
    #: Length from butt to top.
    length: float
    #: Depth in the ground, along the pole.
    depth: float
    #: Lean from the vertical in the plane of the frame; positive where the top leans in.
    rake_deg: float = 0.0

    def __post_init__(self) -> None:
        if not self.depth < self.length:
            raise ValueError(
                f"{self.words} of {self.length:g} cannot stand {self.depth:.2f} deep; "
                "check its length, the depth and the ground levels"
            )

    @property
    def words(self) -> str:
        """Name the pole: "pole A"."""
        return f"pole {self.called or self.letter}"

    @property
    def cosine(self) -> float:
        """Vertical height per length along the pole."""
        return math.cos(math.radians(self.rake_deg))

    @property
    def elevation(self) -> float:
        """Elevation of the top.

        >>> round(PoleTop(letter="A", ground=812.40, length=75.0, depth=9.5).elevation, 2)
        877.9
        """
        return self.ground + (self.length - self.depth) * self.cosine


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmLevel:
    """Where a level arm goes."""

    #: Elevation of the arm bolts.
    elevation: float
    #: Pole letter -> distance from its top to the arm bolt, along the pole.
    drops: Mapping[str, float]
    #: How far the arm stays below its design elevation; 0 where it reaches it.
    shortfall: float
    #: Letter of the pole that limits the arm.
    limited_by: str


def level_arm(tops: tuple[PoleTop, ...], *, design_elevation: float | None, minimum_drop: float) -> ArmLevel:
    """Level an arm on poles that stand as they stand.

    Parameters
    ----------
    tops : tuple of PoleTop
        At least one.
    design_elevation : float, optional
        Where the arm should be; None = as high as the poles let it.
    minimum_drop : float
        Smallest distance from a top to the arm bolt, along the pole.

    Raises
    ------
    ValueError
        If no pole is given.

    >>> grounds = {"A": 812.4, "B": 808.1}
    >>> poles = tuple(PoleTop(letter=p, ground=g, length=75.0, depth=9.5) for p, g in grounds.items())
    >>> arm = level_arm(poles, design_elevation=876.5, minimum_drop=1.0)
    >>> round(arm.elevation, 2), round(arm.shortfall, 2), arm.limited_by, round(arm.drops["A"], 2)
    (872.6, 3.9, 'B', 5.3)
    """
    if not tops:
        raise ValueError("an arm needs at least one pole; give the poles")
    highest = {top.letter: top.elevation - minimum_drop * top.cosine for top in tops}
    limit = min(highest, key=lambda letter: highest[letter])
    reach = highest[limit]
    elevation = reach if design_elevation is None else min(design_elevation, reach)
    return ArmLevel(
        elevation=elevation,
        drops={top.letter: (top.elevation - elevation) / top.cosine for top in tops},
        shortfall=0.0 if design_elevation is None else design_elevation - elevation,
        limited_by=limit,
    )
