"""Wordings of what a crew's own check of a frame says, and of how it compares with the survey."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from linemap.domain.finding.code import Code, Severity, Values
from linemap.domain.finding.phrase import (
    AHEAD_BACK,
    RIGHT_LEFT,
    bow_words,
    centre_words,
    date_words,
    length_text,
    move_words,
    spacing_words,
    turn_words,
)

#: Verdict of a crew check -> what is said of it. Never a verdict of the survey.
_SAID: Mapping[str, str] = MappingProxyType(
    {
        "pass": "passes",
        "fail": "fails",
        "cannot tell": "cannot tell",
        "contradict": "contradicts itself",
    }
)


def _quantity(v: Values, name: str, value: float, sigma: float) -> str:
    unit = v["unit"]
    if name == "rotation":
        return turn_words(value, sigma)
    if name in {"along", "across"}:
        return centre_words(value, sigma, unit, sides=AHEAD_BACK if name == "along" else RIGHT_LEFT)
    if name == "bow":
        return bow_words(value, sigma, unit, v["called"])
    between = "".join(f" {v['called'][letter]}" for letter in name.removeprefix("spacing").strip())
    words = spacing_words(v["spacing"] + value, value, sigma, unit)
    return words.replace("spacing", f"spacing{between}", 1) if between else words


def _quantities(v: Values, names: Iterable[str]) -> str:
    wanted = set(names)
    said = [_quantity(v, name, value, sigma) for name, value, sigma in v["quantities"] if name in wanted]
    return ", ".join(said)


def _check(v: Values) -> str:
    """Say verdict, then what is outside or unknown with what would put it right; of a pass all quantities."""
    all_of_them = [name for name, _, _ in v["quantities"]]
    told = _quantities(v, v["open"] or all_of_them)
    moves = ", ".join(
        move_words(letter, ahead, right, v["unit"], v["called"]) for letter, ahead, right in v["moves"]
    )
    parts = [
        f"crew check by {v['method']}, {date_words(v['on'])}, {v['who']}: {_SAID[v['verdict']]}",
        *([v["why"]] if v["why"] else []),
        *([told] if told else []),
        *([f"to put it right move {moves}"] if moves else []),
        *([f"the phone found: {_SAID[v['said']]}"] if v["said"] != v["verdict"] else []),
        *(["the list moved the structure since"] if v["moved"] else []),
    ]
    return "; ".join([*parts, "a crew's own check, no survey"])


def _unlike(v: Values) -> str:
    apart = [
        f"{name} by {f'{abs(size):.1f}°' if name == 'rotation' else length_text(size, v['unit'])}"
        for name, size in v["apart_by"]
    ]
    differ = f"; they differ in {', '.join(apart)}" if apart else ""
    check = f"the crew check by {v['method']}, {date_words(v['on'])}, {v['who']}, {_SAID[v['verdict']]}"
    return f"{check}, the survey says {v['survey']}{differ}"


_, U, W, _ = Severity
CODES: Mapping[str, Code] = MappingProxyType(
    {
        "crew check": Code(
            W, "crew", "the frame put right, and a crew check that passes; or the surveyor's shots", _check
        ),
        "crew check unlike survey": Code(U, "surveyor", "a look at both", _unlike),
    }
)
