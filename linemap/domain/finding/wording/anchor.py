"""Wordings of what guys and anchors say against their schedule."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from linemap.domain.finding.code import Code, Severity, Stop, Values
from linemap.domain.finding.phrase import (
    AHEAD_BACK,
    direction_words,
    lead_words,
    length_text,
    limit_text,
    pole_names,
)


def _at_centre(v: Values) -> str:
    pole = pole_names(v["pole"], v["called"])
    return f"{v['guy']} is on {pole}, which has no place: the centre is taken"


def _direction(v: Values) -> str:
    off = direction_words(v["value"], v["sigma"], side=v["side"], reason=v["reason"], origin=v["origin"])
    return f"{v['guy']}: {off}; tolerance {limit_text(v['limit'], v['limit_unit'])}"


def _lead(v: Values) -> str:
    off = lead_words(v["value"], v["wanted"], v["sigma"], fall=v["fall"], origin=v["origin"], unit=v["unit"])
    return f"{v['guy']}: {off}; tolerance {limit_text(v['limit'], v['limit_unit'])}"


def _crossing(v: Values) -> str:
    return (
        f"anchor of {v['guy']} belongs {_place(v['ahead'], v['unit'])}, "
        f"{v['crossed']} lies {_place(v['there'], v['unit'])}: "
        f"{length_text(v['ahead'] - v['there'], v['unit'])} apart along the line"
    )


def _place(ahead: float, unit: str) -> str:
    return f"{length_text(ahead, unit)} {AHEAD_BACK[0] if ahead >= 0.0 else AHEAD_BACK[1]}"


_, U, W, S = Severity
CODES: Mapping[str, Code] = MappingProxyType(
    {
        "anchor wrong side": Code(
            S,
            "surveyor",
            "the anchor set anew",
            _direction,
            Stop(
                kind="anchor",
                steps=("guyed",),
                say=lambda _: "anchor on the wrong side: set it anew and have it shot",
                short="anchor on the wrong side",
                step="guyed",
                crew="the crew that sets anchors",
            ),
        ),
        "anchor direction": Code(W, "surveyor", "the anchor set anew, or the engineer", _direction),
        "anchor lead": Code(W, "surveyor", "the anchor set anew, or the engineer", _lead),
        "anchor not in schedule": Code(
            U,
            "surveyor",
            "the guy schedule or the label",
            lambda v: f"anchor of {v['points']} belongs to no guy of the schedule",
        ),
        "anchor at crossing": Code(U, "engineer", "a look at the place", _crossing),
        "guy side": Code(
            U,
            "engineer",
            "the guy schedule",
            lambda v: f"{v['guy']} is scheduled {v['side']}; {v['reason']}, outside of the angle",
        ),
        "guy not placed": Code(
            U, "engineer", "the guy schedule", lambda v: f"{v['guy']} cannot be placed: {v['reason']}"
        ),
        "guy at centre": Code(
            U,
            "engineer",
            "the pole spacing",
            _at_centre,
        ),
        "guy of unknown structure": Code(
            U,
            "engineer",
            "the guy schedule",
            lambda v: f"{v['guy']} names structure {v['number']}, which is not in the structure list",
        ),
    }
)
