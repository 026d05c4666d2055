"""A check by rover on record: self-contained, so that the job judges the same positions by its own rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from linemap.domain.crew_check.frame import FrameDesign
from linemap.domain.crew_check.rover import RoverResult, judge_rover
from linemap.domain.crew_check.rover_fix import Centre, Face, RoverFix, RoverRule

_MOST_FIXES = 60
_MOST_STAKES = 40
_FACES: tuple[str, ...] = get_args(Face)
#: Number of a fix -> the least and the most it can be.
_NUMBERS = {
    "longitude": (-180.0, 180.0),
    "latitude": (-90.0, 90.0),
    "start": (0.0, 86_400.0),
    "seconds": (0.5, 3_600.0),
    "accuracy_m": (0.0, 100.0),
    "sigma_m": (0.0005, 100.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RoverRecord:
    """Where a crew stood with a rover around one frame, lengths in `unit`."""

    unit: str
    spacing: float
    #: The poles from left to right, looking ahead.
    poles: str
    #: Radius of each of them.
    radii: tuple[float, ...]
    #: Right and ahead of the design centre, by the name on the stake's lath.
    stakes: Mapping[str, tuple[float, float]]
    centre: Centre
    #: In the order in which they were taken.
    fixes: tuple[RoverFix, ...]

    @classmethod
    def read(cls, content: Mapping[str, Any]) -> RoverRecord:
        """Read the content of a record.

        Raises
        ------
        ValueError
            If it is no check by rover, something is missing, is no number or one that cannot be, or a fix is
            at no stake and pole of the check.
        """
        poles, unit = str(content.get("poles")), str(content.get("unit"))
        stakes, fixes = content.get("stakes"), content.get("fixes")
        if poles not in {"AB", "BA", "ABC", "CBA"} or unit not in {"ft", "m"}:
            raise ValueError(
                "a check by rover names its poles from left to right, AB to CBA, and its unit, ft or m"
            )
        if not isinstance(stakes, Mapping) or not 0 < len(stakes) <= _MOST_STAKES:
            raise ValueError(f"a check by rover places its stakes, 1 to {_MOST_STAKES}")
        if not isinstance(fixes, Sequence) or not 0 < len(fixes) <= _MOST_FIXES:
            raise ValueError(f"a check by rover has fixes, 1 to {_MOST_FIXES}")
        placed = {str(name): _pair(name, place) for name, place in stakes.items()}
        centre = content.get("centre")
        if not isinstance(centre, Mapping):
            raise ValueError(
                "a check by rover says where its axes lie: centre with longitude, latitude, azimuth_deg"
            )
        taken = tuple(_fix(each, poles, placed) for each in fixes)
        return cls(
            unit=unit,
            spacing=number(content, "spacing", 1.0, 300.0),
            poles=poles,
            radii=_radii(content.get("radii"), len(poles)),
            stakes=placed,
            centre=Centre(
                longitude=number(centre, "longitude", *_NUMBERS["longitude"]),
                latitude=number(centre, "latitude", *_NUMBERS["latitude"]),
                azimuth_deg=number(centre, "azimuth_deg", -360.0, 360.0),
            ),
            fixes=tuple(sorted(taken, key=lambda each: each.start)),
        )

    def judge(self, design: FrameDesign) -> RoverResult:
        """Judge it against a design.

        Raises
        ------
        ValueError
            If the design has other poles or another unit.
        """
        if (design.letters, design.unit) != (self.poles, self.unit):
            raise ValueError(
                f"poles {self.poles} in {self.unit} were checked, {design.letters} in {design.unit} belong"
            )
        return judge_rover(
            design,
            RoverRule.of(self.unit),
            centre=self.centre,
            stakes=self.stakes,
            radii=self.radii,
            fixes=self.fixes,
        )


def number(given: Mapping[str, Any], name: str, least: float, most: float) -> float:
    """Return a number of a content.

    Raises
    ------
    ValueError
        If there is none of that name, or it is none between the two.
    """
    value = given.get(name)
    if not isinstance(value, int | float) or isinstance(value, bool) or not least <= value <= most:
        raise ValueError(f"{name} {value!r} is no number between {least:g} and {most:g}")
    return float(value)


def _radii(given: object, count: int) -> tuple[float, ...]:
    if not isinstance(given, Sequence) or isinstance(given, str) or len(given) != count:
        raise ValueError(f"radii {given!r} is not one for each of {count} poles")
    return tuple(number({"radius": each}, "radius", 0.02, 3.0) for each in given)


def _pair(name: str, given: object) -> tuple[float, float]:
    if not isinstance(given, Sequence) or isinstance(given, str) or len(given) != 2:
        raise ValueError(f"stake {name} is placed by {given!r}; give how far right and ahead it stands")
    ways = {"right": given[0], "ahead": given[1]}
    return number(ways, "right", -1_000.0, 1_000.0), number(ways, "ahead", -1_000.0, 1_000.0)


def _fix(given: object, poles: str, stakes: Mapping[str, Any]) -> RoverFix:
    if not isinstance(given, Mapping):
        raise ValueError(f"{given!r} is no fix")
    at, face = str(given.get("at")), given.get("face", "")
    if not ((at in stakes and face == "") or (at in set(poles) and str(face) in _FACES)):
        raise ValueError(
            f"a fix at {at!r}, face {face!r}, names no stake, and no face of a pole of the check"
        )
    numbers = {name: number(given, name, *limits) for name, limits in _NUMBERS.items()}
    return RoverFix(at=at, face=face, epochs=int(number(given, "epochs", 1, 100_000)), **numbers)
