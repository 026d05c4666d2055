"""Wordings of what the record of the field says of itself, and against holds, tickets and revisions."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from linemap.domain.finding.code import Code, Severity, Stop, Values
from linemap.domain.finding.phrase import (
    date_words,
    hours_words,
    lean_words,
    length_text,
    level_words,
    limit_text,
    pole_names,
    sweep_words,
)


def _twice(v: Values) -> str:
    crews = v["crews"]
    times = "twice" if len(crews) == 2 else f"by {len(crews)} crews"
    return f"{v['step']} recorded {times}: {', '.join(crews)}"


def _rejected(v: Values) -> str:
    of_pole = f" for {pole_names(v['poles'])}" if v["poles"] else ""
    return f"{v['step']}{of_pole} rejected {date_words(v['on'])} by {v['who']}, not recorded again since"


def _clock(v: Values) -> str:
    way = "fast" if v["minutes"] > 0 else "slow"
    return (
        f"the clock of {v['device']} was {hours_words(v['minutes'])} {way}; its times are put right by that"
    )


def _ahead(v: Values) -> str:
    fast = f"the clock of {v['device']} was at least {hours_words(v['minutes'])} fast"
    return f"{fast}; its events are taken to have happened when they arrived"


def _recorded(v: Values) -> str:
    by = f" by {v['who']}" if v["who"] else ""
    return f"{v['step']} recorded {date_words(v['on'])}{by}"


def _under_hold(v: Values) -> str:
    return f"{_recorded(v)} under hold {v['hold']}, in force then: {v['sentence']}"


def _without_ticket(v: Values) -> str:
    return f"{_recorded(v)}; no locate ticket of the list was valid there that day"


def _moved_since(v: Values) -> str:
    how_far = length_text(v["distance"], v["unit"])
    moved = f"{v['step']} recorded {date_words(v['on'])}, then {v['revision']}: moved {how_far}"
    remedy = "stake it anew" if v["limit"] is None else f"within {limit_text(v['limit'], v['unit'])}"
    return f"{moved}; what stands there is from before the move, {remedy}"


def _plumb(v: Values) -> str:
    leans = lean_words(v["along"], v["across"])
    return f"pole {v['pole']} {leans}; {_limit(v)}{sweep_words(v['sweep'])}"


def _level(v: Values) -> str:
    return f"arm: {level_words(v['inches'], v['slope_deg'])}; {_limit(v)}"


def _limit(v: Values) -> str:
    limit = limit_text(v["limit"], v["limit_unit"])
    return f"tolerance {limit}" if v["outside"] else f"within {limit} or not, this reading cannot tell"


def _claimed(v: Values) -> str:
    steps = zip(v["steps"], v["missing"], strict=True)
    return "claimed, not verified: " + ", ".join(
        f"{step} (no {', no '.join(missing)} on record)" for step, missing in steps
    )


N, U, W, S = Severity
_ANEW = "a record that corrects it"
CODES: Mapping[str, Code] = MappingProxyType(
    {
        "not in list": Code(
            U,
            "office",
            "the structure list, or a record that corrects it",
            lambda v: f"events recorded: {v['count']}, but the structure is in no list",
        ),
        "pole missing": Code(
            N,
            "crew",
            "the record of the other pole",
            lambda v: f"{v['step']} recorded for {pole_names(v['there'])}, not for {pole_names(v['gone'])}",
        ),
        "recorded twice": Code(U, "crew", _ANEW, _twice),
        "rejected": Code(W, "crew", "the step recorded again", _rejected),
        "unknown pole": Code(
            U,
            "office",
            _ANEW,
            lambda v: f"{v['who']} recorded {v['step']} for pole {v['pole']}, not one of {v['poles']}",
        ),
        "step missing": Code(
            U,
            "office",
            "the record of the earlier step",
            lambda v: f"{v['step']} recorded, but not {', '.join(v['missing'])}",
        ),
        "unknown step": Code(
            U,
            "office",
            "the workflow, or a record that corrects it",
            lambda v: f'"{v["step"]}", recorded by {", ".join(v["crews"])}, is no step of the workflow',
        ),
        "clock fast": Code(N, "nobody", "nothing", _clock),
        "clock slow": Code(N, "nobody", "nothing", _clock),
        "clock ahead": Code(N, "nobody", "nothing", _ahead),
        "recorded under hold": Code(W, "office", "whoever releases the hold", _under_hold),
        "dug without ticket": Code(W, "office", "whoever renews tickets", _without_ticket),
        "out of plumb": Code(W, "crew", "the pole set plumb, and a reading that says so", _plumb),
        "arm not level": Code(W, "crew", "the arm levelled, and a reading that says so", _level),
        "claimed": Code(N, "crew", "the evidence its rule asks for, recorded with the step", _claimed),
        "moved since": Code(
            S,
            "crew",
            "the step recorded again",
            _moved_since,
            Stop(
                kind="stake",
                words="hub is from before the move: restake",
                short="hub from before the move",
                step="staked",
                crew="the crew that stakes",
            ),
        ),
    }
)
