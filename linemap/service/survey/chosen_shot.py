"""A shot that a person chose and what they say it is of, held against the job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from linemap.domain.finding.phrase import listed_poles
from linemap.domain.survey.control import ControlNames
from linemap.domain.survey.open_shots import ASSIGNABLE, Needed
from linemap.domain.survey.shot import ITEM_WORDS, ShotItem, ShotKey
from linemap.errors import InputRefused, NotFound
from linemap.service.view.view import JobView


@dataclass(frozen=True, slots=True, kw_only=True)
class ChosenShot:
    """A shot by file and row and, where it is assigned, what it is of."""

    file: str
    row: int
    #: Point; "" = the only shot in that row of files of that name.
    point: str = ""
    #: "" = the job's only line.
    line: str = ""
    #: In any spelling; "" = of no structure.
    structure: str = ""
    #: "A", "B" or "C"; "" = of no pole.
    pole: str = ""
    item: ShotItem = "pole"


def in_job(view: JobView, shots: Sequence[ChosenShot]) -> list[tuple[ChosenShot, bool]]:
    """Return shots with their points, and whether a shot of another file of that name is in that row too.

    Raises
    ------
    NotFound
        If the job has no such shot.
    InputRefused
        If one is named twice, or may be several.
    """
    points: dict[tuple[str, int], list[str]] = {}
    for observed in view.observed_shots:
        points.setdefault((observed.file, observed.row), []).append(observed.point)
    found: dict[ShotKey, tuple[ChosenShot, bool]] = {}
    for shot in shots:
        there = points.get((shot.file, shot.row), [])
        named = there if not shot.point else [point for point in there if point == shot.point]
        if not named:
            raise NotFound(
                f"the job has no shot in row {shot.row} of {shot.file}; look at the list of shots again"
            )
        place = f"{shot.file} row {shot.row}"
        if len({*named}) > 1:
            reason = f"is the row of {len(named)} shots, of files of one name"
            raise InputRefused.at("shots", place, reason, f"name the point: {', '.join(named)}")
        key = (shot.file, shot.row, named[0])
        if key in found:
            raise InputRefused.at("shots", place, "is named twice", "name each shot once")
        found[key] = (replace(shot, point=named[0]), len({*there}) > 1)
    return [*found.values()]


def target(view: JobView, shot: ChosenShot) -> dict[str, str]:
    """Return the correction that assigns a shot, without its rows."""
    if shot.item not in ASSIGNABLE:
        items = ", ".join(ASSIGNABLE)
        raise InputRefused.at(
            "item", shot.item, "is nothing a shot can be assigned as", f"use one of {items}"
        )
    structure, pole = ASSIGNABLE[shot.item]
    words = ITEM_WORDS[shot.item]
    _check_named("structure", shot.structure, structure, words)
    _check_named("pole", shot.pole, "none" if not shot.structure else pole, words)
    found = {"kind": "assign", "file": shot.file, "item": shot.item}
    if not shot.structure:
        return found
    if shot.item == "check":
        return {**found, "structure": _control_point(view, shot.structure)}
    row = view.row(shot.line, shot.structure)
    letters = view.figures.letters_of(row)
    if shot.pole and shot.pole not in letters:
        one_of = listed_poles(letters, view.figures.called(row))
        reason = f"is no pole of {view.figures.structures.number[row]}"
        raise InputRefused.at("pole", shot.pole, reason, f"use one of {one_of}")
    line, number = view.key(row)
    return {**found, "line": line, "structure": number, **({"pole": shot.pole} if shot.pole else {})}


def _control_point(view: JobView, name: str) -> str:
    """Return the name of a control point as its list writes it."""
    found = ControlNames(view.control).called(name)
    if len(found) != 1:
        known = ", ".join(point.name for point in view.control) or "none: load a list of them first"
        raise InputRefused.at("structure", name, "is no control point of the job", f"use one of {known}")
    return view.control[found[0]].name


def _check_named(field: str, value: str, need: Needed, item: str) -> None:
    if need == "needed" and not value:
        raise InputRefused.at(field, "", f"is not given, and {item} has one", f"name the {field}")
    if need == "none" and value:
        raise InputRefused.at(field, value, f"does not belong to {item} here", "leave it out")
