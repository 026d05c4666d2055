"""What holds the poles of a structure, and its shots as observed beside what corrections made of them."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import NamedTuple
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from linemap.answers import survey as answer
from linemap.domain.design.structure import POLE_LETTERS, FloatArray
from linemap.domain.survey.control_check import CheckIn
from linemap.domain.survey.session import Session
from linemap.domain.survey.shot import Shot, ShotKey
from linemap.domain.survey.verdict import Held
from linemap.service.view.columns import pole_columns
from linemap.service.view.view import JobView

_OBSERVED: WeakKeyDictionary[JobView, Mapping[ShotKey, Shot]] = WeakKeyDictionary()
_SESSIONS: WeakKeyDictionary[JobView, Mapping[str, Sequence[CheckIn]]] = WeakKeyDictionary()


class Holding(NamedTuple):
    """What the place of a structure rests on."""

    #: True where check-ins of its sessions hold it.
    by_control: bool
    #: Its check-ins, in words.
    by: str

    @property
    def words(self) -> str:
        """By what it is held, with its check-ins."""
        return f"{Held.CONTROL if self.by_control else Held.OWN_BASE}: {self.by}"


class ShotPair(NamedTuple):
    """A shot as observed, and as it counts after accepted corrections; the same where none touched it."""

    observed: Shot
    corrected: Shot

    @property
    def moved(self) -> tuple[float, float] | None:
        """What was added to easting and northing, CRS unit; None = nothing."""
        before, after = self
        by = (after.easting - before.easting, after.northing - before.northing)
        return by if any(by) else None

    @property
    def correction_words(self) -> str:
        """What was added to easting and northing; "" = nothing."""
        by = self.moved
        return f"{by[0]:+,.3f} E, {by[1]:+,.3f} N" if by else ""


def check_ins_of(view: JobView) -> Mapping[str, Sequence[CheckIn]]:
    """Return the check-ins of each session, by what it is called."""
    found = _SESSIONS.get(view)
    if found is None:
        made: dict[str, list[CheckIn]] = defaultdict(list)
        for each in view.check_ins:
            made[each.session].append(each)
        found = _SESSIONS[view] = dict(made)
    return found


def held_at(view: JobView, row: int) -> Holding | None:
    """Say what the poles of a structure are held by; None where no pole was shot.

    A pass is held as its check says. Of others it is said where control points are listed: of several
    sessions the one with the fewest check-ins counts.
    """
    shots = [shot for shot in view.shots_by_structure.get(view.key(row), ()) if shot.item == "pole"]
    passed = str(view.checks.held[row])
    if not shots or not (passed or view.control):
        return None
    of_session = check_ins_of(view)
    sessions = dict.fromkeys(Session.of(shot).words for shot in shots)
    found = min((of_session.get(session, ()) for session in sessions), key=len)
    holding = held_of_session(found, view.unit.symbol)
    return holding._replace(by_control=passed == Held.CONTROL) if passed else holding


def held_words(view: JobView, row: int) -> str:
    """Return what the poles of a structure are held by, in words; "" = nothing is to be said of it."""
    held = held_at(view, row)
    return "" if held is None else held.words


def held_of_session(check_ins: Sequence[CheckIn], unit: str) -> Holding:
    """Say what the check-ins of one session hold."""
    if not check_ins:
        return Holding(False, "no check-in")
    farthest = max(math.hypot(each.east, each.north) for each in check_ins)
    count = f"{len(check_ins)} check-in{'s' * (len(check_ins) > 1)}"
    off = f"{'largest ' * (len(check_ins) > 1)}residual {farthest:.{3 if unit == 'm' else 2}f} {unit}"
    fits = not any(each.off for each in check_ins)
    return Holding(fits, f"{count}, {off}")


def counted_shots(view: JobView) -> Mapping[ShotKey, Shot]:
    """Return the shots as they count after accepted corrections, without those set aside."""
    return {shot.key: shot for shots in view.shots_by_structure.values() for shot in shots}


def pair_of(view: JobView, shot: Shot) -> ShotPair:
    """Return a shot that counts with what was observed."""
    return ShotPair(_observed(view).get(shot.key, shot), shot)


def shot_answer(pair: ShotPair) -> answer.SurveyShot:
    """Return a shot as it counts beside what was observed."""
    observed, shot = pair
    return answer.SurveyShot(
        file=shot.file,
        row=shot.row,
        point=shot.point,
        pole=shot.pole,
        note=shot.note,
        east=f"{shot.easting:,.3f}",
        north=f"{shot.northing:,.3f}",
        observed_east=f"{observed.easting:,.3f}",
        observed_north=f"{observed.northing:,.3f}",
        correction=pair.correction_words,
    )


def check_in_answer(each: CheckIn, unit: str) -> answer.SurveyCheckIn:
    """Return a check-in with its residuals as texts in the ground unit."""

    def length(value: float | None) -> str:
        return "" if value is None else f"{value:+.3f} {unit}"

    return answer.SurveyCheckIn(
        session=each.session,
        control=each.control,
        how=each.how,
        file=each.file,
        row=each.row,
        point=each.point,
        description=each.description,
        observed_east=length(each.observed_east),
        observed_north=length(each.observed_north),
        east=length(each.east),
        north=length(each.north),
        up=length(each.up),
        sigma=f"{each.sigma:.3f} {unit}",
        off=each.off,
    )


def observed_poles(view: JobView) -> FloatArray:
    """Return where each pole in use was observed, before accepted corrections: grid, (n, 3, 2), else nan.

    Of several shots that is their mean, as of those that count.
    """
    total, shots = np.zeros((len(view.figures), 3, 2)), np.zeros((len(view.figures), 3, 1))
    before = _observed(view)
    for key, of_structure in view.shots_by_structure.items():
        row = view.row_of.get(key)
        for shot in of_structure if row is not None else ():
            if shot.item == "pole" and shot.pole in POLE_LETTERS:
                observed = before.get(shot.key, shot)
                pole = POLE_LETTERS.index(shot.pole)
                total[row, pole] += (observed.easting, observed.northing)
                shots[row, pole] += 1.0
    used, mean = np.isfinite(view.set_poles.position) & (shots > 0.0), np.full(total.shape, np.nan)
    np.divide(total, shots, out=mean, where=used)
    return mean


def held_columns(view: JobView) -> dict[str, NDArray[np.generic]]:
    """Return what an export says after the result table: what holds each pass, and the poles as observed."""
    return {
        "held": np.array([held_words(view, row) for row in range(len(view.figures))], dtype=object),
        **pole_columns("observed", observed_poles(view)),
    }


def check_in_words(each: CheckIn, unit: str) -> str:
    """Say one check-in in a sentence: the session, the point, the residuals as observed and as corrected."""
    told = check_in_answer(each, unit)
    observed = f"observed {told.observed_east} E, {told.observed_north} N"
    moved = (each.east, each.north) != (each.observed_east, each.observed_north)
    corrected = f"; corrected {told.east} E, {told.north} N" if moved else ""
    up = f", {told.up} up" if told.up else ""
    return (
        f"{each.session}: {each.control}, {each.point} row {each.row}: {observed}{up} (sigma {told.sigma})"
        f"{corrected}; {'off' if each.off else 'fits'}"
    )


def _observed(view: JobView) -> Mapping[ShotKey, Shot]:
    found = _OBSERVED.get(view)
    if found is None:
        found = _OBSERVED[view] = {shot.key: shot for shot in view.observed_shots}
    return found
