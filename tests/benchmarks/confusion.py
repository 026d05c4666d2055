"""How often causes are named wrongly: clean lines, lines with one planted fault each, and with two at once.

A cause on a clean line is a false alarm. On a faulty line the answer is the cause that explains most of the
structures concerned; causes elsewhere on the line are counted as extra. Of two faults each is to be named, or
said to show as if the other were put right; and what is named stays named when the others are accepted.
"""

from __future__ import annotations

import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import faulty_lines as make
import numpy as np
from rich.console import Console
from rich.table import Table

from linemap.domain.causes.cause import Cause
from linemap.domain.causes.causes import find_causes
from linemap.domain.causes.correction import Order, apply_corrections
from linemap.domain.design.compute_figures import figures
from linemap.domain.design.figures import Figures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.survey.orientation import check
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.geometry.projection import Projection
from linemap.units import LengthUnit

SEED, LINES, CHUNK, PAIRS = 20_261_125, 2_000, 50, 500
NOTHING = "nothing"
#: Causes that say that nothing else can be told there before they are settled.
WAITS = {"wrong datum", "poor survey", "duplicate conflict", "pole missing", "heights off"}
#: The reference of the lines, one of the same datum, and one of NAD27.
DESIGN, OTHER, OLD = (Projection.from_text(code) for code in ("EPSG:6515", "EPSG:6341", "EPSG:32001"))
FEET = Tolerances.default(LengthUnit.FOOT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One kind of fault: how it is planted, and what its cause may be called."""

    plant: Callable[[make.Made], list[int]]
    #: True = of frames: planted before the shots are taken.
    of_frames: bool = False
    #: Codes that name it; () = its own name.
    codes: tuple[str, ...] = ()
    #: Two faults of one group are one, or undo each other: they are not drawn together.
    group: str = ""


def _of_frame(plant: Callable[[make.Made], list[int]], *codes: str, group: str = "") -> Fault:
    return Fault(plant=plant, of_frames=True, codes=codes, group=group)


FAULTS: dict[str, Fault] = {
    "offset stake": _of_frame(make.offset_stake),
    "square to one tangent": _of_frame(make.square_to_one_tangent),
    "neighbour's bisector": _of_frame(make.neighbours_bisector),
    "parallel to the line": _of_frame(make.parallel_to_the_line),
    "one pole off its stake": _of_frame(make.pole_off_stake),
    "inner faces shot": _of_frame(make.inner_faces),
    "one side's faces shot": _of_frame(make.one_side),
    "wrong brace set": _of_frame(make.brace_set),
    "reversed single": _of_frame(make.reversed_single, group="side"),
    "faced back run": _of_frame(
        make.faced_back, "faced back run", "tagged the other way round", group="side"
    ),
    "file tagged the other way": _of_frame(make.tagged_file, "tagged the other way round", group="side"),
    "line tagged the other way": _of_frame(make.tagged_line, "tagged the other way round", group="side"),
    "poor survey": _of_frame(make.poor_survey),
    "no single cause found": _of_frame(make.other_fault),
    "foot definition": Fault(plant=make.foot, group="moved"),
    "grid taken as ground": Fault(plant=make.ground, group="moved"),
    "base or datum shifted": Fault(plant=make.base_shift, group="moved"),
    "rotation of the survey": Fault(plant=make.rotation, group="moved"),
    "wrong zone": Fault(plant=lambda made: make.other_zone(made, DESIGN, OTHER), group="export"),
    "wrong datum": Fault(plant=lambda made: make.other_datum(made, DESIGN, OLD), group="export"),
    "unit of length": Fault(plant=make.other_unit, group="export"),
    "columns exchanged": Fault(plant=make.exchanged, group="export"),
    "neighbour's label": Fault(plant=make.neighbour_label),
    "labels off": Fault(plant=make.labels_off, codes=("labels off by one", "labels off by two")),
    "pole letters exchanged": Fault(plant=make.letters_exchanged),
    "line of the shots": Fault(plant=make.line_not_named),
    "duplicate conflict": Fault(plant=make.duplicate),
    "pole missing": Fault(plant=make.pole_missing),
    "equation left out of the list": Fault(plant=make.equation_left_out),
    "heights in another datum": Fault(plant=make.heights_shifted),
    "heights in another unit": Fault(plant=make.heights_in_metres),
    "heights of the next structure": _of_frame(make.heights_of_next),
    "height of another structure": _of_frame(make.height_of_another),
}


class Answer(NamedTuple):
    """What was said of one line."""

    expected: str
    answered: str
    #: Causes that explain none of the structures concerned.
    extra: int

    @property
    def is_right(self) -> bool:
        """True where the cause has the name of the fault."""
        return self.answered == self.expected or self.answered in FAULTS[self.expected].codes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Survey:
    """Lines made together, their figures, and everything that was shot."""

    lines: Sequence[make.Made]
    figures: Figures
    shots: Sequence[Shot]

    @classmethod
    def of(cls, lines: Sequence[make.Made]) -> Survey:
        """Compute lines."""
        computed = figures(
            [make.line_of(made) for made in lines], make.structures_of(list(lines)), projection=DESIGN
        )
        return cls(lines=lines, figures=computed, shots=[shot for made in lines for shot in made.shots])

    def causes(self, accepted: Iterable[Cause] = ()) -> dict[str, list[Cause]]:
        """Return the causes of each line, when the corrections of some are accepted."""
        orders = [Order(cause.correction, cause.line, "accepted") for cause in accepted if cause.correction]
        shots, _ = apply_corrections(self.shots, orders)
        poles = cluster_poles(shots, self.figures, default_sigma=FEET.shot_sigma)
        checks = check(self.figures, poles, FEET)
        events = [event for made in self.lines for event in make.events_of(made)]
        found = find_causes(self.figures, poles, checks, shots, events=events, tolerances=FEET)
        by_line = defaultdict(list)
        for cause in found:
            by_line[cause.line].append(cause)
        return by_line


def draw(rng: np.random.Generator, index: int, kinds: Sequence[str]) -> tuple[make.Made, list[list[int]]]:
    """Make one line and plant its faults, those of frames first; drawn again where one does not fit."""
    while True:
        made = make.make_line(rng, index)
        rows = {kind: FAULTS[kind].plant(made) for kind in kinds if FAULTS[kind].of_frames}
        make.shoot(made)
        # as it happens: what moves a survey before what its export makes of the coordinates
        rows |= {kind: FAULTS[kind].plant(made) for kind in FAULTS if kind in kinds and kind not in rows}
        if all(rows.values()):
            return made, [rows[kind] for kind in kinds]


def ask(rng: np.random.Generator, kinds: Sequence[str]) -> list[Answer]:
    """Make one line of each kind, compute them together, and say what was answered."""
    drawn = [draw(rng, index, [] if kind == NOTHING else [kind]) for index, kind in enumerate(kinds)]
    by_line = Survey.of([made for made, _ in drawn]).causes()
    return [
        judge(kind, by_line[made.name], {made.number[row] for each in rows for row in each})
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


class Pair(NamedTuple):
    """What was said of two faults on one line."""

    kinds: tuple[str, str]
    #: Of each: named, after the other was accepted too; or what was said instead.
    said: tuple[str, str]


def ask_pairs(rng: np.random.Generator, pairs: Sequence[tuple[str, str]]) -> list[Pair]:
    """Make one line with two faults for each pair, and accept what is found until nothing can be."""
    drawn = [draw(rng, index, pair) for index, pair in enumerate(pairs)]
    survey = Survey.of([made for made, _ in drawn])
    seen: list[dict[str, list[Cause]]] = []
    accepted: dict[tuple[str, str, str], Cause] = {}
    for _ in range(4):
        seen.append(survey.causes(accepted.values()))
        fresh = [c for found in seen[-1].values() for c in found if c.correction and c.key not in accepted]
        accepted |= {cause.key: cause for cause in fresh}
        if not fresh:
            break
    return [
        Pair(pair, tuple(_said(kind, made, each, seen) for kind, each in zip(pair, rows, strict=True)))
        for pair, (made, rows) in zip(pairs, drawn, strict=True)
    ]


def _names(cause: Cause, codes: Sequence[str]) -> bool:
    return cause.code in codes or (
        cause.code == "two causes at once" and any(code in cause.words for code in codes)
    )


def _said(kind: str, made: make.Made, rows: list[int], seen: list[dict[str, list[Cause]]]) -> str:
    """Say how one of two faults was answered: at once, once the other was accepted, or as what else."""
    planted, codes = {made.number[row] for row in rows}, FAULTS[kind].codes or (kind,)
    for turn, by_line in enumerate(seen):
        here = [cause for cause in by_line[made.name] if planted & set(cause.structures)]
        if any(_names(cause, codes) for cause in here):
            return "named" if turn == 0 else "named once the other is accepted"
    here = [cause for by_line in seen for cause in by_line[made.name] if planted & set(cause.structures)]
    if any("as if" in words for cause in here for words in cause.evidence):
        return "entangled"
    if any(cause.code in WAITS for cause in here):
        return "said to wait for the other"
    return f"as {here[0].code}" if here else NOTHING


def confusion(answers: list[Answer]) -> Table:
    """Print of each kind how many were planted, missed, and named otherwise (as what), and what was extra."""
    made = Table(title="one planted fault a line; extra = causes elsewhere on the line")
    for heading in ("planted", "lines", "missed", "otherwise", "extra", "named as"):
        made.add_column(heading, justify="left" if heading in ("planted", "named as") else "right")
    for kind in dict.fromkeys(answer.expected for answer in answers):
        mine = [answer for answer in answers if answer.expected == kind]
        others = Counter(each.answered for each in mine if not each.is_right)
        missed = others.pop(NOTHING, 0)
        said = ", ".join(f"{count} {name}" for name, count in others.most_common())
        cells = (len(mine), missed, others.total(), sum(each.extra for each in mine))
        made.add_row(kind, *(str(cell) if cell else "" for cell in cells), said)
    return made


def draw_pairs(rng: np.random.Generator, count: int) -> list[tuple[str, str]]:
    """Draw pairs of different kinds, each kind about as often."""
    kinds = list(FAULTS)
    pairs = []
    for i in range(count):
        one = kinds[i % len(kinds)]
        group = FAULTS[one].group
        others = [kind for kind in kinds if kind != one and not (group and FAULTS[kind].group == group)]
        pairs.append((one, str(rng.choice(others))))
    return pairs


def main() -> None:
    """Print the tables with the seed and the seconds."""
    console = Console(width=140)
    rng = np.random.default_rng(SEED)
    start = time.perf_counter()
    clean = [answer for _ in range(LINES // CHUNK) for answer in ask(rng, [NOTHING] * CHUNK)]
    alarms = sum(answer.extra > 0 for answer in clean)
    console.print(
        f"{LINES} clean lines of {make.SIZE} structures, seed {SEED}: {alarms} with a false alarm, "
        f"{sum(answer.extra for answer in clean)} causes in all"
    )
    kinds = list(FAULTS)
    planted = [kinds[index % len(kinds)] for index in range(LINES)]
    faulty = [each for first in range(0, LINES, CHUNK) for each in ask(rng, planted[first : first + CHUNK])]
    console.print(confusion(faulty))
    missed = sum(answer.answered == NOTHING for answer in faulty)
    wrong = sum(not answer.is_right for answer in faulty) - missed
    console.print(
        f"{LINES} lines with one planted fault each, {len(kinds)} kinds: missed {missed}, named otherwise "
        f"{wrong}, extra causes {sum(answer.extra for answer in faulty)}"
    )
    two = draw_pairs(rng, PAIRS)
    pairs = [each for first in range(0, PAIRS, CHUNK) for each in ask_pairs(rng, two[first : first + CHUNK])]
    said = Counter(words for pair in pairs for words in pair.said)
    console.print(f"{PAIRS} lines with two faults at once, {2 * PAIRS} faults: {dict(said.most_common())}")
    for pair in pairs:
        for kind, words in zip(pair.kinds, pair.said, strict=True):
            if words == NOTHING or words.startswith("as "):
                console.print(f"  {kind} beside {' and '.join(k for k in pair.kinds if k != kind)}: {words}")
    console.print(f"{time.perf_counter() - start:.0f} s in all")


if __name__ == "__main__":
    main()
