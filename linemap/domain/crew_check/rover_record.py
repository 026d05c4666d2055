"""A check by rover on record: self-contained, so that the job judges the same positions by its own rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from linemap.domain.crew_check.frame import FrameDesign
from linemap.domain.crew_check.frame_record import FrameRecord, number, read_frame
from linemap.domain.crew_check.rover import RoverResult, judge_rover
from linemap.domain.crew_check.rover_fix import Centre, Face, RoverFix, RoverRule

_MOST_FIXES = 60
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
class RoverRecord(FrameRecord):
    """Where a crew stood with a rover around one frame, lengths in `unit`."""

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
        frame, fixes = read_frame(content, least_stakes=1), content.get("fixes")
        if not isinstance(fixes, Sequence) or not 0 < len(fixes) <= _MOST_FIXES:
            raise ValueError(f"a check by rover has fixes, 1 to {_MOST_FIXES}")
        centre = content.get("centre")
        if not isinstance(centre, Mapping):
            raise ValueError(
                "a check by rover says where its axes lie: centre with longitude, latitude, azimuth_deg"
            )
        taken = tuple(_fix(each, frame["poles"], frame["stakes"]) for each in fixes)
        return cls(
            **frame,
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
        self.hold_against(design)
        return judge_rover(
            design,
            RoverRule.of(self.unit),
            centre=self.centre,
            stakes=self.stakes,
            radii=self.radii,
            fixes=self.fixes,
        )


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
