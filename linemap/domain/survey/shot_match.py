"""Which structure and which pole of the design each pole shot names."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import POLE_LETTERS, BoolArray, FloatArray, IntArray
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.shot import Shot

#: Position of each pole by its letter.
_POLES = {letter: position for position, letter in enumerate(POLE_LETTERS)}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatchedShots:
    """Shots with the row of `Figures` and the pole they name; columns of one length."""

    shots: tuple[Shot, ...]
    row: IntArray
    #: 0, 1, 2 for poles A, B, C.
    pole: IntArray
    #: Grid easting and northing, (m, 2).
    at: FloatArray

    def take(self, keep: BoolArray) -> MatchedShots:
        """Return the shots where `keep` is true."""
        return MatchedShots(
            shots=tuple(itertools.compress(self.shots, keep)),
            row=self.row[keep],
            pole=self.pole[keep],
            at=self.at[keep],
        )

    def by_row(self, where: BoolArray) -> dict[int, list[int]]:
        """Return the positions of the shots where `where` is true, gathered by row."""
        groups: dict[int, list[int]] = defaultdict(list)
        for position in np.flatnonzero(where).tolist():
            groups[int(self.row[position])].append(position)
        return dict(groups)


def match_shots(shots: Sequence[Shot], figures: Figures) -> tuple[MatchedShots, list[Finding]]:
    """Match pole shots to the structures of computed lines by line name and structure number.

    A shot without a line name belongs to the only line that has its number.

    Returns
    -------
    MatchedShots, list of Finding
        Every shot is either matched or told: "unknown structure", "line not named", "pole not in design".
    """
    used: list[tuple[Shot, int, int]] = []
    findings: list[Finding] = []
    count = figures.structures.pole_count.tolist()
    for shot, row in rows_of(shots, figures):
        if isinstance(row, Finding):
            findings.append(row)
        elif (pole := _POLES.get(shot.pole, 3)) >= count[row]:
            findings.append(_no_such_pole(shot, figures, row))
        else:
            used.append((shot, row, pole))
    matched = MatchedShots(
        shots=tuple(shot for shot, _, _ in used),
        row=np.array([row for _, row, _ in used], dtype=np.int64),
        pole=np.array([pole for _, _, pole in used], dtype=np.int64),
        at=np.array([(shot.easting, shot.northing) for shot, _, _ in used], dtype=np.float64).reshape(-1, 2),
    )
    return matched, findings


def rows_of(shots: Sequence[Shot], figures: Figures) -> Iterator[tuple[Shot, int | Finding]]:
    """Give each shot with the row of its structure, or with the finding that says why it has none."""
    rows = _rows_by_number(figures, {shot.structure for shot in shots})
    called = {line.name.casefold(): line.name for line in figures.lines}
    for shot in shots:
        candidates = rows.get(shot.structure, {})
        row = _own_row(shot, candidates)
        yield shot, _unmatched(shot, sorted(map(called.__getitem__, candidates))) if row is None else row


def finding_at(
    figures: Figures, row: int, code: str, *, part: str = "", weight: Severity | None = None, **values: Any
) -> Finding:
    """Return a finding on the structure of a row, with its values by name."""
    line, structure = figures.key(row)
    return Finding(line=line, structure=structure, code=code, part=part, values=values, weight=weight)


def point_names(shots: Sequence[Shot]) -> str:
    """Name shots by point number, or by row where they have none; each file is told once.

    >>> point_names([Shot(point="5011", easting=0.0, northing=0.0, file="may.txt")])
    'point 5011 of may.txt'
    """
    points = "point" if len(shots) == 1 else "points"
    listed = ", ".join(shot.point or f"row {shot.row}" for shot in shots)
    files = sorted({shot.file for shot in shots if shot.file})
    return f"{points} {listed}" + (f" of {', '.join(files)}" if files else "")


def _rows_by_number(figures: Figures, wanted: set[str]) -> dict[str, dict[str, int]]:
    """Return number -> folded line name -> row, of the numbers wanted."""
    number = figures.structures.number
    among = np.fromiter(map(wanted.__contains__, number), dtype=np.bool_, count=len(number))
    at = np.flatnonzero(among)
    names = [line.name.casefold() for line in figures.lines]
    rows: dict[str, dict[str, int]] = defaultdict(dict)
    for row, text, line in zip(at.tolist(), number[at], figures.line_index[at].tolist(), strict=True):
        rows[text][names[line]] = row
    return rows


def _own_row(shot: Shot, candidates: dict[str, int]) -> int | None:
    if shot.line:
        return candidates.get(shot.line.casefold())
    return next(iter(candidates.values())) if len(candidates) == 1 else None


def _unmatched(shot: Shot, lines: list[str]) -> Finding:
    code = "line not named" if lines and not shot.line else "unknown structure"
    values = {
        "description": shot.description,
        "points": point_names([shot]),
        "number": shot.structure,
        "lines": lines,
    }
    return Finding(
        line=shot.line, structure=shot.structure, code=code, part=_row_of_file(shot), values=values
    )


def _no_such_pole(shot: Shot, figures: Figures, row: int) -> Finding:
    return finding_at(
        figures,
        row,
        "pole not in design",
        part=_row_of_file(shot),
        points=point_names([shot]),
        pole=shot.pole,
        poles=figures.letters_of(row),
    )


def _row_of_file(shot: Shot) -> str:
    return f"{shot.file} row {shot.row}"
