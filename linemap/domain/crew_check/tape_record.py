"""A tape check as it is recorded: self-contained, so that a job judges the same readings by its own rule."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from linemap.domain.crew_check.answer import TapeAnswer, judge
from linemap.domain.crew_check.frame import FrameDesign
from linemap.domain.crew_check.frame_record import FrameRecord, for_each_pole, read_frame
from linemap.domain.crew_check.pole_size import TapeErrors, level_distance
from linemap.domain.crew_check.tape import Reading, Stake, TapeSet

_MOST_READINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class TapedReading:
    """One reading as it was taped; the same distance may be taped several times."""

    #: A stake by its name or a pole by its letter, and the pole it ends at.
    between: Reading
    #: As read.
    value: float
    #: How much higher one end was held than the other; 0 = level.
    rise: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeRecord(FrameRecord):
    """What a crew taped at one frame, lengths in `unit`."""

    #: Whether the girth of each pole was taped, which tells its radius.
    girths: tuple[bool, ...]
    readings: tuple[TapedReading, ...]
    is_quick: bool

    @classmethod
    def read(cls, content: Mapping[str, Any]) -> TapeRecord:
        """Read the content of a record.

        `readings` are [from, to, value], and if it was not level [from, to, value, "near", rise].

        Raises
        ------
        ValueError
            If it is no check by tape, something is missing, no number, or names a stake it does not place.
        """
        frame, taped = read_frame(content, least_stakes=0), content.get("readings")
        poles = frame["poles"]
        if not isinstance(taped, Sequence) or not 0 < len(taped) <= _MOST_READINGS:
            raise ValueError(f"a tape check has readings, {_MOST_READINGS} at most")
        girths = content.get("girths") or [False] * len(poles)
        return cls(
            **frame,
            girths=tuple(bool(each) for each in for_each_pole(girths, len(poles), "girths")),
            readings=tuple(_reading(each, poles, frame["stakes"]) for each in taped),
            is_quick=content.get("set") == "quick",
        )

    def judge(self, design: FrameDesign) -> tuple[TapeAnswer, TapeSet]:
        """Judge it against a design, which has the same poles; return also the set it was taped in.

        Raises
        ------
        ValueError
            If the design has other poles or another unit.
        """
        self.hold_against(design)
        stakes = tuple(
            Stake(name=name, pole="", way="AH", distance=0.0, right=right, ahead=ahead)
            for name, (right, ahead) in self.stakes.items()
        )
        between = tuple(dict.fromkeys(one.between for one in self.readings))
        tape_set = TapeSet(design, stakes, between, TapeErrors.of(self.unit), self.girths)
        taped = [
            [level_distance(one.value, rise=one.rise) for one in self.readings if one.between == each]
            for each in between
        ]
        return judge(tape_set, taped, self.radii, quick=self.is_quick), tape_set


def _reading(given: object, poles: str, stakes: Mapping[str, tuple[float, float]]) -> TapedReading:
    if not isinstance(given, Sequence) or isinstance(given, str) or len(given) < 3:
        raise ValueError(f"{given!r} is no reading; give from, to and what was read")
    start, end = str(given[0]), str(given[1])
    if (
        (start not in stakes and start not in poles)
        or end not in poles
        or not start
        or not end
        or start == end
    ):
        raise ValueError(f"a reading from {start!r} to {end!r} names no stake and pole of the check")
    value = _number(given[2])
    rise = _number(given[4]) if len(given) > 4 else 0.0
    if not 0.0 < value < 1000.0 or abs(rise) >= value:
        raise ValueError(f"{value} from {start} to {end} with a rise of {rise} is no distance of a tape")
    return TapedReading(between=(start, end), value=value, rise=rise)


def _number(given: object) -> float:
    if not isinstance(given, int | float) or isinstance(given, bool) or not math.isfinite(given):
        raise ValueError(f"{given!r} is no number")
    return float(given)
