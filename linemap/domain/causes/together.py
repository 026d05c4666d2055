"""Many structures that show one fault: one cause for what they have in common, or one cause each.

Explanations compete by one rule. A cause has a price, minus the log of its prior; a structure that shows the
fault inside what the cause covers pays in, one inside that does not show it costs. The explanation that gains
most is taken, then the next among what is left, so that fewer and more general causes win where they explain
as much, and what nothing gains by stays as it is.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted, listed, odds_text
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.causes.records import Records

Shared = Literal["line", "crew", "file", "day", "part", "run"]

#: Share of structures that show a fault inside what is its cause, and elsewhere. Common practice, no source.
_INSIDE, _ELSEWHERE = 0.95, 0.02
_SHOWS = math.log(_INSIDE / _ELSEWHERE)
_SHOWS_NOT = math.log((1.0 - _INSIDE) / (1.0 - _ELSEWHERE))
#: Minus the log of the prior of each kind of common cause: two structures alone (2 x 3.86) never pay it, and
#: a stretch somebody has to choose costs more than a whole. Common practice, no source.
_PRICE = MappingProxyType({"line": 7.8, "crew": 8.0, "file": 8.0, "day": 8.0, "part": 9.5, "run": 10.0})


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """What structures have in common that may be the cause of what they show."""

    shared: Shared
    #: "crew Raven", "set on 2026-05-05", "file may.csv", "line North"
    name: str
    #: How they share it: "framed by Raven".
    words: str
    #: Rows that have it in common and could show the fault, in line order.
    rows: tuple[int, ...]

    def gain(self, shown: Collection[int], explained: Collection[int] = ()) -> float:
        """Return the log-odds of this one cause for the rows that show a fault, against one cause each.

        Rows `explained` by another cause show it too, and speak neither for this one nor against it.
        """
        hits = sum(row in shown for row in self.rows)
        silent = sum(row in explained for row in self.rows) if explained else 0
        return hits * _SHOWS + (len(self.rows) - hits - silent) * _SHOWS_NOT - _PRICE[self.shared]


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """Rows that one cause explains."""

    scope: Scope
    #: Those of its rows that show the fault, in line order.
    rows: tuple[int, ...]
    #: Log-odds against one cause each.
    gain: float
    #: Other scopes of some of these rows, with the log-odds against each, the likeliest first.
    rivals: tuple[tuple[Scope, float], ...]

    @property
    def considered(self) -> list[str]:
        """What else was considered, as evidence: one sentence, or none."""
        odds: dict[str, float] = {}
        for rival, against in self.rivals:
            if rival.words != self.scope.words:
                odds.setdefault(rival.words, against)
        rivals = [f"{words} {odds_text(against)}" for words, against in odds.items()]
        return [f"also considered: {'; '.join(rivals[:2])}"] if rivals else []


def taken_together(
    shown: Iterable[int], scopes: Sequence[Scope], explained: Iterable[int] = ()
) -> list[Together]:
    """Explain rows that show one fault by as few scopes as gain by it; of equal ones the first.

    A wide scope gives way to narrower ones within it that gain more together, as a line to two files of it.
    Rows `explained` elsewhere show the fault too. Rows that no scope gains by are in none of the results; a
    row is in one result at most.
    """
    left, known = set(shown), set(explained)
    touching: dict[int, list[int]] = defaultdict(list)
    for position, scope in enumerate(scopes):
        for row in scope.rows:
            touching[row].append(position)
    gains = {at: scopes[at].gain(left, known) for at in sorted({at for row in left for at in touching[row]})}
    found: list[Together] = []
    while gains and left:
        best = max(gains, key=gains.__getitem__)
        if gains[best] <= 0.0:
            break
        rows = left.intersection(scopes[best].rows)
        beside = {at: gains[at] for row in rows for at in touching[row] if at in gains}
        taken = _narrower(rows, scopes, best, gains, known) or [_taken(scopes, best, rows, beside)]
        found += taken
        for each in taken:
            left.difference_update(each.rows)
            known.update(each.rows)
        gains |= {at: scopes[at].gain(left, known) for at in beside}
    return found


def _narrower(
    rows: set[int], scopes: Sequence[Scope], best: int, gains: Mapping[int, float], known: set[int]
) -> list[Together]:
    """Return what scopes within the best one make of its rows, where that gains more; none otherwise."""
    wide = set(scopes[best].rows)
    within = [
        scopes[at] for at in gains if len(scopes[at].rows) < len(wide) and wide.issuperset(scopes[at].rows)
    ]
    parts = taken_together(rows, within, known) if within else []
    return parts if sum(each.gain for each in parts) > gains[best] else []


def _taken(
    scopes: Sequence[Scope], best: int, rows: Collection[int], beside: Mapping[int, float]
) -> Together:
    rivals = [
        (scopes[at], beside[best] - gain)
        for at, gain in beside.items()
        if at != best and scopes[at].shared in _NAMED and len(set(rows).intersection(scopes[at].rows)) > 1
    ]
    rivals.sort(key=lambda each: each[1])
    return Together(
        scope=scopes[best],
        rows=tuple(row for row in scopes[best].rows if row in rows),
        gain=beside[best],
        rivals=tuple(rivals),
    )


#: Kinds of scope that name somebody or something to ask.
_NAMED = frozenset({"line", "crew", "file", "day"})


def stretches(rows: Sequence[int], values: Sequence[str], scope: Scope) -> list[Scope]:
    """Return a scope for each run of rows with one value that is not "", named by it.

    `scope` has "{}" in its name and words for the value.
    """
    names = np.array([*values, None], dtype=object)
    ends = np.flatnonzero(names[1:] != names[:-1]) + 1
    starts = np.concatenate([[0], ends[:-1]])
    return [
        replace(
            scope,
            name=scope.name.format(values[start]),
            words=scope.words.format(values[start]),
            rows=tuple(rows[start:end]),
        )
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True)
        if values[start]
    ]


_BY_FILE = frozenset({"inner faces shot", "one side's faces shot", "poor survey", "pole letters exchanged"})
_BY_CREW = frozenset({"wrong brace set", "square to one tangent", "parallel to the line"})


def gather(survey: CheckedSurvey, records: Records, suspicions: list[Suspicion]) -> list[Suspicion]:
    """Put suspicions of one kind together where one cause of a file, or of a crew, explains them better.

    Faults of the survey are gathered by file, faults of framing by the crew that framed.
    """
    groups: dict[tuple[str, str], dict[int, Suspicion]] = defaultdict(dict)
    for each in suspicions:
        letters = str(each.correction.get("letters", "")) if each.correction else ""
        groups[each.code, letters][each.rows[0]] = each
    gathered: list[Suspicion] = []
    for (code, _), alone in groups.items():
        if _share_a_name(survey, records, code, alone):
            gathered += [
                _one(survey, [alone.pop(row) for row in together.rows], together)
                for together in taken_together(list(alone), _scopes(survey, records, code))
            ]
        gathered += alone.values()
    return gathered


def _share_a_name(survey: CheckedSurvey, records: Records, code: str, rows: Iterable[int]) -> bool:
    """Tell whether enough of the rows have a file or a crew in common to pay the price of it."""
    if code not in _BY_FILE | _BY_CREW:
        return False
    names = Counter(_whose(survey, records, code, row) for row in rows)
    return max(names.values()) * _SHOWS > min(_PRICE["file"], _PRICE["crew"])


def _scopes(survey: CheckedSurvey, records: Records, code: str) -> list[Scope]:
    """Return the files or the crews of the structures that have a verdict and could show a fault."""
    able = np.isfinite(survey.checks.along)
    if code == "square to one tangent":
        able &= np.abs(survey.figures.deflection_deg) > 0.0
    if code == "pole letters exchanged":
        able &= survey.figures.structures.pole_count == 3
    by: dict[str, list[int]] = defaultdict(list)
    for row in np.flatnonzero(able).tolist():
        by[_whose(survey, records, code, row)].append(row)
    shared: Literal["file", "crew"] = "file" if code in _BY_FILE else "crew"
    return [
        Scope(shared=shared, name=name, words=f"of {name}", rows=tuple(rows))
        for name, rows in by.items()
        if name
    ]


def _whose(survey: CheckedSurvey, records: Records, code: str, row: int) -> str:
    """Return the file or the crew a suspicion at a row may be gathered by, "" when it may not."""
    if code in _BY_FILE:
        files = survey.files_of.get(row, ())
        return file_subject(files[0]) if len(files) == 1 else ""
    crew = records.crew(survey.figures.key(row), "framed")
    return f"crew {crew}" if crew else ""


def _one(survey: CheckedSurvey, group: list[Suspicion], together: Together) -> Suspicion:
    first, rows = group[0], together.rows
    where = f"{counted(len(rows), 'structure')} of one {'crew' if first.code in _BY_CREW else 'survey'}"
    return replace(
        first,
        subject=together.scope.name,
        rows=rows,
        words=f"{first.code} at {where}: {listed(survey.numbers(rows))}",
        evidence=tuple(f"{each.subject}: {each.words}" for each in group[:5]),
        correction=first.correction and {**first.correction, "structures": list(survey.numbers(rows))},
    )
