"""The tape checks of a job: what each structure is checked from, compiled for phones without a signal."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import orjson

from linemap.answers import tape as answer
from linemap.domain.crew_check.answer import EXPLAINS
from linemap.domain.crew_check.frame import FrameDesign
from linemap.domain.crew_check.pole_size import TapeErrors, rise_that_matters, table_radius
from linemap.domain.crew_check.tape import Stake, TapeSet, chi_square_limit
from linemap.domain.crew_check.tape_sets import SetsOfStakes, feet, sets_of, stakes_outside, to_tape_from
from linemap.domain.record.status import NOTHING_RECORDED
from linemap.domain.staking.stakeout import stakes_of_row
from linemap.domain.survey.verdict import Verdict
from linemap.service.view.view import JobView

#: A stake shot so many of its sigmas from its place is not where it was to be: it is not taped from.
_ASTRAY = 5.0
#: Limits of chi-square for up to so many readings beyond those that place the poles.
_SPARES = 6
_DIGITS = 7


def card_tape(view: JobView, row: int) -> answer.CardTape:
    """Return what the card of a structure says of its check by tape."""
    design = FrameDesign.of(view.figures, row, view.tolerances)
    poles = view.poles_by_structure.get(view.key(row), ())
    radii = {
        pole.letter: radius
        for pole in poles
        if (radius := table_radius(pole.length_ft, pole.pole_class, view.tolerances.unit)) is not None
    }
    stakes, astray = _stakes_at(view, row)
    key = "" if design is None else plan_of(design, stakes)[0]
    ground = {pole.letter: pole.ground_elevation for pole in poles if pole.ground_elevation is not None}
    first = next(iter(ground.values()), math.nan)
    return answer.CardTape(
        plan=key,
        why="" if key else _why(view, row, design),
        radii=radii,
        left_out=astray,
        rise={letter: round(height - first, 2) for letter, height in ground.items()},
    )


def _why(view: JobView, row: int, design: FrameDesign | None) -> str:
    if design is not None:
        return "no stakes outside the holes prove this frame"
    if view.figures.pi_in_question[row]:
        return "which way the structure faces is in question"
    return "the pole spacing is not known"


def _stakes_at(view: JobView, row: int) -> tuple[tuple[Stake, ...], list[str]]:
    """Return the stakes to tape from, and the names of those that were shot where they do not belong.

    Where offset stakes of the structure were shot these are the ones that stand; else those of the plan.
    """
    figures = view.figures
    points = list(stakes_of_row(figures, row, view.stake_plan))
    shot = {
        " ".join(each.description.upper().split()): (each.easting, each.northing)
        for each in view.shots_by_structure.get(view.key(row), ())
        if each.item == "hub"
    }
    astray = []
    seen = [point for point in points if point.kind == "offset" and point.description in shot]
    reach = _ASTRAY * math.hypot(TapeErrors.of(view.tolerances.unit).stake, view.tolerances.shot_sigma)
    for point in seen:
        apart = math.dist(shot[point.description], (point.easting, point.northing))
        if apart > reach * float(figures.combined_factor[row]):
            astray.append(point.description)
    kept = [
        point
        for point in points
        if point.kind != "offset" or ((not seen or point in seen) and point.description not in astray)
    ]
    return to_tape_from(stakes_outside(figures, row, kept), view.tolerances.unit), astray


def plans_of(view: JobView, tapes: Mapping[int, answer.CardTape]) -> dict[str, answer.TapePlan]:
    """Return the plans that cards name, by their keys; `tapes` has what the card of each row says."""
    found: dict[str, answer.TapePlan] = {}
    for row, tape in tapes.items():
        design = None if tape.plan in found else FrameDesign.of(view.figures, row, view.tolerances)
        if design is None:
            continue
        compiled = plan_of(design, _stakes_at(view, row)[0])[1]
        if compiled is not None:
            found[tape.plan] = compiled
    return found


def tape_words(view: JobView, row: int) -> tuple[str, ...]:
    """Say on paper what a crew tapes at a frame before it is tamped, how long, and how far off is good.

    () where the frame is set or was surveyed, cannot be taped, or a radius is in no table: the phone asks
    for girths.
    """
    design = FrameDesign.of(view.figures, row, view.tolerances)
    tape = card_tape(view, row)
    is_set = "set" in view.statuses.get(view.key(row), NOTHING_RECORDED).done
    if design is None or is_set or view.checks.verdict[row] != Verdict.NOT_SURVEYED:
        return ()
    if not tape.plan or not set(design.letters) <= tape.radii.keys():
        return ()
    stakes = {stake.name: stake for stake in _stakes_at(view, row)[0]}
    first = sets_of(
        design, tuple(stakes.values()), TapeErrors.of(design.unit), (False,) * len(design.letters)
    )[0]
    radii = [tape.radii[letter] for letter in design.letters]
    told = zip(first.full.readings, first.full.expected(radii), first.full.zones, strict=True)
    called = view.figures.called(row)
    said: dict[str, list[str]] = {}
    for (start, end), expected, (good, wrong) in told:
        words = f"to {called[end]} {expected:.2f} (good ± {good:.2f}, wrong beyond ± {wrong:.2f})"
        said.setdefault(_from_words(view, row, start, stakes.get(start)), []).append(words)
    quick = "" if first.quick is None else f"The first {len(first.quick.readings)} may pass it; "
    rule = f"{quick}tape all unless they do, and whatever fails again before a pole is moved."
    thick = ", ".join(f"{radius:.2f}" for radius in radii)
    far = feet(25.0, design.unit)
    rise = f"a rise of {rise_that_matters(far, first.full.errors):.1f} {design.unit} in {far:g} matters"
    near = f"In {design.unit}, level ({rise}), to the near face; radii {thick} by class."
    return (*(f"from {start}: {', '.join(parts)}" for start, parts in said.items()), f"{near} {rule}")


def _from_words(view: JobView, row: int, start: str, stake: Stake | None) -> str:
    """Name where a reading begins: a stake by the neighbouring structure, a pole by what it is called."""
    called, line = view.figures.called(row), view.figures.line_of(row)
    if stake is None:
        return f"pole {called[start]}"
    pole = called[stake.pole] if stake.pole else "the centre"
    out = f"{stake.distance:g} {view.tolerances.unit}"
    if stake.way in {"L", "R"}:
        return f"the stake beyond {pole}, {out} out"
    other = view.figures.neighbour(row, 1 if stake.way == "AH" else -1)
    end = line.ahead_end if stake.way == "AH" else line.back_end
    toward = (
        end or f"the {'ahead' if stake.way == 'AH' else 'back'} end" if other is None else view.key(other)[1]
    )
    return f"the stake toward {toward}, {out} from {pole}"


def check_plans(plans: Mapping[str, answer.TapePlan]) -> answer.CheckPlans:
    """Return plans with the fingerprint of their keys: a phone fetches them again only when it changes."""
    version = hashlib.sha256("\n".join(sorted(plans)).encode()).hexdigest()[:12]
    return answer.CheckPlans(version=version, plans=plans)


@lru_cache(maxsize=512)
def plan_of(design: FrameDesign, stakes: tuple[Stake, ...]) -> tuple[str, answer.TapePlan | None]:
    """Compile the check of a frame from stakes; return it with its key: "" and None where none proves it."""
    errors, count = TapeErrors.of(design.unit), len(design.letters)
    sets = sets_of(design, stakes, errors, (False,) * count)
    if not sets:
        return "", None
    compiled = _Compiler(design, stakes, errors).plan(sets)
    return hashlib.sha256(orjson.dumps(compiled)).hexdigest()[:12], compiled


class _Compiler:
    """Lays sets down once, however many groups use them."""

    def __init__(self, design: FrameDesign, stakes: tuple[Stake, ...], errors: TapeErrors) -> None:
        self.design, self.stakes, self.errors = design, stakes, errors
        self.readings: list[tuple[str, str]] = []
        self.sets: dict[tuple[tuple[str, str], ...], tuple[int, answer.TapeReadings]] = {}

    def plan(self, sets: Sequence[SetsOfStakes]) -> answer.TapePlan:
        groups = [self._group(one) for one in sets]
        errors = self.errors
        return answer.TapePlan(
            letters=self.design.letters,
            spacing=self.design.spacing,
            unit=self.design.unit,
            poles=[(float(right), float(ahead)) for right, ahead in self.design.poles],
            quantities=list(self.design.names),
            limits=list(self.design.limits),
            per_quantity=np.round(np.linalg.pinv(self.design.jacobian), _DIGITS).tolist(),
            stakes=[
                answer.TapeStake(
                    name=one.name,
                    pole=one.pole,
                    way=one.way,
                    distance=one.distance,
                    right=one.right,
                    ahead=one.ahead,
                )
                for one in self.stakes
            ],
            readings=self.readings,
            sets=[laid for _, laid in self.sets.values()],
            groups=groups,
            errors=answer.TapeErrors(
                tape=errors.tape,
                stake=errors.stake,
                face=errors.face,
                girth=errors.girth_radius,
                table=errors.table_radius,
                pole=errors.pole,
                agree=errors.agree,
                move=errors.move,
                sag_from=errors.sag_from,
                slips=list(errors.slips),
            ),
            contradicts=[chi_square_limit(spare) for spare in range(1, _SPARES)],
            explains=[chi_square_limit(spare, EXPLAINS) for spare in range(1, _SPARES)],
        )

    def _group(self, one: SetsOfStakes) -> answer.TapeGroup:
        names = [stake.name for stake in self.stakes]
        return answer.TapeGroup(
            stakes=[names.index(name) for name in one.stakes],
            quick=-1 if one.quick is None else self._laid(one.quick),
            full=self._laid(one.full),
            more=-1 if one.more is None else self._laid(one.more),
        )

    def _laid(self, tape_set: TapeSet) -> int:
        known = self.sets.get(tape_set.readings)
        if known is not None:
            return known[0]
        self.readings += [each for each in tape_set.readings if each not in self.readings]
        by_girth = replace(tape_set, girths=(True,) * len(self.design.letters))
        laid = answer.TapeReadings(
            readings=[self.readings.index(each) for each in tape_set.readings],
            spare=tape_set.spare,
            gates={"girth": _gates(by_girth), "table": _gates(tape_set)},
        )
        self.sets[tape_set.readings] = len(self.sets), laid
        return len(self.sets) - 1


def _gates(tape_set: TapeSet) -> list[tuple[float, float, float]]:
    return [
        (round(gate.sigma, _DIGITS), round(gate.pass_to, _DIGITS), round(gate.fail_from, _DIGITS))
        for gate in tape_set.gates
    ]
