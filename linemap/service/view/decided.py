"""What people decided about single shots: what they are of, or that they are not used."""

from __future__ import annotations

from collections.abc import Mapping
from weakref import WeakKeyDictionary

from linemap.domain.causes.cause import Decision, standing
from linemap.domain.survey.pattern import Pattern
from linemap.domain.survey.shot import ITEM_WORDS, ShotKey
from linemap.domain.survey.shot_match import point_names
from linemap.service.view.view import JobView

#: Corrections by which a person says what a shot is of.
ASSIGNS = ("assign", "pattern")
_SAID: WeakKeyDictionary[JobView, Mapping[tuple[str, str], list[str]]] = WeakKeyDictionary()


def said_of_shots(view: JobView, row: int) -> list[str]:
    """Return what was decided about shots that name a structure or were assigned to it, in sentences."""
    if not view.correction_notes:
        return []
    found = _SAID.get(view)
    if found is None:
        found = _SAID[view] = _by_structure(view)
    return found.get(view.key(row), [])


def _by_structure(view: JobView) -> Mapping[tuple[str, str], list[str]]:
    decided, only = decided_words(view), view.figures.only_line
    counted = {shot.key: key for key, shots in view.shots_by_structure.items() for shot in shots}
    found: dict[tuple[str, str], list[str]] = {}
    for shot in view.observed_shots:
        place = shot.key
        if place in decided:
            named = (shot.line or only, shot.structure)
            for key in dict.fromkeys((named, counted.get(place, named))):
                found.setdefault(key, []).append(f"{point_names([shot])}: {decided[place]}")
    return found


def shot_decisions(view: JobView, *kinds: str) -> Mapping[ShotKey, Decision]:
    """Return `Shot.key` of the shots that corrections of some kinds changed, with the latest that stands."""
    stands = {each.id: each for each in standing(view.decisions).values()}
    return {
        place: stands[note.decision]
        for note in view.correction_notes
        if stands[note.decision].correction["kind"] in kinds
        for place in note.shots
    }


def decided_words(view: JobView) -> Mapping[ShotKey, str]:
    """Return `Shot.key` of each shot that a person assigned or set aside, with who did, when and why."""
    decided = {**shot_decisions(view, *ASSIGNS), **shot_decisions(view, "drop")}
    return {place: decision_words(decision) for place, decision in decided.items()}


def decision_words(decision: Decision) -> str:
    """Say what a decision about shots says of them, who took it, when and why."""
    correction = decision.correction
    deed = "set aside"
    if correction["kind"] == "assign":
        of = f" of {correction['structure']}" if "structure" in correction else ""
        deed = f"assigned as {ITEM_WORDS[correction['item']]}{of}"
    elif correction["kind"] == "pattern":
        deed = f"read as {Pattern.parse(correction['pattern']).text}"
    why = f": {decision.note}" if decision.note else ""
    return f"{deed} by {decision.who}, {decision.at:%Y-%m-%d}{why}"
