"""The line on which shots lie whose number is on several lines and which name none of them.

Labels may be off, columns exchanged and units or references others as well: these are looked at later.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from linemap.domain.causes.cause import Suspicion, counted, listed
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.causes.signature_misread import IN_ITS_ZONE_M, UNITS
from linemap.domain.causes.signature_reference import reference_of
from linemap.domain.survey.set_poles import distance
from linemap.domain.survey.shot import Shot

#: A shot without a line is of the structure whose centre is within this, poles and all else (100 and 500 ft).
_OF_A_POLE_M, _OF_ANOTHER_ITEM_M = 30.48, 152.4
#: Lines tried for a file that lies near none.
_MOST_LINES = 100


def lines_of_shots(survey: CheckedSurvey, shots: Sequence[Shot]) -> list[Suspicion]:
    """Find the line on which shots lie whose number is on several lines and which name none of them.

    Returns
    -------
    list of Suspicion
        "line of the shots", one a file and line, with a correction of all its shots or of the rows there.
    """
    rows_of = _rows_of_ambiguous(survey, shots)
    if not rows_of:
        return []
    known = _names(survey)
    unnamed = [shot for shot in shots if shot.structure in rows_of and shot.line.casefold() not in known]
    homes: dict[str, dict[int, list[tuple[Shot, int]]]] = defaultdict(lambda: defaultdict(list))
    lost: set[str] = set()
    near = _lines_near(survey, unnamed)
    by_reference = _lines_by_reference(survey, unnamed, near, rows_of)
    for shot, found in zip(unnamed, near, strict=True):
        line = by_reference.get(shot.file, found)
        row = rows_of[shot.structure].get(line)
        if row is None:
            lost.add(shot.file)
        else:
            homes[shot.file][line].append((shot, row))
    return [
        _on_line(survey, file, line, mine, whole=len(lines) == 1 and file not in lost)
        for file, lines in homes.items()
        for line, mine in lines.items()
        if any(shot.item == "pole" for shot, _ in mine)
    ]


def _names(survey: CheckedSurvey) -> set[str]:
    return {line.name.casefold() for line in survey.figures.lines}


def _rows_of_ambiguous(survey: CheckedSurvey, shots: Iterable[Shot]) -> dict[str, dict[int, int]]:
    """Return by line the rows of each number that poles without a line have and several lines have."""
    if len(survey.figures.lines) < 2:
        return {}
    known = _names(survey)
    asked = {shot.structure for shot in shots if shot.item == "pole" and shot.line.casefold() not in known}
    rows: dict[str, dict[int, int]] = defaultdict(dict)
    if asked:
        for row, number in enumerate(survey.figures.structures.number.tolist()):
            if number in asked:
                rows[number][int(survey.figures.line_index[row])] = row
    return {number: each for number, each in rows.items() if len(each) > 1}


def _lines_near(survey: CheckedSurvey, shots: Sequence[Shot]) -> list[int]:
    """Return the line of the structure nearest to each shot; -1 = none is near.

    Labels may be off and coordinates misread as well: any structure will do, and columns and units are tried.
    """
    at = np.array([(shot.easting, shot.northing) for shot in shots], dtype=np.float64)
    reach = np.array([_OF_A_POLE_M if shot.item == "pole" else _OF_ANOTHER_ITEM_M for shot in shots])
    line = np.full(len(shots), -1, dtype=np.int64)
    for meant in (at, at[:, ::-1], *(at * factor for _, factor in UNITS)):
        nearest = survey.nearest(meant)
        away = distance(meant, survey.centre[nearest]) * survey.figures.grid_metres[nearest]
        near = (line < 0) & (away <= reach)
        line[near] = survey.figures.line_index[nearest[near]]
    return line.tolist()


def _lines_by_reference(
    survey: CheckedSurvey,
    shots: Sequence[Shot],
    near: Sequence[int],
    rows_of: Mapping[str, Mapping[int, int]],
) -> dict[str, int]:
    """Return the line of files that lie near none, where taken from another reference they are of one."""
    astray: dict[str, list[Shot]] = defaultdict(list)
    for shot in shots:
        astray[shot.file].append(shot)
    for shot, line in zip(shots, near, strict=True):
        if line >= 0:
            astray.pop(shot.file, None)
    found: dict[str, int] = {}
    for file, mine in astray.items():
        fits = [line for line in _lines_of(mine, rows_of) if _fits(survey, mine, line, rows_of)]
        if len(fits) == 1:
            found[file] = fits[0]
    return found


def _lines_of(shots: Sequence[Shot], rows_of: Mapping[str, Mapping[int, int]]) -> list[int]:
    """Return the lines that have every number of some shots, the first of many."""
    have = [set(rows_of[shot.structure]) for shot in shots]
    return sorted(set.intersection(*have))[:_MOST_LINES]


def _fits(
    survey: CheckedSurvey, shots: Sequence[Shot], line: int, rows_of: Mapping[str, Mapping[int, int]]
) -> bool:
    rows = np.array([rows_of[shot.structure][line] for shot in shots], dtype=np.int64)
    at = np.array([(shot.easting, shot.northing) for shot in shots], dtype=np.float64)
    return reference_of(survey, rows, at, within_m=IN_ITS_ZONE_M) is not None


def _on_line(
    survey: CheckedSurvey, file: str, line: int, mine: Sequence[tuple[Shot, int]], *, whole: bool
) -> Suspicion:
    poles = [(shot, row) for shot, row in mine if shot.item == "pole"]
    rows = sorted({row for _, row in poles})
    name = survey.figures.lines[line].name
    away = float(np.median([_apart(survey, shot, row) for shot, row in poles]))
    return Suspicion(
        code="line of the shots",
        subject=file_subject(file) if whole else f"{file_subject(file)} on {name}",
        rows=tuple(rows),
        words=(
            f"{counted(len(poles), 'shot')} name no line, and several lines have their "
            f"{counted(len(rows), 'number')}: they lie on line {name}, half of them within {away:,.1f} "
            f"{survey.unit} of the centres there ({listed(survey.numbers(rows))})"
        ),
        evidence=(
            "the whole file lies on that line" if whole else "other shots of the file lie elsewhere",
            *_farther(survey, poles),
        ),
        correction={"kind": "line", "file": file, "line": name}
        | ({} if whole else {"rows": [shot.row for shot, _ in mine]}),
        cost_rank=2,
        asks_for=f"the field book: which line was surveyed; a column line in the file would say {name}",
    )


def _apart(survey: CheckedSurvey, shot: Shot, row: int) -> float:
    east, north = survey.centre[row] - (shot.easting, shot.northing)
    return float(np.hypot(east, north) / survey.figures.combined_factor[row])


def _farther(survey: CheckedSurvey, poles: Sequence[tuple[Shot, int]]) -> Iterable[str]:
    """Say how near the nearest structure of one of these numbers on another line is."""
    own = {survey.number(row): row for _, row in poles}
    beside = (
        (float(np.hypot(*(survey.centre[row] - survey.centre[own[number]]))), row)
        for row, number in enumerate(survey.figures.structures.number.tolist())
        if number in own and row != own[number]
    )
    apart, row = min(beside)
    ground = apart / survey.figures.combined_factor[row]
    yield f"the same numbers of line {survey.line(row).name} stand {ground:,.0f} {survey.unit} away or more"
