"""Wordings of what loading a file left out or took with a question; reason and remedy are the reader's."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from linemap.domain.finding.code import Code, Severity, Values
from linemap.errors import Problem
from linemap.errors import Severity as Outcome


def _row(v: Values) -> str:
    return str(Problem(**{name: v[name] for name in ("file", "row", "column", "reason", "remedy")}))


def _left_out(v: Values) -> str:
    return f"left out of the {v['kind']}: {_row(v)}"


N, U, _W, _S = Severity
_AGAIN = "the file, corrected and loaded again under its name"
CODES: Mapping[str, Code] = MappingProxyType(
    {
        "row left out": Code(U, "office", _AGAIN, _left_out),
        "shot left out": Code(U, "surveyor", _AGAIN, _left_out),
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
