"""Signatures of labels: shots that lie at another structure, or on another line, than their numbers say.

One law for a whole file, or for a stretch of it (every label so many structures off, or of another line), is
held against one wrong label each (`linemap.domain.causes.together`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.survey.set_poles import at_another
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import point_names


def strange_labels(survey: CheckedSurvey, shots: Sequence[Shot], rows: IntArray) -> list[Suspicion]:
    """Find shots that lie at another structure than their label says, each with a relabelling.

    Returns
    -------
    list of Suspicion
        "neighbour's label", one a row; it also explains the structure the shots lie at.
    """
    own = survey.matched.row
    looked_at = np.isin(own, rows[survey.checks.withheld[rows]])
    target, astray = at_another(survey.matched, survey.figures, looked_at)
    strange = np.unique(own[astray]).tolist()
    taken = set(strange)
    by_number: dict[str, list[Shot]] = defaultdict(list)
    for shot in shots if strange else ():
        by_number[shot.structure].append(shot)
    found = []
    for row in strange:
        found.append(_strange_label(survey, row, astray, target, taken, by_number[survey.number(row)]))
        taken.update(found[-1].rows)
    return found


def _strange_label(
    survey: CheckedSurvey,
    row: int,
    astray: BoolArray,
    target: IntArray,
    taken: set[int],
    labelled: Sequence[Shot],
) -> Suspicion:
    """Word one; the structure the shots lie at is explained too, unless it has a cause of its own."""
    mine = np.flatnonzero(astray & (survey.matched.row == row)).tolist()
    shots = survey.matched.shots
    (there, file), _ = Counter((int(target[i]), shots[i].file) for i in mine).most_common(1)[0]
    moved = [i for i in mine if target[i] == there and shots[i].file == file]
    all_of_row = np.flatnonzero(survey.matched.row == row)
    stay = np.setdiff1d(all_of_row, mine)
    correction = {
        "kind": "relabel",
        "file": file,
        "rows": sorted({shots[i].row for i in moved} | _of_poles_there(survey, there, file, labelled)),
        "structure": survey.number(there),
        "line": survey.line(there).name,
    }
    words = (
        f"{point_names([shots[i] for i in moved])} labelled {survey.number(row)} "
        f"lie{'s' if len(moved) == 1 else ''} at "
        f"{survey.number(there)}, "
        f"{_apart(survey, row, moved, stay)}: a neighbour's label"
    )
    return Suspicion(
        code="neighbour's label",
        subject=survey.subject(row),
        rows=(row,) if there in taken else tuple(sorted({row, there})),
        words=words,
        evidence=_label_evidence(survey, row, there, moved, stay),
        correction=correction,
        cost_rank=4,
        asks_for=f"the order of the shots in the field book; was {survey.number(there)} shot that day",
    )


def _of_poles_there(survey: CheckedSurvey, there: int, file: str, labelled: Sequence[Shot]) -> set[int]:
    """Return rows of a file's shots with the label that the labelled structure has no pole for."""
    mine = [shot for shot in labelled if shot.file == file and shot.item == "pole"]
    return {
        shot.row
        for shot, row in zip(mine, survey.nearest(_positions(mine)).tolist(), strict=True)
        if row == there and shot.pole in survey.figures.letters_of(there)
    }


def _apart(survey: CheckedSurvey, row: int, moved: list[int], stay: IntArray) -> str:
    """Say how far the two groups of shots are apart, or the shots from their structure."""
    home = survey.matched.at[stay].mean(axis=0) if stay.size else survey.centre[row]
    grid = float(np.hypot(*(survey.matched.at[moved].mean(axis=0) - home)))
    apart = f"{grid / survey.figures.combined_factor[row]:,.0f} {survey.unit}"
    if stay.size:
        return f"{counted(len(moved) + len(stay), 'shot')} in two groups {apart} apart"
    return f"{apart} away"


def _label_evidence(
    survey: CheckedSurvey, row: int, there: int, moved: list[int], stay: IntArray
) -> tuple[str, ...]:
    named = int((survey.matched.row == there).sum())
    centre = survey.matched.at[moved].mean(axis=0)
    near = float(np.hypot(*(centre - survey.centre[there]))) / survey.figures.combined_factor[there]
    here, target = survey.number(row), survey.number(there)
    return (
        f"their mean lies {near:.2f} {survey.unit} from the centre of {target}",
        f"{'no shot is' if not named else counted(named, 'shot') + ' also'} labelled {target}",
        f"a frame set one span away: would leave no shots at {here}; {len(stay)} lie there"
        if stay.size
        else f"a frame set in the place of {target}: fits too, no shot lies at {here}",
    )


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
    there = _at_poles(survey, strangers, set(survey.matched.row.tolist())) if strangers else {}
    return [_unknown(survey, number, row, strangers[number]) for number, row in there.items()]


def number_at_poles(survey: CheckedSurvey, shots: Iterable[Shot], taken: set[int]) -> dict[str, int]:
    """Return the numbers in no list, each with the row not `taken` that its shots lie at."""
    return _at_poles(survey, _strangers(survey, shots), taken)


def _at_poles(
    survey: CheckedSurvey, strangers: Mapping[str, Sequence[Shot]], taken: set[int]
) -> dict[str, int]:
    there: dict[str, int] = {}
    for number in sorted(strangers):
        row = _one_row(survey, strangers[number])
        if row is not None and row not in taken and row not in there.values():
            there[number] = row
    return there


def _strangers(survey: CheckedSurvey, shots: Iterable[Shot]) -> dict[str, list[Shot]]:
    """Gather the pole shots of numbers that are in no list; of one number, those of the file with most."""
    gathered: dict[str, list[Shot]] = defaultdict(list)
    for shot in shots:
        if shot.item == "pole" and shot.structure:
            gathered[shot.structure].append(shot)
    unknown = gathered.keys() - set(survey.figures.structures.number)
    gathered = {number: [shot for shot in gathered[number] if shot.pole] for number in unknown}
    gathered = {number: mine for number, mine in gathered.items() if mine}
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
    apart = np.hypot(*(at[:, np.newaxis] - design).transpose(2, 0, 1)).min(axis=1)
    return row if bool((apart * survey.figures.grid_metres[row] <= _AT_POLE_M).all()) else None


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
