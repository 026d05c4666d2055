"""Wordings of what computed lines and loaded files say."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from linemap.domain.finding.code import Code, Severity, Values
from linemap.errors import Problem
from linemap.errors import Severity as Outcome
from linemap.geometry.bearing import format_deflection

N, U, W, S = Severity


def _empty_pi(v: Values) -> str:
    return (
        f"no structure stands at {v['pi']}, station {v['station']}, deflection {format_deflection(v['turn'])}"
    )


def _offset(v: Values) -> str:
    return f"centre {abs(v['offset']):.2f} {v['unit']} {'right' if v['offset'] > 0 else 'left'} of the line"


def _off_pi(v: Values) -> str:
    way = "ahead of" if v["along"] > 0 else "back of"
    return f"centre {abs(v['along']):.2f} {v['unit']} {way} its PI"


def _near_pi(v: Values) -> str:
    listed = f", the list says {v['listed']}" if v["listed"] else ""
    turn = v["spans_turn"]
    spans = "" if turn is None else f"its spans turn {format_deflection(turn)}"
    return f"{v['apart']:.2f} {v['unit']} from {v['pi']}, which turns {format_deflection(v['turn'])}: " + (
        f"{spans}{listed}" if spans else listed.removeprefix(", ") or "nothing else is known of its angle"
    )


def _beyond(v: Values) -> str:
    end = "before the start" if v["before_start"] else "past the end"
    return f"centre {v['beyond']:.2f} {v['unit']} {end} of the centreline"


def _competing(v: Values) -> str:
    return f"another leg of the line is about as near: station {v['other']} competes with {v['station']}"


def _span_turn(v: Values) -> str:
    line = format_deflection(v["turn"]) if v["turn"] else "does not"
    return f"the spans turn {format_deflection(v['spans_turn'])} here, the centreline {line}"


def _station(v: Values) -> str:
    return (
        f"the list says station {v['listed']}, the centreline gives {v['station']} "
        f"({v['difference']:+.2f} {v['unit']})"
    )


_LIST = "the structure list or the centreline"
DESIGN: Mapping[str, Code] = MappingProxyType(
    {
        "factor not declared": Code(
            U,
            "office",
            "a declaration",
            lambda _: "no combined factor is declared: grid lengths are printed as ground lengths",
        ),
        "no structure at PI": Code(U, "engineer", _LIST, _empty_pi),
        "off line": Code(U, "engineer", _LIST, _offset),
        "off PI": Code(U, "engineer", _LIST, _off_pi),
        "PI taken": Code(
            U, "engineer", _LIST, lambda v: f"taken for the structure of its PI: it stands {_near_pi(v)}"
        ),
        "PI in question": Code(
            U,
            "surveyor",
            _LIST,
            lambda v: (
                f"stands {_near_pi(v)}; nobody can tell which way it faces: no verdict is given and no stake "
                "but its centre until the list or the centreline is put right"
            ),
        ),
        "beyond end": Code(U, "engineer", _LIST, _beyond),
        "competing station": Code(U, "engineer", _LIST, _competing),
        "span deflection": Code(U, "engineer", _LIST, _span_turn),
        "station differs": Code(N, "engineer", _LIST, _station),
        "no spacing": Code(
            U,
            "engineer",
            "the structure list",
            lambda _: "no pole spacing is given: pole positions are not available",
        ),
        "more of a kind": Code(
            U,
            "engineer",
            "the others of the kind",
            lambda v: f'{v["more"]} more of the kind "{v["kind"]}" ({v["count"]} in all)',
        ),
    }
)


def _row(v: Values) -> str:
    return str(Problem(**{name: v[name] for name in ("file", "row", "column", "reason", "remedy")}))


def _left_out(v: Values) -> str:
    return f"left out of the {v['kind']}: {_row(v)}"


_LOADED_AGAIN = "the file, corrected and loaded again under its name"
LOADING: Mapping[str, Code] = MappingProxyType(
    {
        "row left out": Code(U, "office", _LOADED_AGAIN, _left_out),
        "shot left out": Code(U, "surveyor", _LOADED_AGAIN, _left_out),
        "row in question": Code(N, "office", "a look at the row", _row),
        "row of no list": Code(N, "nobody", "nothing", _left_out),
    }
)


def loading_code(kind: str, outcome: Outcome, column: str) -> str:
    """Return the code of a problem of a file of a kind; titles and totals are left out for no cell of theirs.

    >>> loading_code("holds", Outcome.LEFT_OUT, "Until"), loading_code("holds", Outcome.LEFT_OUT, "")
    ('row left out', 'row of no list')
    """
    if outcome is Outcome.NOTED:
        return "row in question"
    if not column:
        return "row of no list"
    return "shot left out" if kind == "shots" else "row left out"
