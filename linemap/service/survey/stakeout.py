"""Staking of a job: the stakes of its structures and their point file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from linemap.domain.crew_check.tape_sets import HOLE_FT, feet, unguarded
from linemap.domain.finding.finding import Finding
from linemap.domain.guying.anchor import RequiredAnchor, anchors_at_crossings, required_anchors
from linemap.domain.staking.stakeout import StakePlan, StakePoint, point_numbers, stake_points
from linemap.io.survey.points import write_points
from linemap.io.survey.shots import read_shot_order
from linemap.service.view.view import JobView

#: The smallest number a stake gets.
_FIRST_POINT = 1001


def anchors_of_job(
    view: JobView, rows: Sequence[int] | None = None
) -> tuple[tuple[RequiredAnchor, ...], tuple[Finding, ...]]:
    """Return where the anchors of structures belong, and what to look at before staking them.

    Findings are on the schedule, and on anchors that belong at a crossing. `rows` None = all structures.
    """
    required, findings = required_anchors(view.figures, view.guys)
    chosen = required if rows is None else tuple(anchor for anchor in required if anchor.row in set(rows))
    names = None if rows is None else {view.key(row) for row in rows}
    kept = [one for one in findings if names is None or (one.line, one.structure) in names]
    return chosen, (*kept, *anchors_at_crossings(view.figures, chosen, view.crossings))


def withheld_stakes(view: JobView, rows: Sequence[int] | None = None) -> list[Finding]:
    """Return why structures get no stake but their centre; `rows` None = all structures."""
    chosen = range(len(view.figures)) if rows is None else rows
    questioned = (row for row in chosen if view.figures.pi_in_question[row])
    return [each for row in questioned for each in view.ledger.at(row) if each.code == "PI in question"]


def unguarded_words(
    view: JobView, rows: Sequence[int] | None = None, plan: StakePlan | None = None
) -> list[tuple[str, str]]:
    """Say which stakes survive the digging, by number, where not one back and one ahead does.

    Without both, a frame is squared on what is left, or on nothing, before it is tamped.
    """
    points = [point for _, point in points_of_job(view, rows=rows, plan=plan)]
    unguarded_rows = unguarded(view.figures, points).items()
    return [(view.key(row)[1], surviving_words(view, names)) for row, names in unguarded_rows]


def surviving_words(view: JobView, names: Sequence[str]) -> str:
    """Say which side no stake survives on, and what survives the digging of a structure."""
    unit = view.tolerances.unit
    sides = {name[-2:] for name in names}
    lost = " or ".join(word for way, word in (("BK", "back"), ("AH", "ahead")) if way not in sides)
    kept = f"what survives: {', '.join(names)}" if names else "no offset stake survives"
    reach = f"{feet(HOLE_FT, unit):.1f} {unit}"
    return f"no stake {lost} stands {reach} or more from the holes of poles and anchors; {kept}"


def points_of_job(
    view: JobView,
    *,
    rows: Sequence[int] | None = None,
    plan: StakePlan | None = None,
) -> tuple[tuple[str, StakePoint], ...]:
    """Return the stakes of structures with point numbers that no shot of the job bears.

    `rows` None = all structures. Without a plan of offset stakes they are 25 ft (7.62 m) back and ahead of
    every pole and outside of the outer ones. Stakes of two lines that would bear one description are refused.
    """
    taken = {shot.point for shots in view.shots_by_structure.values() for shot in shots}
    anchors, _ = anchors_of_job(view, rows)
    chosen = range(len(view.figures)) if rows is None else rows
    stakes = stake_points(
        view.figures,
        plan or view.stake_plan,
        rows=rows,
        anchors=anchors,
        poles={row: view.poles_by_structure.get(view.key(row), ()) for row in chosen},
    )
    numbers = point_numbers(len(stakes), first=_FIRST_POINT, taken=taken)
    return tuple(zip(numbers, stakes, strict=True))


def write_point_file(
    view: JobView,
    path: Path,
    *,
    order: str = "pnezd",
    rows: Sequence[int] | None = None,
    plan: StakePlan | None = None,
) -> int:
    """Write the points of `points_of_job` for a controller, "pnezd" or "penzd"; return how many there are."""
    numbered = points_of_job(view, rows=rows, plan=plan)
    write_points(numbered, path, order=read_shot_order(order))
    return len(numbered)
