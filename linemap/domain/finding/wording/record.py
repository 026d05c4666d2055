"""Wordings of what the record of the field says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from linemap.domain.finding.code import Code, Severity, Stop, Values
from linemap.domain.finding.phrase import (
    date_words,
    hours_words,
    lean_words,
    length_text,
    level_words,
    limit_text,
    listed_poles,
    pole_names,
    sweep_words,
)


def _twice(v: Values) -> str:
    crews = v["crews"]
    times = "twice" if len(crews) == 2 else f"by {len(crews)} crews"
    return f"{v['step']} recorded {times}: {', '.join(crews)}"


def _rejected(v: Values) -> str:
    of_pole = f" for {_parts(v, v['poles'])}" if v["poles"] else ""
    return f"{v['step']}{of_pole} rejected {date_words(v['on'])} by {v['who']}, not recorded again since"


def _parts(v: Values, names: Sequence[str]) -> str:
    """Name some poles, or the guys of a step that is recorded for each."""
    if v.get("of") == "guy":
        return f"guy{'s' if len(names) > 1 else ''} {', '.join(names)}"
    return pole_names(names, v["called"])


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
    return f"{_recorded(v)} under hold {v['hold']}, in force then: {v['sentence']}{_answered(v)}"


def _answered(v: Values) -> str:
    """Say whether its records were taken back, and what was answered to a case that is open still."""
    back = "; taken back since" if v.get("taken_back") else ""
    return f"{back}; {v['answered']}" if v.get("answered") else back


def _without_ticket(v: Values) -> str:
    named = f": {'; '.join(v['tickets'])}" if v["tickets"] else ""
    return f"{_recorded(v)}; no locate ticket of the list was valid there that day{named}{_answered(v)}"


def _in_wind(v: Values) -> str:
    wind, limit = f"{v['wind_mph']:g} mph", f"{v['limit_mph']:g} mph"
    return f"{_recorded(v)} in wind of {wind}, above the employer's limit of {limit}{_answered(v)}"


def _by_old_list(v: Values) -> str:
    changes = "; ".join(v["changes"])
    return f"{_recorded(v)} by revision {v['seen']}, when a newer one had changed it: {changes}{_answered(v)}"


def _step_missing(v: Values) -> str:
    days = v.get("later") or (None,) * len(v["missing"])
    missing = ", ".join(
        step if day is None else f"{step} (recorded {date_words(day)}, after it)"
        for step, day in zip(v["missing"], days, strict=True)
    )
    return f"{v['step']} recorded, but not {missing}{_answered(v)}"


def _not_in_list(v: Values) -> str:
    steps = f" ({', '.join(v['steps'])})" if v.get("steps") else ""
    return f"events recorded: {v['count']}{steps}, but the structure is in no list{_answered(v)}"


def _moved_since(v: Values) -> str:
    how_far = length_text(v["distance"], v["unit"])
    moved = f"{v['step']} recorded {date_words(v['on'])}, then {v['revision']}: moved {how_far}"
    remedy = "stake it anew" if v["limit"] is None else f"within {limit_text(v['limit'], v['unit'])}"
    return f"{moved}; what stands there is from before the move, {remedy}"


def _restake(v: Values) -> str:
    return f"hub is from before the move of {length_text(v['distance'], v['unit'])}: restake"


def _plumb(v: Values) -> str:
    leans = lean_words(v["along"], v["across"])
    return f"{pole_names(v['pole'], v['called'])} {leans}{_shot(v)}; {_limit(v)}{sweep_words(v['sweep'])}"


def _level(v: Values) -> str:
    return f"arm: {level_words(v['inches'], v['slope_deg'])}{_shot(v)}; {_limit(v)}"


def _shot(v: Values) -> str:
    """Say by which shots a reading was made; "" where it was one of its own."""
    return f" ({v['points']})" if v["points"] else ""


def _limit(v: Values) -> str:
    limit = limit_text(v["limit"], v["limit_unit"])
    return f"tolerance {limit}" if v["outside"] else f"within {limit} or not, this reading cannot tell"


def _claimed(v: Values) -> str:
    steps = zip(v["steps"], v["missing"], strict=True)
    return "claimed, not verified: " + ", ".join(
        f"{step} (no {', no '.join(missing)} on record)" for step, missing in steps
    )


def _pole_missing(v: Values) -> str:
    there, gone = _parts(v, v["there"]), _parts(v, v["gone"])
    return f"{v['step']} recorded for {there}, not for {gone}"


def _unknown_pole(v: Values) -> str:
    named, poles = _parts(v, (v["pole"],)), listed_poles(v["poles"], v["called"])
    return f"{v['who']} recorded {v['step']} for {named}, not one of {poles}"


def _other_role(v: Values) -> str:
    """Say who recorded a step that others record, and who confirms it."""
    return (
        f"{v['step']} recorded {date_words(v['on'])} by {v['who']}, {v['role']}: not counted as done until "
        f"{' or '.join(v['roles'])} records it too{_answered(v)}"
    )


N, U, W, S = Severity
_ANEW = "a record that corrects it"
CODES: Mapping[str, Code] = MappingProxyType(
    {
        "not in list": Code(
            U,
            "office",
            "the structure list, or a record that corrects it",
            _not_in_list,
        ),
        "pole missing": Code(
            N,
            "crew",
            "the record of the other pole or guy",
            _pole_missing,
        ),
        "recorded twice": Code(U, "crew", _ANEW, _twice),
        "rejected": Code(W, "crew", "the step recorded again", _rejected),
        "unknown pole": Code(
            U,
            "office",
            _ANEW,
            _unknown_pole,
        ),
        "step missing": Code(
            U,
            "office",
            "the record of the earlier step",
            _step_missing,
        ),
        "other role": Code(W, "office", "a record of the step by one of the roles it names", _other_role),
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
        "recorded in wind": Code(W, "office", "the manager, with evidence", _in_wind),
        "recorded by old list": Code(W, "office", "the surveyor, with evidence", _by_old_list),
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
                say=_restake,
                short="hub from before the move",
                step="staked",
                crew="the crew that stakes",
            ),
        ),
    }
)
