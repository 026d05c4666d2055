"""Shots described alike: the pattern of a description, and what it would read of those that nothing reads."""

from __future__ import annotations

from itertools import chain

import numpy as np

from linemap.answers import shots as answer
from linemap.domain.causes.cause import counted
from linemap.domain.design.structure import POLE_LETTERS
from linemap.domain.finding.phrase import length_text
from linemap.domain.survey.open_shots import way_from
from linemap.domain.survey.pattern import Pattern, pattern_of
from linemap.domain.survey.shot import ITEM_WORDS, ParsedDescription, Shot
from linemap.errors import InputRefused
from linemap.service.survey.chosen_shot import ChosenShot, in_job, target
from linemap.service.survey.open_shots import way_words
from linemap.service.view.view import JobView


def alike_answer(view: JobView, pattern: Pattern, *, file: str = "") -> answer.ShotsAlike:
    """Return what a pattern would read of the shots that nothing else reads, of all files or of one."""
    found = [
        (shot, said, *_of_pole(view, shot, said))
        for shot in chain(*view.shots_by_structure.values())
        if shot.item == "other" and file in {"", shot.file}
        for said in (pattern.read(shot.description, view.naming),)
        if said is not None
    ]
    distances = [distance for *_, distance, _ in found if distance is not None]
    unit = view.unit.symbol
    far = f", at most {length_text(max(distances), unit)} off the design" if distances else ""
    each = "" if len(found) == 1 else " each"
    lost = len(found) - len(distances) if pattern.item == "pole" else 0
    return answer.ShotsAlike(
        pattern=str(pattern),
        words=f"{counted(len(found), 'shot')} would be read as {ITEM_WORDS[pattern.item]}{each}{far}"
        + (f"; {lost} would name no pole of the design" if lost else ""),
        shots=[
            answer.ShotAlike(
                file=shot.file,
                row=shot.row,
                point=shot.point,
                description=shot.description,
                line=shot.line or view.figures.only_line,
                structure=said.structure,
                pole=said.pole,
                called=called,
                words=words,
            )
            for shot, said, called, _, words in found
        ],
    )


def _of_pole(view: JobView, shot: Shot, said: ParsedDescription) -> tuple[str, float | None, str]:
    """Return what the owner calls the pole that is read, and how far from its design the shot lies."""
    line = shot.line or view.figures.only_line
    called = view.naming.called((line, said.structure)).get(said.pole, "")
    row = view.row_of.get((line, said.structure))
    if row is None or not said.pole or said.pole not in view.figures.letters_of(row):
        return called, None, ""
    point = np.array([shot.easting, shot.northing])
    near = way_from(view.figures, row, POLE_LETTERS.index(said.pole), point)
    return called, near.distance, way_words(near, view.unit.symbol)


def read_pattern(text: str) -> Pattern:
    """Read a pattern as a person writes it; `InputRefused` when it is none."""
    try:
        return Pattern.parse(text)
    except ValueError as error:
        raise InputRefused.at("pattern", text, str(error), "like BRK <structure> N<pole> = top") from None


def pattern_like(view: JobView, example: ChosenShot) -> Pattern:
    """Return the pattern of a shot's description by what a person says it is of.

    Raises
    ------
    NotFound
        If the job has no such shot or structure.
    InputRefused
        If what is said cannot be, or the description does not show it.
    """
    ((chosen, _),) = in_job(view, [example])
    said = target(view, chosen)
    key = (chosen.file, chosen.row, chosen.point)
    shot = next(each for each in view.observed_shots if each.key == key)
    try:
        return pattern_of(
            shot.description,
            structure=said.get("structure", ""),
            pole=said.get("pole", ""),
            item=example.item,
            naming=view.naming,
        )
    except ValueError as error:
        reason, remedy = str(error), "assign such shots one by one"
        raise InputRefused.at("description", shot.description, reason, remedy) from None
