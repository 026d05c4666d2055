"""The bench for shots: which of them a person may have to say something of, and what was decided."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from linemap.answers.survey import StandingDecision, VerdictChanges
from linemap.domain.survey.open_shots import Needed, ShotState
from linemap.domain.survey.shot import ShotItem


@dataclass(frozen=True, kw_only=True)
class PoleNearShot:
    """A pole of the design near a shot, and where the shot lies from it, in words."""

    line: str
    structure: str
    pole: str
    #: What the owner calls the pole.
    called: str
    #: Level distance, ground unit.
    distance: float
    words: str
    #: Longitude and latitude of the pole.
    at: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class ShotDecision(StandingDecision):
    """A decision that stands about a shot: who said what it is of, or set it aside, and why."""

    words: str


@dataclass(frozen=True, kw_only=True)
class OpenShot:
    """One shot that a person may have to say something of, as it counts now.

    Its place, or null: longitude and latitude, where its coordinates lie on the earth.
    """

    file: str
    row: int
    point: str
    description: str
    observed_on: str
    item: ShotItem
    line: str
    structure: str
    pole: str
    #: What the owner calls the pole.
    called: str
    state: ShotState
    #: What became of it, and why.
    words: str
    northing: str
    easting: str
    at: tuple[float, float] | None
    #: The nearest ones first.
    near: Sequence[PoleNearShot]
    #: What the frame is without this shot: of shots of one pole that disagree, one line for each choice.
    without: Sequence[str]
    #: The decision that stands about it; null = nobody has decided.
    decision: ShotDecision | None


@dataclass(frozen=True, kw_only=True)
class ShotItemChoice:
    """What a shot may be of, and whether a structure and a pole are named with it."""

    item: ShotItem
    words: str
    structure: Needed
    pole: Needed


@dataclass(frozen=True, kw_only=True)
class OpenShots:
    """The bench for shots: those that nothing uses, or that contradict others, and what was decided."""

    data_version: int
    #: How many shots there are in all.
    count: int
    shots: Sequence[OpenShot]
    #: What became of shots, in words.
    states: Mapping[ShotState, str]
    items: Sequence[ShotItemChoice]


@dataclass(frozen=True, kw_only=True)
class ShotAlike:
    """A shot that a pattern would read, and how far from the pole it then names it lies."""

    file: str
    row: int
    point: str
    description: str
    line: str
    structure: str
    pole: str
    #: What the owner calls the pole.
    called: str
    #: "" = it would name no pole of the design.
    words: str


@dataclass(frozen=True, kw_only=True)
class ShotsAlike:
    """What a pattern would read of the shots that nothing else reads, before anybody decides."""

    pattern: str
    words: str
    shots: Sequence[ShotAlike]


@dataclass(frozen=True, kw_only=True)
class ShotsChanged(VerdictChanges):
    """What was decided about shots, and what that changed."""

    #: Identifiers of the decisions; taking them back undoes all of it.
    decisions: Sequence[str]
    #: A sentence for each.
    words: Sequence[str]


@dataclass(frozen=True, kw_only=True)
class ShotsAnswer(ShotsChanged):
    """The same, with what it was recorded under."""

    id: str
    #: False when it was recorded before.
    recorded: bool
    data_version: int
