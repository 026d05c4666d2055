"""What a coarse survey does to verdicts: wrong passes, wrong fails, cannot tell, over sigma / tolerance.

Frames of invented lines stand within their tolerances, every second one 1.2 to 10 tolerances off in one way.
The sigma of the shots is chosen so that the frame centre across the line has the ratio asked for to its
tolerance, the tightest; the error all shots share is left out, so that any ratio can be had.
"""

from __future__ import annotations

from dataclasses import replace

import faulty_lines as make
import numpy as np
from rich.console import Console
from rich.table import Table

from linemap.domain.design.compute_figures import figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.orientation import check
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.verdict import Verdict
from linemap.geometry.projection import Projection
from linemap.units import LengthUnit

SEED, LINES = 20_261_130, 200
RATIOS = (0.1, 0.2, 0.3, 0.4, 0.5, 0.52, 0.7, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 20.0)
DESIGN = Projection.from_text("EPSG:6515")
TOLERANCES = replace(Tolerances.default(LengthUnit.FOOT), common_sigma=0.0)
#: Frames at angles and ends are held to the tight tolerance along the line.
TIGHT = (0, *make.ANGLES, make.SIZE - 1)


def misset(made: make.Made) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Put every second frame off in one way, by 1.2 to 10 tolerances; return which."""
    rng, wrong = made.rng, np.arange(make.SIZE) % 2 == 1
    for i in np.flatnonzero(wrong).tolist():
        kind = str(rng.choice(list(make.TOLERANCE)))
        limit = 0.25 if kind == "along" and i in TIGHT else make.TOLERANCE[kind]
        getattr(made, kind)[i] = limit * rng.choice([-1.0, 1.0]) * 1.2 * (10.0 / 1.2) ** rng.random()
    return wrong


def verdicts(ratio: float, lines: int, seed: int) -> dict[str, float]:
    """Return the shares, in percent, of frames right and wrong by their verdicts."""
    rng = np.random.default_rng([seed, int(1000 * ratio)])
    drawn = [make.make_line(rng, index) for index in range(lines)]
    wrong = np.concatenate([misset(made) for made in drawn])
    for made in drawn:
        made.sigma[:] = ratio * TOLERANCES.across.value * 2.0**0.5
        make.shoot(made, common=0.0)
    computed = figures([make.line_of(made) for made in drawn], make.structures_of(drawn), projection=DESIGN)
    shots = [shot for made in drawn for shot in made.shots]
    poles = cluster_poles(shots, computed, default_sigma=TOLERANCES.shot_sigma)
    verdict = check(computed, poles, TOLERANCES).verdict
    passed, failed = (np.array([v is w for v in verdict]) for w in (Verdict.PASS, Verdict.FAIL))

    def share(what: object, among: object) -> float:
        return 100.0 * float(np.sum(what)) / max(float(np.sum(among)), 1.0)

    return {
        "wrong of passes": share(passed & wrong, passed),
        "wrong ones passed": share(passed & wrong, wrong),
        "right ones passed": share(passed & ~wrong, ~wrong),
        "right ones failed": share(failed & ~wrong, ~wrong),
        "wrong ones failed": share(failed & wrong, wrong),
        "cannot tell": share(~passed & ~failed, np.ones(len(verdict))),
    }


def main() -> None:
    """Print the table with its seed."""
    table = Table(title=f"verdicts on {LINES * make.SIZE} frames a row, half of them wrong, %; seed {SEED}")
    rows = {ratio: verdicts(ratio, LINES, SEED) for ratio in RATIOS}
    for heading in ("sigma / tolerance", *next(iter(rows.values()))):
        table.add_column(heading, justify="right")
    for ratio, shares in rows.items():
        table.add_row(f"{ratio:g}", *(f"{share:.2f}" for share in shares.values()))
    Console(width=140).print(table)
