"""What check-ins say of the survey: which lie off their points, and which sessions have none."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from linemap.domain.design.structure import BoolArray
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.check_in import (
    FoundCheckIns,
    How,
    Marks,
    finding_of_file,
    shot_values,
)
from linemap.domain.survey.session import Session
from linemap.domain.survey.shot import Shot

#: Radial error that one good check-in in 500 exceeds, in sigma of one axis: sqrt(-2 ln 0.002).
_OFF = 3.53
#: Heights of a receiver are about twice as uncertain as its positions; common practice, no source.
_HEIGHT = 2.0
#: The same of a height: one good one in 500, two-sided.
_OFF_HEIGHT = 3.09


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckIn:
    """One check-in for people: which shot, which point, how far off as observed and as corrected."""

    #: Name of the control point.
    control: str
    how: How
    #: The shot: its file, row, day, point and description as written.
    file: str
    row: int
    observed_on: str
    #: The session it holds, in words.
    session: str
    point: str
    description: str
    #: Measured minus known as the shots stand after accepted corrections, ground unit; None = no height.
    east: float
    north: float
    up: float | None
    #: The same of the shot as observed.
    observed_east: float
    observed_north: float
    #: Standard deviation per axis of shot and monument together, ground unit.
    sigma: float
    #: True where it lies farther from the point than a good survey puts it, in plan or in height.
    off: bool


def control_findings(
    shots: Iterable[Shot], found: FoundCheckIns, marks: Marks, explained: Collection[str] = ()
) -> list[Finding]:
    """Say what the check-ins of a job tell of its sessions; nothing more of files that a cause explains.

    Returns
    -------
    list of Finding
        `Finding.code`: "check-ins off" (all of a session alike), "check-in odd" (one among good ones),
        "check-in off", "session without check-in".
    """
    return [*_off_findings(found, marks, explained), *_unheld_sessions(shots, found)]


def is_off(found: FoundCheckIns, marks: Marks) -> tuple[BoolArray, BoolArray]:
    """Say which check-ins lie farther from their points than a good survey puts them, and which in height."""
    with np.errstate(invalid="ignore"):
        flat = np.hypot(*found.residual.T) > _OFF * np.hypot(found.sigma, marks.common_sigma)
        high = np.abs(found.up) > _OFF_HEIGHT * _HEIGHT * np.hypot(found.sigma, marks.common_sigma)
    return flat, high


def _off_findings(found: FoundCheckIns, marks: Marks, explained: Collection[str]) -> Iterator[Finding]:
    """Say of each session which check-ins are off: all alike, one among good ones, or as they are."""
    flat, high = is_off(found, marks)
    for session, positions in found.by_session.items():
        wrong = [at for at in positions if flat[at] or high[at]]
        good = [at for at in positions if at not in wrong]
        if not wrong or session.file in explained:
            continue
        if len(wrong) > 1 and not good and _alike(found, wrong):
            east, north = found.residual[wrong].mean(axis=0).tolist()
            with np.errstate(invalid="ignore"):
                up = float(np.nanmean(found.up[wrong])) if np.isfinite(found.up[wrong]).any() else None
            values = {"east": east, "north": north, "up": up, "count": len(wrong), "session": session.words}
            names = ", ".join(found.points[at].name for at in wrong)
            values |= {"named": names, "unit": marks.unit.symbol}
            yield finding_of_file("check-ins off", values, part=" ".join(session))
            continue
        code = "check-in odd" if len(wrong) == 1 and good else "check-in off"
        for at in wrong:
            shot = found.shots[at]
            values = {**shot_values(shot), **residual_values(found, at), "unit": marks.unit.symbol}
            more = {"good": len(good), "named": found.points[at].name, "alone": len(positions) == 1}
            yield finding_of_file(code, {**values, **more}, part=f"{shot.file} row {shot.row}")


def residual_values(found: FoundCheckIns, at: int) -> dict[str, Any]:
    """Return the residual of one check-in as values of a finding: east, north, up and sigma, ground unit."""
    east, north = found.residual[at].tolist()
    up = float(found.up[at])
    return {"east": east, "north": north, "up": None if up != up else up, "sigma": float(found.sigma[at])}


def listed_check_ins(found: FoundCheckIns, observed: Iterable[Shot], marks: Marks) -> tuple[CheckIn, ...]:
    """Return check-ins for people; `observed` are the shots before accepted corrections."""
    wanted = {shot.key for shot in found.shots}
    as_observed = {key: shot for shot in observed if (key := shot.key) in wanted}
    flat, high = is_off(found, marks)
    listed = []
    for at, (shot, point) in enumerate(zip(found.shots, found.points, strict=True)):
        before = as_observed.get(shot.key, shot)
        listed.append(
            CheckIn(
                control=point.name,
                how=found.how[at],
                session=found.session[at].words,
                **{
                    name: getattr(shot, name)
                    for name in ("file", "row", "observed_on", "point", "description")
                },
                **residual_values(found, at),
                observed_east=(before.easting - point.easting) / marks.factor,
                observed_north=(before.northing - point.northing) / marks.factor,
                off=bool(flat[at] or high[at]),
            )
        )
    return tuple(sorted(listed, key=lambda each: (each.observed_on, each.session, each.row)))


def _alike(found: FoundCheckIns, wrong: list[int]) -> bool:
    """Say whether check-ins lie off by one and the same shift, as a moved base or a moved datum does it."""
    spread = found.residual[wrong] - found.residual[wrong].mean(axis=0)
    return bool((np.hypot(*spread.T) <= _OFF * found.sigma[wrong]).all())


def _unheld_sessions(shots: Iterable[Shot], found: FoundCheckIns) -> Iterator[Finding]:
    """Note each session with poles that no check-in holds."""
    held, poles = found.by_session, Counter(Session.of(shot) for shot in shots if shot.item == "pole")
    for session, count in poles.items():
        if session not in held:
            values = {"session": session.words, "count": count}
            yield finding_of_file("session without check-in", values, part=" ".join(session))
