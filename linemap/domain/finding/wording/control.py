"""Wordings of what check-ins on control points say of a survey."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from linemap.domain.finding.code import Code, Severity, Values
from linemap.domain.finding.phrase import length_text


def residual_words(east: float, north: float, up: float | None, unit: str) -> str:
    """Say how far a shot lies from its control point, by sides and in height.

    >>> residual_words(0.5, -0.304, None, "ft"), residual_words(-0.02, 0.0, 0.11, "ft")
    ('0.50 ft east, 0.30 ft south', '0.02 ft west, 0.00 ft north, 0.11 ft up')
    """
    parts = [
        f"{length_text(abs(east), unit)} {'east' if east >= 0.0 else 'west'}",
        f"{length_text(abs(north), unit)} {'north' if north >= 0.0 else 'south'}",
    ]
    if up is not None:
        parts.append(f"{length_text(abs(up), unit)} {'up' if up >= 0.0 else 'down'}")
    return ", ".join(parts)


def _shot(v: Values) -> str:
    return f'check shot "{v["description"]}" ({v["file"]} row {v["row"]})'


def _there(v: Values) -> str:
    return f"{length_text(v['there'], v['unit'])} from {v['lies_at']}" if v["there"] is not None else ""


def _unknown(v: Values) -> str:
    lies = f"; it lies {_there(v)}" if v["there"] is not None else ""
    return f"{_shot(v)} names {v['named']}, which is not in the list of control points{lies}: not used"


def _elsewhere(v: Values) -> str:
    away = "" if v["apart"] is None else f", {length_text(v['apart'], v['unit'])} away"
    lies = f", and lies {_there(v)}" if v["there"] is not None else ""
    return f"{_shot(v)} names {v['named']}{away}{lies}: not used"


def _measured(v: Values) -> str:
    off = residual_words(v["east"], v["north"], v["up"], v["unit"])
    return f"{_shot(v)} on {v['named']} lies {off} of it (sigma {length_text(v['sigma'], v['unit'])})"


def _off(v: Values) -> str:
    if v["alone"]:
        more = (
            "the only check-in of its file and day: one on another point tells whether survey or point is off"
        )
    else:
        more = "the check-ins of its file and day do not agree with each other"
    return f"{_measured(v)}; {more}"


def _alike(v: Values) -> str:
    off = residual_words(v["east"], v["north"], v["up"], v["unit"])
    return (
        f"{v['count']} check-ins of {v['session']} ({v['named']}) "
        f"lie alike {off} of their points: the survey moved, or it stands on another datum"
    )


def _without(v: Values) -> str:
    shots = f"{v['count']} pole shot{'' if v['count'] == 1 else 's'}"
    return f"{v['session']}: no check-in on a control point, {shots} held against their own base"


N, U, W, _ = Severity
_SAID = "somebody who says which point was shot"
_ANOTHER = "a check-in on another control point"
CODES: Mapping[str, Code] = MappingProxyType(
    {
        "check-in unknown point": Code(U, "surveyor", "the list of control points or the label", _unknown),
        "check-in elsewhere": Code(U, "surveyor", _SAID, _elsewhere),
        "check-in unnamed": Code(
            U,
            "surveyor",
            _SAID,
            lambda v: f"{_shot(v)} names no one control point and lies at none: not used",
        ),
        "check-in off": Code(W, "surveyor", _ANOTHER, _off),
        "check-ins off": Code(W, "surveyor", "a decision on the survey of that day", _alike),
        "check-in odd": Code(
            U,
            "surveyor",
            _ANOTHER,
            lambda v: (
                f"{_measured(v)}; {v['good']} other{'s' * (v['good'] > 1)} of its file and day fit: "
                "shoot another"
            ),
        ),
        "session without check-in": Code(N, "surveyor", "a check-in on a control point", _without),
    }
)
