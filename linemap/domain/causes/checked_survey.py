"""A survey held against its design, as the signatures of causes look at it: figures, check, shots by file."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from shapely import STRtree

from linemap.domain.causes.cause import DecisionKey, Suspicion
from linemap.domain.causes.correction import Order
from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Line
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.orientation import check
from linemap.domain.survey.session import centre_limits
from linemap.domain.survey.set_poles import SetPoles, centres_of, cluster_matched, nearest_rows, tree_of
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.shot_match import MatchedShots, match_shots
from linemap.domain.survey.verdict import Checks, Verdict


@dataclass(frozen=True, kw_only=True, eq=False)
class CheckedSurvey:
    """One survey against its design; rows are rows of `figures`."""

    figures: Figures
    set_poles: SetPoles
    checks: Checks
    tolerances: Tolerances
    #: Shots of poles that name a structure and pole of the design.
    matched: MatchedShots
    #: File of each matched shot: index into `files`.
    file: IntArray
    files: tuple[str, ...]
    #: Names of the files whose shots name the structure of a row; rows without shots are left out.
    files_of: Mapping[int, tuple[str, ...]]
    #: (n, 2) design centres, grid easting and northing.
    centre: FloatArray
    #: True where something must be explained.
    exception: BoolArray

    @classmethod
    def of(
        cls,
        figures: Figures,
        set_poles: SetPoles,
        checks: Checks,
        shots: Sequence[Shot],
        tolerances: Tolerances,
    ) -> CheckedSurvey:
        """Put the shots beside the design."""
        matched, _ = match_shots([shot for shot in shots if shot.item == "pole"], figures)
        return cls._beside(figures, set_poles, checks, matched, tolerances)

    @classmethod
    def _beside(
        cls,
        figures: Figures,
        set_poles: SetPoles,
        checks: Checks,
        matched: MatchedShots,
        tolerances: Tolerances,
    ) -> CheckedSurvey:
        names = sorted({shot.file for shot in matched.shots})
        position = {name: index for index, name in enumerate(names)}
        files_of: dict[int, dict[str, None]] = defaultdict(dict)
        for row, shot in zip(matched.row.tolist(), matched.shots, strict=True):
            files_of[row][shot.file] = None
        return cls(
            figures=figures,
            set_poles=set_poles,
            checks=checks,
            tolerances=tolerances,
            matched=matched,
            file=np.array([position[shot.file] for shot in matched.shots], dtype=np.int64),
            files=tuple(names),
            files_of={row: tuple(files) for row, files in files_of.items()},
            centre=centres_of(figures),
            exception=_exceptions(checks),
        )

    def with_shots(self, shots: Sequence[Shot]) -> CheckedSurvey:
        """Return the same lines with other shots, brought together and checked afresh."""
        figures, limits = self.figures, self.tolerances
        matched, _ = match_shots([shot for shot in shots if shot.item == "pole"], figures)
        poles = cluster_matched(matched, figures, default_sigma=limits.shot_sigma)
        return CheckedSurvey._beside(figures, poles, check(figures, poles, limits), matched, limits)

    def orders(self, suspicions: Iterable[Suspicion]) -> list[Order]:
        """Return the corrections of suspicions, as if they were accepted."""
        return [
            Order(each.correction, self.line_name(each.rows), "as if corrected")
            for each in suspicions
            if each.correction is not None
        ]

    def key(self, suspicion: Suspicion) -> DecisionKey:
        """Return what a decision on a suspicion would be found by."""
        return (suspicion.code, suspicion.subject, self.line_name(suspicion.rows))

    @property
    def unit(self) -> str:
        """Sign of the ground unit."""
        return self.tolerances.unit

    def nearest(self, at: FloatArray) -> IntArray:
        """Return the row of the structure whose design centre is nearest to each grid point."""
        return nearest_rows(self._tree, at)

    @cached_property
    def _tree(self) -> STRtree:
        return tree_of(self.centre)

    def number(self, row: int) -> str:
        """Return the number of the structure of a row."""
        return str(self.figures.structures.number[row])

    def numbers(self, rows: Iterable[int]) -> tuple[str, ...]:
        """Return the numbers of the structures of rows."""
        return tuple(self.number(row) for row in rows)

    def line(self, row: int) -> Line:
        """Return the line of a row."""
        return self.figures.line_of(row)

    def line_name(self, rows: Iterable[int]) -> str:
        """Return the name of the one line of all the rows, "" when they are on several."""
        names = {self.line(row).name for row in rows}
        return names.pop() if len(names) == 1 else ""

    def subject(self, row: int) -> str:
        """Return a structure as the subject of a cause."""
        return f"structure {self.number(row)}"

    def residuals(self, rows: IntArray) -> dict[str, tuple[FloatArray, FloatArray, FloatArray]]:
        """Return by name value, sigma and tolerance of each residual at some rows; nan where not known."""
        checks, limits, alike = self.checks, self.tolerances, np.ones(len(rows))
        along, across = centre_limits(self.figures, rows, limits).T
        table = {
            "rotation": (checks.rotation_deg, checks.rotation_sigma_deg, limits.rotation_deg.value * alike),
            "along": (checks.along, checks.along_sigma, along),
            "across": (checks.across, checks.across_sigma, across),
            "spacing": (checks.spacing_error, checks.spacing_sigma, limits.spacing.value * alike),
            "bow": (checks.collinearity, checks.collinearity_sigma, limits.collinearity.value * alike),
        }
        return {name: (value[rows], sigma[rows], limit) for name, (value, sigma, limit) in table.items()}


def file_subject(file: str) -> str:
    """Name a file as the subject of a cause.

    >>> file_subject("may.csv"), file_subject("")
    ('file may.csv', 'shots without a file')
    """
    return f"file {file}" if file else "shots without a file"


def _exceptions(checks: Checks) -> BoolArray:
    failed = np.array([verdict is Verdict.FAIL for verdict in checks.verdict], dtype=np.bool_)
    unsure = np.array([verdict is Verdict.CANNOT_TELL for verdict in checks.verdict], dtype=np.bool_)
    missing = np.array([text != "" for text in checks.missing], dtype=np.bool_)
    coarse = unsure & np.isfinite(checks.along) & ~checks.provable
    return failed | checks.withheld | checks.reversed | missing | coarse
