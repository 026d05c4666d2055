"""What every check of a frame records, by tape or by rover: its poles and stakes as the phone used them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypedDict

from linemap.domain.crew_check.frame import FrameDesign

_MOST_STAKES = 40


class FrameAsChecked(TypedDict):
    """The fields of a `FrameRecord`, as they are read."""

    unit: str
    spacing: float
    poles: str
    radii: tuple[float, ...]
    stakes: Mapping[str, tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameRecord:
    """The frame that a crew checked, lengths in `unit`."""

    unit: str
    spacing: float
    #: The poles from left to right, looking ahead.
    poles: str
    #: Radius of each of them.
    radii: tuple[float, ...]
    #: Right and ahead of the design centre, by the name on the stake's lath.
    stakes: Mapping[str, tuple[float, float]]

    def hold_against(self, design: FrameDesign) -> None:
        """Refuse a design that cannot be what was checked.

        Raises
        ------
        ValueError
            If the design has other poles or another unit.
        """
        if (design.letters, design.unit) != (self.poles, self.unit):
            raise ValueError(
                f"poles {self.poles} in {self.unit} were checked, {design.letters} in {design.unit} belong"
            )


def read_frame(content: Mapping[str, Any], *, least_stakes: int) -> FrameAsChecked:
    """Read what the content of a check says of its frame.

    Raises
    ------
    ValueError
        If something is missing, is no number or one that cannot be.
    """
    poles, stakes = content.get("poles"), content.get("stakes")
    if poles not in ("AB", "BA", "ABC", "CBA") or content.get("unit") not in ("ft", "m"):
        raise ValueError("a check names its poles from left to right, AB to CBA, and its unit, ft or m")
    if not isinstance(stakes, Mapping) or not least_stakes <= len(stakes) <= _MOST_STAKES:
        raise ValueError(f"a check places its stakes, {least_stakes} to {_MOST_STAKES}")
    radii = for_each_pole(content.get("radii"), len(poles), "radii")
    return FrameAsChecked(
        unit=str(content["unit"]),
        spacing=number(content, "spacing", 1.0, 300.0),
        poles=poles,
        radii=tuple(number({"radius": each}, "radius", 0.02, 3.0) for each in radii),
        stakes={str(name): _place(name, given) for name, given in stakes.items()},
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


def for_each_pole(given: object, count: int, name: str) -> Sequence[Any]:
    """Return what a content gives pole by pole.

    Raises
    ------
    ValueError
        If it is not one for each of them.
    """
    if not isinstance(given, Sequence) or isinstance(given, str) or len(given) != count:
        raise ValueError(f"{name} {given!r} is not one for each of {count} poles")
    return given


def _place(name: str, given: object) -> tuple[float, float]:
    if not isinstance(given, Sequence) or isinstance(given, str) or len(given) != 2:
        raise ValueError(f"stake {name} is placed by {given!r}; give how far right and ahead it stands")
    ways = {"right": given[0], "ahead": given[1]}
    return number(ways, "right", -1_000.0, 1_000.0), number(ways, "ahead", -1_000.0, 1_000.0)
