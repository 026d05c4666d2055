"""Signature of a number that no structure has: shots that lie at one listed structure nobody else shot."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from linemap.domain.causes.cause import Suspicion
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.design.structure import FloatArray
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import point_names

#: Shots farther than this from every design pole of a structure are not taken for its shots (5 ft).
_AT_POLE_M = 1.524


def unknown_labels(survey: CheckedSurvey, shots: Sequence[Shot]) -> list[Suspicion]:
    """Find shots whose structure number is in no list and which lie where a structure without shots stands.

    Returns
    -------
    list of Suspicion
        "unknown number", one for each number, with a relabelling; a structure is given to one number only.
        Shots that lie at no pole, at several structures or at one that has shots of its own stay findings.
    """
    strangers = _strangers(survey, shots)
    surveyed = set(survey.matched.row.tolist())
    found: list[Suspicion] = []
    for number in sorted(strangers):
        row = _one_row(survey, strangers[number])
        if row is not None and row not in surveyed:
            surveyed.add(row)
            found.append(_unknown(survey, number, row, strangers[number]))
    return found


def _strangers(survey: CheckedSurvey, shots: Sequence[Shot]) -> dict[str, list[Shot]]:
    """Gather the pole shots of numbers that are in no list; of one number, those of the file with most."""
    named = {shot.structure for shot in shots if shot.item == "pole" and shot.structure}
    unknown = named.difference(survey.figures.structures.number)
    gathered: dict[str, list[Shot]] = defaultdict(list)
    if unknown:
        for shot in shots:
            if shot.item == "pole" and shot.pole and shot.structure in unknown:
                gathered[shot.structure].append(shot)
    for number, mine in gathered.items():
        (file, _), *_ = Counter(shot.file for shot in mine).most_common(1)
        gathered[number] = [shot for shot in mine if shot.file == file]
    return gathered


def _one_row(survey: CheckedSurvey, shots: Sequence[Shot]) -> int | None:
    """Return the row of the structure at whose poles all the shots lie; None = there is no one such."""
    at = _positions(shots)
    rows = set(survey.nearest(at).tolist())
    if len(rows) != 1:
        return None
    row = int(rows.pop())
    poles = survey.figures.letters_of(row)
    if any(shot.pole not in poles for shot in shots) or _is_of_another_line(survey, shots, row):
        return None
    design = survey.figures.poles[row, : len(poles)]
    apart = np.hypot(*(at[:, np.newaxis] - design).transpose(2, 0, 1)).min(axis=1) * survey.metres[row]
    return row if bool((apart <= _AT_POLE_M).all()) else None


def _is_of_another_line(survey: CheckedSurvey, shots: Sequence[Shot], row: int) -> bool:
    name = survey.line(row).name.casefold()
    return any(shot.line and shot.line.casefold() != name for shot in shots)


def _positions(shots: Sequence[Shot]) -> FloatArray:
    return np.array([(shot.easting, shot.northing) for shot in shots], dtype=np.float64)


def _unknown(survey: CheckedSurvey, number: str, row: int, shots: Sequence[Shot]) -> Suspicion:
    here = survey.number(row)
    near = float(np.hypot(*(_positions(shots).mean(axis=0) - survey.centre[row])))
    ground = near / survey.figures.combined_factor[row]
    alike = likeness(number, here)
    reach = _AT_POLE_M / survey.line(row).unit.metres
    return Suspicion(
        code="unknown number",
        subject=f"structure {number}",
        rows=(row,),
        words=(
            f"{point_names(list(shots))} labelled {number}, which is in no list, lie at {here}, "
            f"which has no shots of its own: {alike or 'a wrong number'}"
        ),
        evidence=(
            f"their mean lies {ground:.2f} {survey.unit} from the centre of {here}",
            f"every one lies within {reach:.1f} {survey.unit} of a pole of {here}",
            f"no shot is labelled {here}",
            f"{number} and {here}: {alike or 'the numbers are not alike, so look twice'}",
        ),
        correction={
            "kind": "relabel",
            "file": shots[0].file,
            "rows": [shot.row for shot in shots],
            "structure": here,
            "line": survey.line(row).name,
        },
        cost_rank=4,
        asks_for=f"the field book: which structure was shot as {number}, and is {number} in a newer list",
    )


def likeness(number: str, other: str) -> str:
    """Say how two structure numbers are alike, "" when they are not.

    >>> likeness("13/2", "12/3"), likeness("12/13", "12/3"), likeness("12/4", "12/3"), likeness("9/1", "12/3")
    ('digits exchanged', 'a digit too many', 'one digit wrong', '')
    """
    one, two = (text.replace("/", "").replace("-", "") for text in (number, other))
    if one == two:
        return "the mark between mile and number misplaced"
    if sorted(one) == sorted(two):
        return "digits exchanged"
    if len(one) == len(two):
        return "one digit wrong" if sum(a != b for a, b in zip(one, two, strict=True)) == 1 else ""
    longer, shorter = sorted((one, two), key=len, reverse=True)
    if len(longer) - len(shorter) > 1 or tuple(shorter) not in set(combinations(longer, len(shorter))):
        return ""
    return "a digit too many" if longer == one else "a digit left out"
