"""What a phone takes along to check frames by tape: it solves and compares, its tolerances are the job's."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

#: Whether the poles' girths were taped, or their radii are those of a class table.
RadiusFrom = Literal["girth", "table"]


@dataclass(frozen=True, kw_only=True)
class TapeStake:
    """One offset stake in the frame's axes: right and ahead of the centre; `pole` "" = of the centre."""

    name: str
    pole: str
    way: Literal["BK", "AH", "L", "R"]
    distance: float
    right: float
    ahead: float


@dataclass(frozen=True, kw_only=True)
class TapeReadings:
    """One set of readings, by their positions in `TapePlan.readings`, with what it can tell.

    Each gate is one of `TapePlan.quantities`: [sigma, inside up to this size, outside beyond this size];
    a negative size passes nothing.
    """

    readings: Sequence[int]
    #: Readings beyond those that place the poles.
    spare: int
    gates: Mapping[RadiusFrom, Sequence[tuple[float, float, float]]]


@dataclass(frozen=True, kw_only=True)
class TapeGroup:
    """Which sets to tape when certain stakes stand, all by position; -1 = there is none.

    Without a quick set a crew begins with the full one; `more` is that and some readings more, for what it
    cannot tell.
    """

    stakes: Sequence[int]
    quick: int
    full: int
    more: int


@dataclass(frozen=True, kw_only=True)
class TapeErrors:
    """How good tape, stake, radius and face are, one sigma each, and the other numbers of the rule.

    `pole` holds what no reading holds; readings agree up to `agree`; parts of a move under `move` are not
    said; a rise between the ends matters from the root of `tape` times the distance, and sag of a slack heavy
    tape from a distance of `sag_from`.
    """

    tape: float
    stake: float
    face: float
    girth: float
    table: float
    pole: float
    agree: float
    move: float
    sag_from: float
    slips: Sequence[float]


@dataclass(frozen=True, kw_only=True)
class TapePlan:
    """How to check every frame of one shape, from whatever stakes stand: the first group whose stakes do.

    `poles` are the design places from left to right, [right, ahead]; readings go from a stake, by its name,
    or a pole, by its letter, to a pole. `per_quantity` has how far each pole coordinate goes with each
    quantity: with it and the gates of a full set a phone says how far off a reading is good, and from where
    it is wrong. `contradicts` and `explains` are chi-square limits by spare readings from 1 on.
    """

    letters: str
    spacing: float
    unit: str
    poles: Sequence[tuple[float, float]]
    quantities: Sequence[str]
    limits: Sequence[float]
    per_quantity: Sequence[Sequence[float]]
    stakes: Sequence[TapeStake]
    readings: Sequence[tuple[str, str]]
    sets: Sequence[TapeReadings]
    groups: Sequence[TapeGroup]
    errors: TapeErrors
    contradicts: Sequence[float]
    explains: Sequence[float]


@dataclass(frozen=True, kw_only=True)
class CardTape:
    """The tape check of one structure: the key of its plan, and the radius of each pole by the class table.

    No plan: `why` says what is missing. A pole without a radius needs its girth taped. `left_out` names
    stakes that were shot where they do not belong, `rise` is how much higher the ground lies at each pole
    than at the first, where it is known.
    """

    plan: str
    why: str
    radii: Mapping[str, float]
    left_out: Sequence[str]
    rise: Mapping[str, float]


@dataclass(frozen=True, kw_only=True)
class CheckPlans:
    """The plans that cards name, by their keys; `version` is the fingerprint that the index has."""

    version: str
    plans: Mapping[str, TapePlan]
