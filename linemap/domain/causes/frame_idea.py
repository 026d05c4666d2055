"""What may be wrong with one frame: each idea with its prior and what it expects of each residual.

An idea expects residuals as designed, at a value, between two values, or anywhere; or it judges the frame as
if its poles had other letters, or as if one pole stood anywhere and the others as designed. Priors are the
share of faults each is taken to cause (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import product
from types import MappingProxyType

import numpy as np

from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.causes.pole_view import EXCHANGES
from linemap.domain.design.structure import POLE_LETTERS, FloatArray, IntArray
from linemap.geometry.bearing import wrap180
from linemap.units import LengthUnit

#: Round distances at which reference stakes stand, in feet and on metric lines in metres. No source.
_STAKES_FT = (5.0, 10.0, 15.0, 25.0, 50.0)
_STAKES_M = (2.0, 5.0, 10.0, 15.0, 20.0)
#: Faces instead of centres: one diameter short, or half of one to one side; and another brace set. In feet.
_INNER_FT, _ONE_SIDE_FT, _BRACE_FT = (-1.5, -1.1), (0.5, 0.75), (0.3, 0.6)
_FOOT_M = 0.3048
RESIDUALS = ("rotation", "along", "across", "spacing", "bow")
#: Half width in feet of anywhere, and what may be free: one residual, the centre, or everything.
_WIDE_FT = {"along": 100.0, "across": 100.0, "spacing": 5.0, "bow": 10.0}
_FREE: tuple[tuple[tuple[str, ...], str, float], ...] = (
    (("rotation",), "arm turned", 0.15),
    (("along",), "moved along the line", 0.08),
    (("across",), "moved across the line", 0.08),
    (("along", "across"), "moved", 0.05),
    (("spacing",), "spacing", 0.08),
    (("bow",), "middle pole out of line", 0.03),
    (RESIDUALS, "several residuals at once", 0.02),
)
#: Turns nearer to each other than this are one.
_SAME_DEG = 0.01
#: Weight of chance against all faults together (1) where the survey is too coarse to prove anything: most
#: frames stand right.
_CHANCE = 5.0
Interval = tuple[float, float] | tuple[FloatArray, FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameFault:
    """What a fault is called, what it costs, and what to look at."""

    cost_rank: int
    #: What it claims; {detail} says what in particular.
    claim: str
    asks_for: str
    on_paper: bool = False
    #: Residuals that show it; () = those outside their tolerance.
    tells: tuple[str, ...] = ()


FAULTS: Mapping[str, FrameFault] = MappingProxyType(
    {
        "offset stake": FrameFault(
            cost_rank=1,
            claim="a round number: built on the offset stake {detail}?",
            asks_for="a photo of the lath and the stake report: which hub it was",
            tells=("along", "across"),
        ),
        "square to one tangent": FrameFault(
            cost_rank=1,
            claim="set square to {detail}",
            asks_for="the crew: which structure they lined up with; a photo along the line",
            tells=("rotation",),
        ),
        "parallel to the line": FrameFault(
            cost_rank=1,
            claim="the frame stands along the line",
            asks_for="a photo from the back side",
            tells=("rotation",),
        ),
        "inner faces shot": FrameFault(
            cost_rank=5,
            claim="short by about one pole diameter with the centre good: inner faces shot?",
            asks_for="the shot method, face or centre; shoot again by offset",
            on_paper=True,
            tells=("spacing",),
        ),
        "one side's faces shot": FrameFault(
            cost_rank=5,
            claim="both poles {detail} by half a diameter with the spacing good: faces of one side shot?",
            asks_for="the shot method, face or centre; shoot again by offset",
            on_paper=True,
            tells=("along",),
        ),
        "wrong brace set": FrameFault(
            cost_rank=3,
            claim="too {detail} by about what another brace set makes: wrong brace set?",
            asks_for="the tag of the brace set, and a tape at brace height",
            tells=("spacing",),
        ),
        "neighbour's bisector": FrameFault(
            cost_rank=1,
            claim="set square to {detail}",
            asks_for="the crew: which structure they lined up with; a photo along the line",
            tells=("rotation",),
        ),
        "one pole off its stake": FrameFault(
            cost_rank=2,
            claim="{detail}: one pole off its stake",
            asks_for="the hub of that pole, and a second shot of both",
        ),
        "pole letters exchanged": FrameFault(
            cost_rank=4,
            claim="as designed where {detail}: letters of the poles exchanged",
            asks_for="the field book: in which order the three poles were shot",
            on_paper=True,
            tells=("spacing",),
        ),
        "poor survey": FrameFault(
            cost_rank=5,
            claim="a survey this coarse reads that by chance",
            asks_for="better shots: fixed solution, longer occupation, or a total station",
            on_paper=True,
        ),
        "two causes at once": FrameFault(
            cost_rank=1,
            claim="two causes at once, {detail}",
            asks_for="what each of them asks for: the stake report, the crew, a photo along the line",
        ),
        "no single cause found": FrameFault(
            cost_rank=2,
            claim="no single cause found",
            asks_for="a second shot of the frame, and what the setting crew says",
        ),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Idea:
    """One explanation; a residual it does not name is expected as designed."""

    code: str
    #: What it is in particular: "10 ft right", "the back tangent", with "{beside}" for the number of the
    #: structure beside it; "" = nothing more to say.
    detail: str
    prior: float
    #: Residual -> the two values it lies between, of all rows or of each; both the same = at that value.
    expects: Mapping[str, Interval] = field(default_factory=dict)
    #: Which structure beside it it speaks of: 1 = the one ahead, -1 = the one back, 0 = none.
    beside: int = 0
    #: Labels poles A, B, C are taken to have; "" = as labelled.
    labels: str = ""
    #: Pole that stands anywhere while the others stand as designed, and in which ways: ahead, right.
    free_pole: int | None = None
    free_ways: tuple[int, ...] = ()


def _idea(code: str, prior: float, detail: str = "", **expects: Interval) -> Idea:
    return Idea(code=code, detail=detail, prior=prior, expects=expects)


def ideas_of(survey: CheckedSurvey, rows: IntArray) -> Iterator[Idea]:
    """Give every idea that is tried on the frames of some rows, at least one."""
    yield from _stakes(survey, rows)
    yield from _tangents(survey, rows)
    foot = survey.line(int(rows[0])).ground(_FOOT_M)
    yield _idea("inner faces shot", 0.1, spacing=_between(_INNER_FT, foot))
    for way, side in ((foot, "ahead"), (-foot, "back")):
        yield _idea("one side's faces shot", 0.025, side, along=_between(_ONE_SIDE_FT, way))
    for way, side in ((foot, "long"), (-foot, "short")):
        yield _idea("wrong brace set", 0.05, side, spacing=_between(_BRACE_FT, way))
    for pole, ways in product(range(len(POLE_LETTERS)), ((0,), (1,), (0, 1))):
        yield Idea(code="one pole off its stake", detail="", prior=0.02, free_pole=pole, free_ways=ways)
    for labels in EXCHANGES if (survey.figures.structures.pole_count[rows] == 3).any() else ():
        yield Idea(code="pole letters exchanged", detail="", prior=0.01, labels=labels)
    wide = {name: _between((-width, width), foot) for name, width in _WIDE_FT.items()}
    wide["rotation"] = (-90.0, 90.0)
    for names, detail, prior in _FREE:
        yield _idea("no single cause found", prior, detail, **{name: wide[name] for name in names})
    yield _idea("poor survey", _CHANCE)


def _between(feet: tuple[float, float], foot: float) -> tuple[float, float]:
    """Return two values in feet in the unit of the line, the smaller first; `foot` < 0 turns them round."""
    low, high = sorted(foot * value for value in feet)
    return low, high


def _stakes(survey: CheckedSurvey, rows: IntArray) -> Iterator[Idea]:
    metric = survey.line(int(rows[0])).unit is LengthUnit.METRE
    for size in _STAKES_M if metric else _STAKES_FT:
        for name, words in (("along", ("ahead", "back")), ("across", ("right", "left"))):
            for at, side in zip((size, -size), words, strict=True):
                yield _idea("offset stake", 0.01, f"{size:g} {survey.unit} {side}", **{name: (at, at)})


def _tangents(survey: CheckedSurvey, rows: IntArray) -> Iterator[Idea]:
    """Square to the back or the ahead tangent, to a neighbour's, or along the line, where not designed so."""
    figures = survey.figures
    own = figures.structure_azimuth_deg[rows]
    turns = []
    for words, azimuth in (("back", figures.azimuth_back_deg), ("ahead", figures.azimuth_ahead_deg)):
        turns.append(_turn(azimuth[rows] - own, []))
        yield _idea("square to one tangent", 0.05, f"the {words} tangent", rotation=(turns[-1], turns[-1]))
    legs = figures.azimuth_back_deg, figures.azimuth_ahead_deg
    for step, leg in zip((-1, 1), legs, strict=True):
        found = [figures.neighbour(row, step) for row in rows.tolist()]
        beside = np.array([-1 if each is None else each for each in found], dtype=np.int64)
        for code, detail, way in (
            ("neighbour's bisector", "the bisector of {beside}", figures.structure_azimuth_deg),
            ("square to one tangent", "the leg beyond {beside}", leg),
        ):
            turn = np.where(beside >= 0, _turn(way[beside] - own, turns), np.nan)
            yield Idea(code=code, detail=detail, prior=0.02, expects={"rotation": (turn, turn)}, beside=step)
    for quarter in (90.0, -90.0):
        yield _idea("parallel to the line", 0.01, rotation=(quarter, quarter))


def _turn(degrees: FloatArray, others: list[FloatArray]) -> FloatArray:
    """Return turns that differ from none and from `others`; nan where they do not."""
    turn = np.asarray(wrap180(degrees), dtype=np.float64)
    same = np.abs(turn) < _SAME_DEG
    for other in others:
        same |= np.abs(turn - other) < _SAME_DEG
    return np.where(same, np.nan, turn)
