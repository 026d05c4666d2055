"""What the shots of a session share, in words: the law, what stands, the correction, who stands out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from linemap.domain.causes.cause import counted, listed, odds_text
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.finding.phrase import deciding_words
from linemap.domain.sessions.adjustment import Adjustment
from linemap.domain.sessions.explanation import BAD_CHECK_IN, EXPLANATIONS, FOOT, LAWS, STANDS
from linemap.domain.sessions.mixture import misfit
from linemap.units import LengthUnit

_KNOWN_POINT = "a shot on a known point"
#: So many other laws are named.
_CONSIDERED = 4
#: Weight under which a check-in stands out.
_ODD = 0.5


class LawWords(NamedTuple):
    """One law of a session in words."""

    words: str
    evidence: tuple[str, ...]
    asks_for: str


def law_words(
    survey: CheckedSurvey,
    adjustment: Adjustment,
    index: int,
    *,
    law: int,
    here: IntArray,
    follows: BoolArray,
    tied: list[int],
    others: list[tuple[int, float]],
    staked_only: bool,
) -> LawWords:
    """Put the likeliest law of session `index` in words, with what stands and what would decide.

    `here` are its frames, of which some follow the law. `tied` are laws about as likely, `others` all with
    other names, with their log-odds against.
    """
    said = _Words(survey, adjustment, index, law, here, follows, staked_only)
    stands = standing_words(adjustment, index)
    words = said.law
    if staked_only:
        words = f"the line is staked off, the survey is not: {words}"
    if tied:
        names = " or ".join(dict.fromkeys([LAWS[law].words, *(LAWS[other].words for other in tied)]))
        words = f"{names}; {words}"
    against: dict[str, str] = {}
    for other, odds in others[:_CONSIDERED]:
        against.setdefault(LAWS[other].words, odds_text(odds))
    considered = "; ".join(f"{name} {odds}" for name, odds in against.items())
    decides, asks = what_decides(adjustment, index), LAWS[law].asks_for
    return LawWords(
        words=f"{words}; stands: {stands}",
        evidence=(
            f"{int(follows.sum())} of {counted(len(follows), 'structure')} of this file and day agree",
            *said.numbers(),
            *_standing_out(survey, adjustment, here, follows),
            *_check_ins(adjustment, index),
            *([decides] if decides else []),
            *([f"also considered: {considered}"] if considered else []),
        ),
        asks_for=asks if adjustment.check_ins[index] else f"{_KNOWN_POINT}; {asks}",
    )


def standing_words(adjustment: Adjustment, index: int) -> str:
    """Say which explanations stand in a session and how strongly, the strongest first."""
    share = adjustment.share[index]
    order = [each for each in np.argsort(-share, kind="stable").tolist() if share[each] >= STANDS]
    return ", ".join(f"{EXPLANATIONS[each].words} {100.0 * share[each]:.0f} %" for each in order)


def what_decides(adjustment: Adjustment, index: int) -> str:
    """Say what would decide between the explanations that stand; "" = nothing more is needed."""
    count, odd = int(adjustment.check_ins[index]), odd_check_in(adjustment, index)
    return "" if is_settled(adjustment, index) else deciding_words(count, odd=odd)


def is_settled(adjustment: Adjustment, index: int) -> bool:
    """Tell whether the check-ins of a session leave one move of the survey standing, and none is odd."""
    only = int(adjustment.standing[index].sum()) == 1
    return bool(adjustment.check_ins[index] and only and not odd_check_in(adjustment, index))


def odd_check_in(adjustment: Adjustment, index: int) -> bool:
    """Tell whether the only check-in disagrees with the frames, or one stands out of several."""
    count = int(adjustment.check_ins[index])
    likely = EXPLANATIONS[int(adjustment.share[index].argmax())]
    moved_otherwise = likely.same_base or likely.staked is not None
    if likely.survey is None:
        square = np.square(adjustment.observed[index, :count]).sum(axis=1)
        weights = misfit(square, np.full(count, BAD_CHECK_IN))[1]
    else:
        solved = adjustment.alone if moved_otherwise else adjustment.together
        weights = solved.weights[index, LAWS.index(likely.survey), :count]
        if count == 1 and moved_otherwise:
            return True
    return bool((weights < _ODD).any())


def _standing_out(
    survey: CheckedSurvey, adjustment: Adjustment, here: IntArray, follows: BoolArray
) -> Iterator[str]:
    rows = adjustment.sessions.row[here[~follows]]
    if rows.size:
        yield f"stand out and are not used: {listed(survey.numbers(np.sort(rows).tolist()))}"


def _check_ins(adjustment: Adjustment, index: int) -> Iterator[str]:
    at = np.flatnonzero(adjustment.sessions.check_session == index)
    if at.size:
        off = adjustment.sessions.check_off[at]
        said = "; ".join(f"dE {east:+.2f}, dN {north:+.2f}" for east, north in off.tolist())
        yield f"{counted(len(at), 'check-in')}: {said}"


class _Words:
    """A law of a session, as it shows on the frames that follow it."""

    def __init__(
        self,
        survey: CheckedSurvey,
        adjustment: Adjustment,
        index: int,
        law: int,
        here: IntArray,
        follows: BoolArray,
        staked_only: bool,
    ) -> None:
        self._survey, self._adjustment, self._index, self._law = survey, adjustment, index, law
        self._follows, self._staked_only = follows, staked_only
        self._rows = adjustment.sessions.row[here[follows]]
        self._off = adjustment.sessions.off[here[follows]]
        self._found = adjustment.found_of(index, law)

    @property
    def law(self) -> str:
        """Say what it does to the frames."""
        name = LAWS[self._law].name
        if name == "shift":
            return f"all moved alike, {self._moved}"
        if name.startswith("foot"):
            return f"{self._foot}: {self._moved}"
        grow, turn = self._found.numbers[2:] / self._adjustment.far[self._index]
        if name in {"scale", "ground", "twice"}:
            cause = {"ground": "ground distances taken as grid", "twice": "the combined factor applied twice"}
            law = f"off by {grow * 1e6:+.0f} ppm of the distance from one point"
            return f"{cause.get(name, 'another scale than the design')}: {law}, {self._farthest}"
        angle = math.degrees(math.atan2(turn, 1.0 + grow))
        return (
            f"the file is turned {angle:+.4f}° (clockwise +) about a point against the design, "
            f"{self._farthest}"
        )

    def numbers(self) -> Iterator[str]:
        """Give the mean of the frames, and what would be added to the shots with its sigma."""
        east, north = self._off.mean(axis=0)
        unit = self._survey.unit
        yield f"mean of these dN {north:+.2f}, dE {east:+.2f} {unit}"
        if not self._staked_only and LAWS[self._law].free[0]:
            shift, sigma = -self._found.numbers[:2], np.sqrt(np.diag(self._found.covariance)[:2])
            yield (
                f"correction at the middle dN {shift[1]:+.2f}, dE {shift[0]:+.2f} {unit}, "
                f"sigma {float(sigma.max()):.2f} {unit}"
            )

    @property
    def _foot(self) -> str:
        unit = self._survey.line(int(self._rows[0])).unit
        large = LAWS[self._law].name == "foot large"
        if unit is LengthUnit.FOOT and not large:
            return "US survey feet read as international feet"
        if unit is LengthUnit.US_SURVEY_FOOT and large:
            return "international feet read as US survey feet"
        size = "large" if large else "small"
        feet = "the difference between the US survey and the international foot"
        return f"coordinates {FOOT * 1e6:.0f} ppm too {size}, {feet}"

    @property
    def _moved(self) -> str:
        # what the survey shares says nothing of a line that is staked off
        east, north = self._off.mean(axis=0) if self._staked_only else self._found.numbers[:2]
        words = f"dN {north:+.2f}, dE {east:+.2f} {self._survey.unit} on {self._how_many}"
        turn = _turn_of_line_deg(self._survey, self._rows)
        return f"{words} although the line turns {turn:.1f}° between them" if turn >= 2.0 else words

    @property
    def _farthest(self) -> str:
        size = np.hypot(self._off[:, 0], self._off[:, 1])
        return f"{size.min():.2f} to {size.max():.2f} {self._survey.unit} on {self._how_many}"

    @property
    def _how_many(self) -> str:
        kept = int(self._follows.sum())
        every = kept == len(self._follows)
        return f"all {kept} structures" if every else f"{kept} of {len(self._follows)} structures"


def _turn_of_line_deg(survey: CheckedSurvey, rows: IntArray) -> float:
    """Return the widest angle between the directions of the line at these structures."""
    both = np.concatenate([survey.figures.azimuth_back_deg[rows], survey.figures.azimuth_ahead_deg[rows]])
    azimuth: FloatArray = np.radians(both[np.isfinite(both)])
    apart = np.angle(np.exp(1j * (azimuth[:, np.newaxis] - azimuth)))
    return float(np.degrees(np.abs(apart)).max())
