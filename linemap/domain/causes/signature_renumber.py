"""Signatures of the labels of a whole file: each number so many structures off, or those of another line.

A file, or a stretch of it in the order it was shot, is one cause where that explains its labels better than
one wrong label each (`linemap.domain.causes.together`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted, listed, odds_text
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.causes.signature_relabel import number_at_poles
from linemap.domain.causes.together import Scope, Together, stretches, taken_together
from linemap.domain.design.structure import BoolArray, IntArray
from linemap.domain.survey.set_poles import at_another, distance
from linemap.domain.survey.shot import Shot

#: With a law taken out half of the shots lie within this of their structures (50 ft) ...
_HOME_M = 15.24
#: ... and labels are off by no more structures than this. Common practice, no source.
_FARTHEST = 5
_COUNTS = ("none", "one", "two", "three", "four", "five")


class _Law(NamedTuple):
    """What the labels of shots have in common that lie elsewhere."""

    #: Structures ahead at which they lie; 0 = at the same number of another line.
    ahead: int
    #: Line they are labelled with and line they lie on, indices.
    labelled: int
    lies_on: int


def renumbered_files(survey: CheckedSurvey, shots: Sequence[Shot]) -> list[Suspicion]:
    """Find files whose labels are off by one law.

    Returns
    -------
    list of Suspicion
        "labels off by one" (or "by two", ...) and "shots of another line", each with a correction of all of
        them at once; the structures the shots lie at are explained too.
    """
    own = survey.matched.row
    looked_at = survey.checks.withheld[own]
    if not looked_at.any():
        return []
    target, astray = at_another(survey.matched, survey.figures, looked_at)
    found: list[Suspicion] = []
    for (index, law), chosen in _laws(survey, target, astray).items():
        here = np.flatnonzero((survey.file == index) & (survey.figures.line_index[own] == law.labelled))
        for together in taken_together(own[chosen].tolist(), _scopes(survey, index, here, chosen)):
            mine = chosen[np.isin(own[chosen], together.rows)]
            if _home(survey, mine, target):
                found.append(_renumbered(survey, shots, law, together, mine, target))
    return found


def _laws(survey: CheckedSurvey, target: IntArray, astray: BoolArray) -> dict[tuple[int, _Law], IntArray]:
    """Gather the positions of shots that lie elsewhere by file and by the law that says where."""
    own, figures = survey.matched.row, survey.figures
    line, number = figures.line_index, figures.structures.number
    groups: dict[tuple[int, _Law], list[int]] = defaultdict(list)
    for i in np.flatnonzero(astray).tolist():
        row, there = int(own[i]), int(target[i])
        same_line = line[row] == line[there]
        if (same_line and abs(there - row) <= _FARTHEST) or (not same_line and number[row] == number[there]):
            law = _Law(there - row if same_line else 0, int(line[row]), int(line[there]))
            groups[int(survey.file[i]), law].append(i)
    return {key: np.array(group, dtype=np.int64) for key, group in groups.items()}


def _scopes(survey: CheckedSurvey, index: int, here: IntArray, chosen: IntArray) -> list[Scope]:
    """Return the file, and the stretches of it in the order shot whose labels are off."""
    file, own = survey.files[index], survey.matched.row
    order = here[np.argsort([survey.matched.shots[i].row for i in here.tolist()], kind="stable")]
    rows = list(dict.fromkeys(own[order].tolist()))
    off = set(own[chosen].tolist())
    whole = Scope(shared="file", name=file_subject(file), words=f"of {file_subject(file)}", rows=tuple(rows))
    part = Scope(shared="part", name=whole.name, words=f"in a row of {whole.name}", rows=())
    return [whole, *stretches(rows, ["off" if row in off else "" for row in rows], part)]


def _home(survey: CheckedSurvey, mine: IntArray, target: IntArray) -> bool:
    return float(np.median(_left(survey, mine, target) * survey.figures.grid_metres[target[mine]])) <= _HOME_M


def _left(survey: CheckedSurvey, mine: IntArray, target: IntArray) -> Any:
    return distance(survey.matched.at[mine], survey.centre[target[mine]])


def _renumbered(
    survey: CheckedSurvey,
    shots: Sequence[Shot],
    law: _Law,
    together: Together,
    mine: IntArray,
    target: IntArray,
) -> Suspicion:
    own = survey.matched.row[mine]
    pairs = dict(zip(own.tolist(), target[mine].tolist(), strict=True))
    numbers = {survey.number(row): survey.number(there) for row, there in pairs.items()}
    file = survey.files[int(survey.file[mine[0]])]
    first, last = together.rows[0], together.rows[-1]
    part = together.scope.shared == "part"
    if law.ahead:
        numbers |= _past_the_end(survey, shots, file, set(pairs.values()))
    reach = _left(survey, mine, target) / survey.figures.combined_factor[own]
    as_read = distance(survey.matched.at[mine], survey.centre[own]) / survey.figures.combined_factor[own]
    others = len(together.scope.rows) - len(together.rows)
    rows_beside = sum(row not in pairs for row in set(pairs.values()))
    subject = together.scope.name
    return Suspicion(
        code=f"labels off by {_COUNTS[abs(law.ahead)]}" if law.ahead else "shots of another line",
        subject=f"{subject}, {survey.number(first)} to {survey.number(last)}" if part else subject,
        rows=tuple(sorted({*pairs, *pairs.values()})),
        words=f"{_law_words(survey, law, numbers)}: with that taken out every shot lies within "
        f"{float(reach.max()):.1f} {survey.unit} of the centre of its structure",
        evidence=(
            f"{counted(len(pairs), 'number')} {together.scope.words}: as labelled "
            f"{float(as_read.min()):,.0f} to {float(as_read.max()):,.0f} {survey.unit} away",
            f"{others or 'no'} other{'s' if others != 1 else ''} of the file "
            f"{'lie' if others != 1 else 'lies'} where labelled",
            f"a wrong number by itself at each {odds_text(together.gain)}",
            f"{rows_beside} of the structures they lie at {'has' if rows_beside == 1 else 'have'} no label "
            "of this file's",
        ),
        correction=_correction(survey, shots, law, file, numbers, mine),
        cost_rank=2,
        asks_for="the field book: where the count began and which stake or tag was read first"
        if law.ahead
        else f"the field book: which line was surveyed, {survey.figures.lines[law.lies_on].name}",
    )


def _law_words(survey: CheckedSurvey, law: _Law, numbers: Mapping[str, str]) -> str:
    if not law.ahead:
        labelled, lies_on = (survey.figures.lines[i].name for i in (law.labelled, law.lies_on))
        return (
            f"shots of {counted(len(numbers), 'number')} labelled line {labelled} lie at the same numbers of "
            f"line {lies_on} ({listed(tuple(numbers))})"
        )
    count, way = abs(law.ahead), "ahead" if law.ahead > 0 else "back"
    said = [f"{label} lies at {there}" for label, there in numbers.items()]
    return (
        f"{counted(len(numbers), 'label')} off by {_COUNTS[count]}, the shots lie {_COUNTS[count]} "
        f"structure{'s' if count > 1 else ''} {way} ({', '.join(said[:3])}{', ...' if len(said) > 3 else ''})"
    )


def _past_the_end(survey: CheckedSurvey, shots: Sequence[Shot], file: str, taken: set[int]) -> dict[str, str]:
    """Return the number that the count reached beyond the list, with the structure its shots lie at."""
    there = number_at_poles(survey, (shot for shot in shots if shot.file == file), taken)
    return {number: survey.number(row) for number, row in there.items()}


def _correction(
    survey: CheckedSurvey,
    shots: Sequence[Shot],
    law: _Law,
    file: str,
    numbers: Mapping[str, str],
    mine: IntArray,
) -> Mapping[str, Any]:
    """Correct all shots of the file that have one of the numbers; some rows where a number is used twice."""
    labelled = survey.figures.lines[law.labelled].name
    of_file = [shot for shot in shots if shot.file == file and shot.line in {"", labelled}]
    rows = [survey.matched.shots[i].row for i in mine.tolist()]
    chosen = [shot for shot in of_file if shot.structure in numbers]
    between = [shot.row for shot in chosen if min(rows) <= shot.row <= max(rows)]
    some: Mapping[str, Any] = {"rows": between} if len(between) < len(chosen) and _twice(survey, mine) else {}
    if law.ahead:
        return {"kind": "renumber", "file": file, "numbers": dict(numbers), **some}
    every = len(chosen) == len([shot for shot in of_file if shot.structure])
    some = {} if every else {"rows": [shot.row for shot in chosen]}
    return {"kind": "line", "file": file, "line": survey.figures.lines[law.lies_on].name, **some}


def _twice(survey: CheckedSurvey, mine: IntArray) -> bool:
    """Tell whether other shots of the file have these numbers and lie where they say."""
    same = (survey.file == survey.file[mine[0]]) & np.isin(survey.matched.row, survey.matched.row[mine])
    return int(same.sum()) > len(mine)
