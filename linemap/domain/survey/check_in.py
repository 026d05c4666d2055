"""Check-ins: shots on control points, found by what they name, by where they lie, or by a person's word."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple

import numpy as np

from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import FloatArray
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Finding
from linemap.domain.survey.control import ControlNames, ControlPoint, unlisted_name
from linemap.domain.survey.session import CheckIns, Session
from linemap.domain.survey.shot import Shot, sessions_held
from linemap.units import LengthUnit

How = Literal["number", "place", "assigned"]

#: A shot this near a control point may be one of it, though it names none (3 ft).
_AT_POINT_M = 0.9144
#: One this far from the point it names is no measurement of it (1,000 ft): its file is read wrong.
_ASTRAY_M = 304.8
#: A pole this near leaves open whether it or the control point was shot (10 ft). Common practice, no source.
_NEAR_POLE_M = 3.048


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FoundCheckIns:
    """Shots with the control point each is of; columns of one length, in the order of the shots."""

    shots: tuple[Shot, ...]
    points: tuple[ControlPoint, ...]
    #: Session of each; shots of a file of check-ins alone are of the session of their day.
    session: tuple[Session, ...]
    #: Measured minus known, east and north, ground unit, (m, 2).
    residual: FloatArray
    #: The same of the height, ground unit; nan where one of the two heights is not given.
    up: FloatArray
    #: Standard deviation of `residual` per axis, of shot and monument together, ground unit.
    sigma: FloatArray
    how: tuple[How, ...]

    def __len__(self) -> int:
        return len(self.shots)

    @property
    def by_session(self) -> dict[Session, list[int]]:
        """Session -> its check-ins, by position, in their order."""
        found: dict[Session, list[int]] = defaultdict(list)
        for position, session in enumerate(self.session):
            found[session].append(position)
        return dict(found)

    @property
    def columns(self) -> CheckIns:
        """The check-ins as the sessions take them: on the grid."""
        at = np.array([(each.easting, each.northing) for each in self.points], dtype=np.float64).reshape(
            -1, 2
        )
        shot = np.array([(each.easting, each.northing) for each in self.shots], dtype=np.float64).reshape(
            -1, 2
        )
        return CheckIns(session=self.session, at=at, off=shot - at, sigma=self.sigma)


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What is known of the job where check-ins are looked for."""

    #: Grid over ground length.
    factor: float
    unit: LengthUnit
    #: Standard deviation of a shot and of a monument that state none, per axis, ground unit.
    shot_sigma: float
    mark_sigma: float
    #: Error that all shots of a session share, per axis, ground unit.
    common_sigma: float = 0.0
    #: Grid easting and northing of designed poles, (k, 2): a shot beside one may be of it.
    poles: FloatArray


def marks_of(figures: Figures, tolerances: Tolerances, unit: LengthUnit) -> Marks:
    """Return what is known of the job where check-ins are looked for."""
    factors = figures.combined_factor
    return Marks(
        factor=float(factors.mean()) if len(factors) else 1.0,
        unit=unit,
        shot_sigma=tolerances.shot_sigma,
        mark_sigma=tolerances.control_sigma,
        common_sigma=tolerances.common_sigma,
        poles=figures.poles.reshape(-1, 2),
    )


def check_ins(
    shots: Sequence[Shot], control: Sequence[ControlPoint], marks: Marks
) -> tuple[FoundCheckIns, list[Finding]]:
    """Find the shots on control points, and say what cannot be used or does not fit.

    A check shot is one of the point that it names in its description or its point name, or that a person
    assigned to it (item "check" with the point in place of the structure). One that names none, or an unread
    shot, is one of the only point within 3 ft of it, unless a pole of the design is as near that it may be
    meant. A shot that lies at another point than it names, names none of the list, or only a number that may
    be anything, is not used and is asked about. Shots more than 1,000 ft from their point are no measurement
    of it; the file is read wrong then, which its structures tell.

    Returns
    -------
    FoundCheckIns, list of Finding
        None of either where the job has no control points. `Finding.code`: "check-in unknown point",
        "check-in elsewhere", "check-in unnamed". What the check-ins say of the survey:
        `linemap.domain.survey.control_check`.
    """
    if not control:
        return _columns([], marks, ()), []
    finder = _Finder(control, marks)
    found: list[_Found] = []
    findings: list[Finding] = []
    for shot in finder.candidates(shots):
        what = finder.find(shot)
        if isinstance(what, Finding):
            findings.append(what)
        elif what is not None:
            found.append(what)
    held = sessions_held(shots)
    session = (Session.of(each.shot) for each in found)
    return _columns(found, marks, tuple(Session(*held.get(each, each)) for each in session)), findings


class _Found(NamedTuple):
    shot: Shot
    point: ControlPoint
    how: How


class _Finder:
    """Control points by name and by place."""

    def __init__(self, control: Sequence[ControlPoint], marks: Marks) -> None:
        self._control = control
        self._at = _places(control)
        self._marks = marks
        self._names = ControlNames(control)

    def candidates(self, shots: Iterable[Shot]) -> Iterator[Shot]:
        """Give the check shots, and the unread ones that lie at a point or are called as one."""
        asked = [
            shot for shot in shots if shot.item == "check" or (shot.item == "other" and not shot.structure)
        ]
        at, reach = _places(asked), self._ground_m(_AT_POINT_M)
        close = np.zeros(len(asked), dtype=np.bool_)
        for point in self._at:
            close |= (np.abs(at - point) <= reach).all(axis=1)
        for shot, lies_there in zip(asked, close.tolist(), strict=True):
            if shot.item == "check" or lies_there or self._names.in_shot(shot):
                yield shot

    def _ground_m(self, metres: float) -> float:
        """Return a ground length in metres as a grid length."""
        return metres / self._marks.unit.metres * self._marks.factor

    def find(self, shot: Shot) -> _Found | Finding | None:
        """Return the check-in a shot is, a question about it, or None when it is none."""
        named = self._names.called(shot.structure) if shot.structure else self._names.in_shot(shot)
        near = self._near(shot, self._ground_m(_AT_POINT_M))
        if len(named) == 1:
            point, other = self._control[named[0]], [each for each in near if each not in named]
            if shot.structure or named[0] in near or not other:
                return self._used(shot, point, "assigned" if shot.structure else "number")
            return self._question(
                "check-in elsewhere", shot, named=point.name, lies_at=self._control[other[0]]
            )
        if shot.item == "check" and not named and (unknown := unlisted_name(shot)):
            there = self._control[near[0]] if near else None
            return self._question("check-in unknown point", shot, named=unknown, lies_at=there)
        if len(near) == 1 and (shot.item == "check" or not self._beside_pole(shot)):
            return self._used(shot, self._control[near[0]], "place")
        return (
            self._question("check-in unnamed", shot, named="", lies_at=None) if shot.item == "check" else None
        )

    def _used(self, shot: Shot, point: ControlPoint, how: How) -> _Found | Finding | None:
        away = _apart(shot, point)
        if away <= self._ground_m(_ASTRAY_M):
            return _Found(shot, point, how)
        exchanged = np.hypot(shot.northing - point.easting, shot.easting - point.northing)
        if exchanged <= self._ground_m(_ASTRAY_M) and self._to_poles(point) <= self._to_poles(shot):
            return None  # it is the shots whose columns are exchanged, as their structures tell
        return self._question("check-in elsewhere", shot, named=point.name, lies_at=None)

    def _near(self, shot: Shot, reach: float) -> list[int]:
        at = np.array([shot.easting, shot.northing])
        away = np.hypot(*(self._at - at).T)
        return [index for index in np.argsort(away).tolist() if away[index] <= reach]

    def _beside_pole(self, shot: Shot) -> bool:
        return self._to_poles(shot) <= self._ground_m(_NEAR_POLE_M)

    def _to_poles(self, place: Shot | ControlPoint) -> float:
        """Return the grid distance from a place to the nearest designed pole; inf where there is none."""
        away = np.hypot(*(self._marks.poles - (place.easting, place.northing)).T)
        return float(np.nanmin(away, initial=np.inf))

    def _question(self, code: str, shot: Shot, *, named: str, lies_at: ControlPoint | None) -> Finding:
        known = next((each for each in self._control if each.name == named), None)
        values: dict[str, Any] = {
            **shot_values(shot),
            "named": named,
            "apart": None if known is None else self._ground(_apart(shot, known)),
            "lies_at": "" if lies_at is None else lies_at.name,
            "there": None if lies_at is None else self._ground(_apart(shot, lies_at)),
            "unit": self._marks.unit.symbol,
        }
        return finding_of_file(code, values, part=f"{shot.file} row {shot.row}")

    def _ground(self, length: float) -> float:
        return length / self._marks.factor


def _places(where: Sequence[Shot] | Sequence[ControlPoint]) -> FloatArray:
    return np.array([(each.easting, each.northing) for each in where], dtype=np.float64).reshape(-1, 2)


def _columns(found: Sequence[_Found], marks: Marks, session: tuple[Session, ...]) -> FoundCheckIns:
    shots, points = tuple(each.shot for each in found), tuple(each.point for each in found)
    up = [
        np.nan if s.elevation is None or p.elevation is None else s.elevation - p.elevation
        for s, p in zip(shots, points, strict=True)
    ]
    own = [
        (s.sigma or marks.shot_sigma, p.sigma or marks.mark_sigma) for s, p in zip(shots, points, strict=True)
    ]
    return FoundCheckIns(
        shots=shots,
        points=points,
        session=session,
        residual=(_places(shots) - _places(points)) / marks.factor,
        up=np.array(up, dtype=np.float64),
        sigma=np.hypot(*np.array(own, dtype=np.float64).reshape(-1, 2).T),
        how=tuple(each.how for each in found),
    )


def finding_of_file(code: str, values: Mapping[str, Any], *, part: str) -> Finding:
    """Return a finding on a file of shots: at no structure; `part` = its session, or the row of the shot."""
    return Finding(line="", structure="", code=code, part=part, values=values)


def shot_values(shot: Shot) -> dict[str, Any]:
    """Return what names a shot, as values of a finding."""
    named = " ".join(dict.fromkeys(filter(None, (shot.point, shot.description))))
    return {"description": named, "file": shot.file, "row": shot.row}


def _apart(shot: Shot, point: ControlPoint) -> float:
    return float(np.hypot(shot.easting - point.easting, shot.northing - point.northing))
