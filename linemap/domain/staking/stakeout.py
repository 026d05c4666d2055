"""Stakes of every structure: centre, poles, offset stakes and anchors, each called by what it is.

A stake's description can never pass for the pole itself: "12/3 A" is the pole, "12/3 A HUB" the hub where it
belongs, "12/3 A OS25BK" the stake 25 back of it. Read back as shots, all of them are hubs.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count, islice
from typing import Literal

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import Pole
from linemap.domain.guying.anchor import RequiredAnchor
from linemap.errors import InputRefused, Problem
from linemap.geometry.bearing import at_distance

StakeKind = Literal["centre", "pole", "offset", "anchor"]

_PLAIN_NUMBER = re.compile(r"\d+(?:\.\d+)?[A-Z]{0,2}")
_UNPRINTABLE = re.compile(r"[^A-Z0-9/.\- ]+")


def _distances(text: str) -> tuple[float, ...]:
    return tuple(float(part) for part in text.replace(" ", "").split(",") if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class StakePlan:
    """Which stakes are set besides the centre and the poles. Distances in ground units, above 0."""

    #: Back and ahead of every pole, along the structure's own ahead direction.
    pole_along: tuple[float, ...] = (25.0,)
    #: Outside of the outer poles, along the arm.
    pole_arm: tuple[float, ...] = (25.0,)
    #: Back and ahead of the centre: at an angle along the tangents, back on the back one.
    centre_along: tuple[float, ...] = ()

    @classmethod
    def usual(cls, unit: str) -> StakePlan:
        """Return the plan of a job that declares none, "ft" or "m": 25 ft, or the same length in metres.

        >>> StakePlan.usual("m").pole_arm
        (7.62,)
        """
        return cls(pole_along=(7.62,), pole_arm=(7.62,)) if unit == "m" else cls()

    @classmethod
    def read(cls, along: str | None, arm: str | None, otherwise: StakePlan | None = None) -> StakePlan:
        """Read the distances of offset stakes along the line and beyond the arm: "10,25".

        What is None is as in `otherwise`.

        Raises
        ------
        InputRefused
            If one is no distance a stake can have.
        """
        try:
            usual = otherwise or cls()
            along_of, arm_of = (
                known
                if text is None
                else tuple(float(part) for part in text.replace(" ", "").split(",") if part)
                for text, known in ((along, usual.pole_along), (arm, usual.pole_arm))
            )
            return replace(usual, pole_along=along_of, pole_arm=arm_of)
        except ValueError as error:
            given = f"{along}; {arm}"
            raise InputRefused.at("--along, --arm", given, str(error), "write distances like 10,25") from None

    def __post_init__(self) -> None:
        for distances in (self.pole_along, self.pole_arm, self.centre_along):
            if len(set(distances)) < len(distances):
                raise ValueError(f"offsets {distances} name one distance twice; give each once")
            for distance in distances:
                if not (math.isfinite(distance) and distance > 0.0 and round(distance, 2) == distance):
                    raise ValueError(f"offset {distance} is not above 0 with at most two decimals")


@dataclass(frozen=True, slots=True, kw_only=True)
class StakePoint:
    """One stake."""

    #: Row of the structure in `Figures`.
    row: int
    line: str
    structure: str
    kind: StakeKind
    #: Pole it belongs to, "A" to "C"; "" = the centre or an anchor.
    pole: str
    #: Grid, CRS unit, not rounded.
    easting: float
    northing: float
    #: Ground elevation where it is known; None elsewhere.
    elevation: float | None
    #: What is written on the lath and in the point file.
    description: str


def stake_points(
    figures: Figures,
    plan: StakePlan,
    *,
    rows: Sequence[int] | None = None,
    anchors: Iterable[RequiredAnchor] = (),
    poles: Mapping[int, Sequence[Pole]] | None = None,
) -> tuple[StakePoint, ...]:
    """List the stakes of structures in line order: of each centre, poles, offset stakes, anchors.

    Parameters
    ----------
    rows : sequence of int, optional
        Rows of the structures to stake, in any order; all when not given.
    anchors : iterable of RequiredAnchor
        Anchors that get a hub, where they have a place.
    poles : mapping of int to sequence of Pole, optional
        Scheduled poles by row, for the ground at each. A structure without a pole spacing gets no pole hubs.

    Raises
    ------
    InputRefused
        If two structures of different lines would give stakes of one description: their points could not be
        told apart on the ground.
    """
    chosen = range(len(figures)) if rows is None else sorted(set(rows))
    by_row: dict[int, list[RequiredAnchor]] = {}
    for anchor in anchors:
        by_row.setdefault(anchor.row, []).append(anchor)
    scheduled = poles or {}
    points = tuple(
        point
        for row in chosen
        for point in stakes_of_row(figures, row, plan, by_row.get(row, ()), scheduled.get(row, ()))
    )
    _refuse_same_descriptions(points)
    return points


def stakes_of_row(
    figures: Figures,
    row: int,
    plan: StakePlan,
    anchors: Sequence[RequiredAnchor] = (),
    poles: Sequence[Pole] = (),
) -> Iterator[StakePoint]:
    """Give the stakes of one structure; see `stake_points`. The centre alone where its PI is in question."""
    maker = _Maker(figures=figures, row=row, head=_head(figures.structures.number[row]))
    yield maker.centre()
    if figures.pi_in_question[row]:
        return
    ground = {pole.letter: pole.ground_elevation for pole in poles}
    letters = maker.letters()
    for letter in letters:
        yield maker.pole(letter, ground.get(letter))
    for distance in plan.centre_along:
        yield maker.offset("", distance, "BK", float(figures.azimuth_back_deg[row]) + 180.0)
        yield maker.offset("", distance, "AH", float(figures.azimuth_ahead_deg[row]))
    for letter in letters:
        for distance in plan.pole_along:
            yield maker.offset(letter, distance, "BK", maker.azimuth + 180.0)
            yield maker.offset(letter, distance, "AH", maker.azimuth)
    for letter, side, turn in maker.outer(letters):
        for distance in plan.pole_arm:
            yield maker.offset(letter, distance, side, maker.azimuth + turn)
    for anchor in anchors:
        if not math.isnan(anchor.position[0]):
            yield maker.anchor(anchor)


def point_numbers(size: int, *, first: int, taken: Collection[str]) -> list[str]:
    """Return that many point numbers from `first` on, leaving out those that are taken.

    >>> point_numbers(3, first=5001, taken={"5002"})
    ['5001', '5003', '5004']
    """
    used = {text.strip().lstrip("0") for text in taken}
    return list(islice((number for number in map(str, count(first)) if number not in used), size))


def _head(number: str) -> str:
    """Return the structure's part of a description; a plain sequence needs the word for a structure.

    >>> _head("12/3A"), _head("47"), _head("Bay 2")
    ('12/3A', 'STR 47', 'BAY 2')
    """
    plain = " ".join(_UNPRINTABLE.sub(" ", number.upper()).split())
    return f"STR {plain}" if _PLAIN_NUMBER.fullmatch(plain) else plain


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Maker:
    """Makes the stakes of one structure."""

    figures: Figures
    row: int
    head: str

    @property
    def azimuth(self) -> float:
        return float(self.figures.structure_azimuth_deg[self.row])

    def letters(self) -> str:
        """Return the poles that have a place."""
        letters = self.figures.letters_of(self.row)
        return "" if np.isnan(self.figures.poles[self.row, : len(letters)]).any() else letters

    def outer(self, letters: str) -> tuple[tuple[str, str, float], ...]:
        """Return the outer poles with their side and the turn from ahead to it."""
        if not letters:
            return ()
        left_to_right = self.figures.left_to_right(self.row)
        return (left_to_right[0], "L", -90.0), (left_to_right[-1], "R", 90.0)

    def centre(self) -> StakePoint:
        elevation = float(self.figures.structures.elevation[self.row])
        ground = None if math.isnan(elevation) else elevation
        return self._point("centre", self._at(""), "CL HUB", elevation=ground)

    def pole(self, letter: str, ground: float | None) -> StakePoint:
        return self._point("pole", self._at(letter), f"{letter} HUB", pole=letter, elevation=ground)

    def offset(self, letter: str, distance: float, way: str, azimuth_deg: float) -> StakePoint:
        reach = distance * float(self.figures.combined_factor[self.row])
        at = at_distance(self._at(letter), azimuth_deg, reach)
        return self._point("offset", at, f"{letter or 'CL'} OS{distance:g}{way}", pole=letter)

    def anchor(self, anchor: RequiredAnchor) -> StakePoint:
        return self._point("anchor", anchor.position, f"ANC HUB {anchor.label}")

    def _at(self, letter: str) -> tuple[float, float]:
        return self.figures.pole_of(self.row, letter) if letter else self.figures.centre_of(self.row)

    def _point(
        self,
        kind: StakeKind,
        at: tuple[float, float],
        words: str,
        *,
        pole: str = "",
        elevation: float | None = None,
    ) -> StakePoint:
        return StakePoint(
            row=self.row,
            line=self.figures.line_of(self.row).name,
            structure=self.figures.structures.number[self.row],
            kind=kind,
            pole=pole,
            easting=at[0],
            northing=at[1],
            elevation=elevation,
            description=f"{self.head} {words}",
        )


def _refuse_same_descriptions(points: Iterable[StakePoint]) -> None:
    first: dict[str, StakePoint] = {}
    for point in points:
        earlier = first.setdefault(point.description, point)
        if earlier is not point:
            raise InputRefused(
                Problem(
                    file="",
                    column="structure",
                    value=point.description,
                    reason=f"stands for a stake of {earlier.line} {earlier.structure} and of {point.line} "
                    f"{point.structure}",
                    remedy="stake one line at a time",
                )
            )
