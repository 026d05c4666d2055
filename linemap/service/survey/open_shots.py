"""Shots that a person may have to say something of: what became of each, what is near, what was decided."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import chain

import numpy as np

from linemap.answers import shots as answer
from linemap.domain.causes.cause import Decision
from linemap.domain.causes.checked_survey import CheckedSurvey
from linemap.domain.causes.signature_label import frames_of_choices
from linemap.domain.design.structure import POLE_LETTERS
from linemap.domain.finding.finding import Finding
from linemap.domain.finding.phrase import length_text
from linemap.domain.survey.description import parse_description
from linemap.domain.survey.open_shots import (
    ASSIGNABLE,
    STATE_WORDS,
    NearPole,
    ShotState,
    near_poles,
    state_of,
)
from linemap.domain.survey.shot import ITEM_WORDS, Shot, ShotKey
from linemap.domain.survey.shot_match import point_names
from linemap.service.view.decided import ASSIGNS, decision_words, shot_decisions
from linemap.service.view.view import JobView

#: So many poles of the design are named as near.
_NEAR = 3
#: Ground unit: a way shorter than this is not told, a distance longer than that without its ways.
_LITTLE, _FAR = 0.005, 1000.0


def open_shots_answer(view: JobView) -> answer.OpenShots:
    """Return the bench for shots: all that are not used as they were read, in the order they came."""
    counted = {shot.key: shot for shot in chain(*view.shots_by_structure.values())}
    assigned, aside = shot_decisions(view, *ASSIGNS), shot_decisions(view, "drop")
    found: list[tuple[Shot, ShotState]] = []
    used = {(each.file, each.row, each.point) for each in view.check_ins}
    for observed in view.observed_shots:
        place = observed.key
        if place in used and place not in assigned:
            continue
        shot = counted.get(place)
        state = state_of(shot, view.set_poles.unused, assigned=place in assigned)
        if state is not None:
            found.append((shot or observed, state))
    at = np.array([(shot.easting, shot.northing) for shot, _ in found], dtype=np.float64).reshape(-1, 2)
    lon, lat = view.projection.to_lonlat(at[:, 0], at[:, 1])
    near = near_poles(view.figures, at, _NEAR)
    spots = _spots(view, near)
    without = _without(view, [shot for shot, _ in found])
    reasons = _reasons(view)
    return answer.OpenShots(
        data_version=view.data_version,
        count=len(view.observed_shots),
        shots=[
            answer.OpenShot(
                **{
                    name: getattr(shot, name)
                    for name in (
                        "file", "row", "point", "description", "observed_on", "item", "line", "structure",
                        "pole",
                    )
                },
                called=_called(view, shot),
                state=state,
                words=_words(view, shot, state, reasons),
                northing=f"{shot.northing:.3f}",
                easting=f"{shot.easting:.3f}",
                at=(float(lon[k]), float(lat[k])) if np.isfinite((lon[k], lat[k])).all() else None,
                near=[_near(view, each, spots[each[:2]]) for each in near[k]],
                without=without.get(shot.key, ()),
                decision=_decision(aside if state == "set aside" else assigned, shot),
            )
            for k, (shot, state) in enumerate(found)
        ],
        states=dict(STATE_WORDS),
        items=[
            answer.ShotItemChoice(item=item, words=ITEM_WORDS[item], structure=structure, pole=pole)
            for item, (structure, pole) in ASSIGNABLE.items()
        ],
    )  # fmt: skip


def _decision(decided: Mapping[ShotKey, Decision], shot: Shot) -> answer.ShotDecision | None:
    decision = decided.get(shot.key)
    if decision is None:
        return None
    return answer.ShotDecision(
        id=decision.id,
        answer=decision.answer,
        who=decision.who,
        at=decision.at.isoformat(timespec="seconds"),
        note=decision.note,
        words=decision_words(decision),
    )


def _words(view: JobView, shot: Shot, state: ShotState, reasons: Mapping[ShotKey, Sequence[str]]) -> str:
    """Say what became of a shot, and why."""
    if state == "set aside":
        return "set aside: not used"
    if state in {"unused", "conflicting"}:
        return "; ".join(reasons.get(shot.key, ())) or "not used"
    of = f" of {shot.structure}" if shot.structure else ""
    if state != "unread":
        return f"{ITEM_WORDS[shot.item]}{of} {_called(view, shot)}".rstrip()
    if readings := parse_description(shot.description, view.naming).readings:
        return f"may be {' or '.join(readings)}"
    return (
        f"names structure {shot.structure} but no pole" if of else "no structure and pole can be read of it"
    )


def _called(view: JobView, shot: Shot) -> str:
    return view.naming.called((shot.line or view.figures.only_line, shot.structure)).get(shot.pole, "")


def _reasons(view: JobView) -> dict[ShotKey, list[str]]:
    """Return, of each shot of a pole that is not used, what was found of it."""
    unused = view.set_poles.unused
    if not unused:
        return {}
    nowhere, reasons = view.ledger.beside("export"), {}
    for (line, number), shots in view.shots_by_structure.items():
        of_row: list[Finding] | None = None
        for shot in shots:
            code = unused.get(shot.key)
            if code is None:
                continue
            if of_row is None:
                row = view.row_of.get((line, number))
                of_row = nowhere if row is None else view.ledger.at(row, judged=False)
            reasons[shot.key] = _found_of(shot, code, of_row)
    return reasons


def _found_of(shot: Shot, code: str, found: Sequence[Finding]) -> list[str]:
    group = [each for each in found if each.code == code and each.structure == shot.structure]
    own = [each for each in group if each.part in {f"{shot.file} row {shot.row}", shot.pole}]
    return list(dict.fromkeys(each.words for each in own or group))


def _spots(view: JobView, near: Iterable[Sequence[NearPole]]) -> dict[tuple[int, int], tuple[float, float]]:
    """Return longitude and latitude of poles by their row and index."""
    poles = [*dict.fromkeys(each[:2] for group in near for each in group)]
    rows, letters = np.array(poles, dtype=np.int64).reshape(-1, 2).T
    lon, lat = view.projection.to_lonlat(*view.figures.poles[rows, letters].T)
    return dict(zip(poles, zip(lon.tolist(), lat.tolist(), strict=True), strict=True))


def _near(view: JobView, near: NearPole, at: tuple[float, float]) -> answer.PoleNearShot:
    figures = view.figures
    line, number = view.key(near.row)
    unit = figures.line_of(near.row).unit.symbol
    letter = POLE_LETTERS[near.pole]
    return answer.PoleNearShot(
        line=line,
        structure=number,
        pole=letter,
        called=figures.called(near.row)[letter],
        distance=round(near.distance, 4),
        words=way_words(near, unit),
        at=at,
    )


def way_words(near: NearPole, unit: str) -> str:
    """Say how far a shot lies from a pole, and which way."""
    if near.distance < _LITTLE:
        return "on it"
    if near.distance >= _FAR:
        return f"{near.distance:,.0f} {unit} off"
    ways = (
        f"{length_text(size, unit)} {words[size < 0.0]}"
        for size, words in ((near.ahead, ("ahead", "back")), (near.right, ("right", "left")))
        if abs(size) >= _LITTLE
    )
    return f"{length_text(near.distance, unit)} off: {', '.join(ways)}"


def _without(view: JobView, shots: Sequence[Shot]) -> dict[ShotKey, list[str]]:
    """Return, of shots of one pole that disagree, what the frame is with the others."""
    disagree = [shot for shot in shots if view.set_poles.unused.get(shot.key) == "shots disagree"]
    if not disagree:
        return {}
    every = [*chain(*view.shots_by_structure.values())]
    survey = CheckedSurvey.of(view.figures, view.set_poles, view.checks, every, view.tolerances)
    found: dict[ShotKey, list[str]] = {}
    for row in dict.fromkeys(view.row(shot.line, shot.structure) for shot in disagree):
        choices = frames_of_choices(survey, row)
        for place in {shot.key for chosen, _ in choices for shot in chosen}:
            found[place] = [
                f"with {point_names(chosen)}: {words}"
                for chosen, words in choices
                if place not in {shot.key for shot in chosen}
            ]
    return found
