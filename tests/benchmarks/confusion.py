"""How often causes are named wrongly: 1,000 clean lines, and 1,000 lines with one planted fault each.

A cause on a clean line is a false alarm. On a faulty line the answer is the cause that explains most of the
structures concerned; causes elsewhere on the line are counted as extra.
"""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable
from typing import NamedTuple

import faulty_lines as make
import numpy as np
from rich.console import Console
from rich.table import Table

from linemap.domain.causes.cause import Cause
from linemap.domain.causes.causes import find_causes
from linemap.domain.design.compute_figures import figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.orientation import check
from linemap.domain.survey.set_poles import cluster_poles
from linemap.geometry.projection import Projection
from linemap.units import LengthUnit

SEED, LINES, CHUNK = 20_261_125, 1_000, 50
NOTHING = "nothing"

Fault = Callable[[make.Made], list[int]]
#: Faults of frames are planted before the shots are taken, faults of shots after.
OF_FRAMES: dict[str, Fault] = {
    "offset stake": make.offset_stake,
    "square to one tangent": make.square_to_one_tangent,
    "parallel to the line": make.parallel_to_the_line,
    "inner faces shot": make.inner_faces,
    "one side's faces shot": make.one_side,
    "wrong brace set": make.brace_set,
    "reversed single": make.reversed_single,
    "faced back run": make.faced_back,
    "poor survey": make.poor_survey,
    "no single cause found": make.other_fault,
}
DESIGN, OTHER = Projection.from_text("EPSG:6515"), Projection.from_text("EPSG:6341")
OF_SHOTS: dict[str, Fault] = {
    "columns exchanged": make.exchanged,
    "foot definition": make.foot,
    "unit of length": make.other_unit,
    "grid taken as ground": make.ground,
    "base or datum shifted": make.base_shift,
    "rotation of the survey": make.rotation,
    "wrong zone": lambda made: make.other_zone(made, DESIGN, OTHER),
    "neighbour's label": make.neighbour_label,
    "duplicate conflict": make.duplicate,
    "pole missing": make.pole_missing,
}


class Answer(NamedTuple):
    """What was said of one line."""

    expected: str
    answered: str
    #: Causes that explain none of the structures concerned.
    extra: int


def draw(rng: np.random.Generator, index: int, expected: str) -> tuple[make.Made, list[int]]:
    """Make one line and plant its fault."""
    made = make.make_line(rng, index)
    rows: list[int] = OF_FRAMES[expected](made) if expected in OF_FRAMES else []
    make.shoot(made)
    if expected in OF_SHOTS:
        rows = OF_SHOTS[expected](made)
    return made, rows


def ask(rng: np.random.Generator, kinds: list[str]) -> list[Answer]:
    """Make one line of each kind, compute them together, and say what was answered."""
    drawn = [draw(rng, index, kind) for index, kind in enumerate(kinds)]
    lines = [made for made, _ in drawn]
    tolerances = Tolerances.default(LengthUnit.FOOT)
    computed = figures([make.line_of(made) for made in lines], make.structures_of(lines), projection=DESIGN)
    shots = [shot for made in lines for shot in made.shots]
    poles = cluster_poles(shots, computed, default_sigma=tolerances.shot_sigma)
    checks = check(computed, poles, tolerances)
    events = [event for made in lines for event in make.events_of(made)]
    causes = find_causes(computed, poles, checks, shots, events=events, tolerances=tolerances)
    by_line = {made.name: [cause for cause in causes if cause.line == made.name] for made in lines}
    return [
        judge(kind, by_line[made.name], {made.number[row] for row in rows})
        for kind, (made, rows) in zip(kinds, drawn, strict=True)
    ]


def judge(expected: str, causes: list[Cause], planted: set[str]) -> Answer:
    """Take the cause that explains most of the structures concerned as the answer."""
    shared = {cause.key: len(planted & set(cause.structures)) for cause in causes}
    best = max(causes, key=lambda cause: shared[cause.key], default=None)
    hit = best is not None and shared[best.key] > 0
    return Answer(
        expected=expected,
        answered=best.code if best is not None and hit else NOTHING,
        extra=sum(count == 0 for count in shared.values()),
    )


def confusion(answers: list[Answer]) -> Table:
    """Print kinds planted (rows) against kinds answered (columns, numbered as the rows; 0 = nothing)."""
    kinds = list(dict.fromkeys(answer.expected for answer in answers))
    counts = Counter((answer.expected, answer.answered) for answer in answers)
    extra = Counter(answer.expected for answer in answers for _ in range(answer.extra))
    made = Table(title="planted (rows) against answered (columns); extra = causes elsewhere on the line")
    for heading in ("", "planted", *map(str, range(len(kinds) + 1)), "extra"):
        made.add_column(heading, justify="left" if heading == "planted" else "right")
    for number, kind in enumerate(kinds, start=1):
        cells = [counts[kind, answered] for answered in (NOTHING, *kinds)]
        made.add_row(str(number), kind, *(str(cell) if cell else "" for cell in cells), str(extra[kind]))
    return made


def main() -> None:
    """Print the confusion tables with the seed and the seconds."""
    console = Console(width=140)
    rng = np.random.default_rng(SEED)
    start = time.perf_counter()
    clean = [answer for _ in range(LINES // CHUNK) for answer in ask(rng, [NOTHING] * CHUNK)]
    alarms = sum(answer.extra > 0 for answer in clean)
    console.print(
        f"{LINES} clean lines of {make.SIZE} structures, seed {SEED}: {alarms} with a false alarm, "
        f"{sum(answer.extra for answer in clean)} causes in all"
    )
    kinds = [*OF_FRAMES, *OF_SHOTS]
    planted = [kinds[index % len(kinds)] for index in range(LINES)]
    faulty: list[Answer] = []
    for first in range(0, LINES, CHUNK):
        faulty += ask(rng, planted[first : first + CHUNK])
    console.print(confusion(faulty))
    missed = [answer for answer in faulty if answer.answered == NOTHING]
    wrong = sum(answer.answered not in {NOTHING, answer.expected} for answer in faulty)
    console.print(
        f"{LINES} lines with one planted fault each: missed {len(missed)}, named otherwise {wrong}, "
        f"extra causes {sum(answer.extra for answer in faulty)}; {time.perf_counter() - start:.0f} s in all"
    )


if __name__ == "__main__":
    main()
