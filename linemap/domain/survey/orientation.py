"""The orientation check: is each frame set as designed, is it not, or can this survey not tell.

Every residual is judged with its uncertainty (JCGM 106:2012): inside its tolerance with the confidence
asked for, outside with that confidence, or neither. A frame whose A and B stand the other way round is its
own finding; half a turn is never folded into the rotation, and coordinates alone never tell whether the
labels or the frame are the wrong way round.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import chain

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Block, Finding
from linemap.domain.survey.set_poles import SetPoles
from linemap.domain.survey.verdict import Checks, Outcome, Verdict
from linemap.geometry.batches import Columns, even_batches, in_batches


def check(figures: Figures, set_poles: SetPoles, tolerances: Tolerances) -> Checks:
    """Judge every surveyed frame against its design.

    Parameters
    ----------
    figures : Figures
        Computed lines; residuals are taken in each structure's own frame (bisector at angles).
    set_poles : SetPoles
        Surveyed poles of the same rows.
    tolerances : Tolerances
        In the lines' ground unit. Where the centreline turns and at section breaks the tolerance along
        the line is the one for angles.

    Returns
    -------
    Checks
        Pass: every residual is inside its tolerance with the confidence asked for. Fail: one is outside
        with that confidence. Else cannot tell; so are a missing pole, withheld shots, and a reversed frame
        that does not fail. Spacing is not judged where the design gives none. `Finding.code`: "pole not
        shot", "reversed", "sides not known", "arm turned", "centre along", "centre across", "spacing",
        "collinearity", "survey cannot prove". Findings on the shots stay in `SetPoles.findings`.

    Raises
    ------
    ValueError
        If the tolerances are in another unit than the lines.
    """
    _refuse_other_unit(figures, tolerances)
    found = Columns(size=len(figures))

    def judge(part: slice) -> list[Block]:
        outcome = Outcome.of(figures, set_poles, tolerances, part)
        found.put(part, outcome.columns())
        return outcome.findings()

    found_in = in_batches(judge, even_batches(len(figures)))
    return Checks(withheld=set_poles.conflict, findings=tuple(chain.from_iterable(found_in)), **found.whole)


def withhold(checks: Checks, figures: Figures, *, missing: tuple[str, ...]) -> Checks:
    """Return the checks without any verdict, because something about the coordinates is not declared.

    Residuals stay visible; surveyed structures become "cannot tell", and each of them and each line gets a
    finding that says what is missing. With nothing missing the checks come back as they are.

    Parameters
    ----------
    checks : Checks
    figures : Figures
        The figures the checks belong to.
    missing : tuple of str
        What is not declared, in words.
    """
    surveyed = checks.verdict != Verdict.NOT_SURVEYED
    if not missing or not surveyed.any():
        return checks
    verdict = checks.verdict.copy()
    verdict[surveyed] = Verdict.CANNOT_TELL
    values = {"missing": missing}
    of_lines = (
        Finding(line=line.name, structure="", code="not declared", values=values) for line in figures.lines
    )
    of_structures = Block(code="not declared", rows=np.flatnonzero(surveyed), values=values)
    return replace(
        checks,
        verdict=verdict,
        probability_in_tolerance=np.full(len(verdict), np.nan),
        withheld=checks.withheld | surveyed,
        findings=(*of_lines, of_structures, *checks.findings),
    )


def _refuse_other_unit(figures: Figures, tolerances: Tolerances) -> None:
    for line in figures.lines:
        if line.unit.symbol != tolerances.unit:
            raise ValueError(
                f"tolerances are in {tolerances.unit}, line {line.name!r} is in {line.unit.symbol}; "
                "give tolerances in the line's unit"
            )
