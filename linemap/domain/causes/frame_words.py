"""What a fault of a single frame is called, what it costs, and what to look at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from linemap.domain.causes.cause import Suspicion
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.survey.orientation import residual_texts


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    cost_rank: int
    #: What it claims; {detail} says what in particular.
    claim: str
    asks_for: str
    on_paper: bool = False
    #: Residuals that show it; () = those outside their tolerance.
    tells: tuple[str, ...] = ()


_KINDS: Mapping[str, _Kind] = MappingProxyType(
    {
        "offset stake": _Kind(
            cost_rank=1,
            claim="a round number: built on the offset stake {detail}?",
            asks_for="a photo of the lath and the stake report: which hub it was",
            tells=("along", "across"),
        ),
        "square to one tangent": _Kind(
            cost_rank=1,
            claim="set square to {detail}",
            asks_for="the crew: which structure they lined up with; a photo along the line",
            tells=("rotation",),
        ),
        "parallel to the line": _Kind(
            cost_rank=1,
            claim="the frame stands along the line",
            asks_for="a photo from the back side",
            tells=("rotation",),
        ),
        "inner faces shot": _Kind(
            cost_rank=5,
            claim="short by about one pole diameter with the centre good: inner faces shot?",
            asks_for="the shot method, face or centre; shoot again by offset",
            on_paper=True,
            tells=("spacing",),
        ),
        "one side's faces shot": _Kind(
            cost_rank=5,
            claim="both poles {detail} by half a diameter with the spacing good: faces of one side shot?",
            asks_for="the shot method, face or centre; shoot again by offset",
            on_paper=True,
            tells=("along",),
        ),
        "wrong brace set": _Kind(
            cost_rank=3,
            claim="too {detail} by about what another brace set makes: wrong brace set?",
            asks_for="the tag of the brace set, and a tape at brace height",
            tells=("spacing",),
        ),
        "poor survey": _Kind(
            cost_rank=5,
            claim="a survey this coarse reads that by chance",
            asks_for="better shots: fixed solution, longer occupation, or a total station",
            on_paper=True,
        ),
        "no single cause found": _Kind(
            cost_rank=2,
            claim="no single cause found",
            asks_for="a second shot of the frame, and what the setting crew says",
        ),
    }
)


def frame_suspicion(survey: CheckedSurvey, row: int, ranked: list[tuple[str, str, float]]) -> Suspicion:
    """Put the explanation of one frame in words.

    `ranked` has code, detail and probability of what it may be; the first is what it is called.
    """
    code, detail, _ = ranked[0]
    kind = _KINDS[code]
    outside = _outside(survey, row)
    telling = [name for name in kind.tells if name in outside] or outside
    also = survey.checks.reversed[row] and code != "parallel to the line"
    turned = "; the poles also stand the other way round" if also else ""
    others = [name for name in outside if name not in telling]
    return Suspicion(
        code=code,
        subject=survey.subject(row),
        rows=(row,),
        words=f"{seen_words(survey, row, telling)}: {kind.claim.format(detail=detail)}{turned}",
        evidence=(
            *_deflection(survey, row, code),
            *([f"also: {seen_words(survey, row, others)}"] if others else []),
            _considered(ranked),
        ),
        cost_rank=kind.cost_rank,
        asks_for=kind.asks_for,
        on_paper=kind.on_paper,
    )


def seen_words(survey: CheckedSurvey, row: int, names: list[str]) -> str:
    """Say how a frame stands, by the residuals named."""
    words = residual_texts(survey.checks, row, survey.unit)
    return ", ".join(words[name] for name in names)


def _deflection(survey: CheckedSurvey, row: int, code: str) -> list[str]:
    turn = float(survey.figures.deflection_deg[row])
    if code != "square to one tangent" or not np.isfinite(turn):
        return []
    side = "right" if turn > 0 else "left"
    return [f"the line turns {abs(turn):.2f}° {side} here; half of it is {abs(turn) / 2.0:.2f}°"]


def _considered(ranked: list[tuple[str, str, float]]) -> str:
    ranking = [
        f"{code}{f' ({detail})' if detail else ''} {_percent(part)}" for code, detail, part in ranked[:3]
    ]
    return f"considered, by likelihood: {'; '.join(ranking)}"


def _percent(part: float) -> str:
    if part < 0.001:
        return "under 0.1 %"
    return f"{part * 100.0:.1f} %" if part < 0.999 else "over 99.9 %"


def _outside(survey: CheckedSurvey, row: int) -> list[str]:
    """Name the residuals beyond their tolerance, whatever the sigma."""
    seen = survey.residuals(np.array([row]))
    return [name for name, (value, _, limit) in seen.items() if abs(value[0]) > limit[0]]
