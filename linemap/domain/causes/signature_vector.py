"""Signatures of files whose coordinates are right in shape and wrong in place: foot, factor, base, rotation.

The centres of a file's frames are held against their design as vectors. Each explanation is a least-squares
fit of those vectors; the fits compete by their evidence (`linemap.domain.causes.fit`), so that the one with
fewer free numbers wins when both explain the same. Setting scatter, a third of the tolerance, is part of the
sigma.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

import numpy as np

from linemap.domain.causes.cause import DecisionKey, Suspicion
from linemap.domain.causes.checked_survey import CheckedSurvey, file_subject
from linemap.domain.causes.fit import Fit, fit_vectors
from linemap.domain.causes.vector_words import Group, Kind, Model, suspicion_of
from linemap.domain.design.structure import BoolArray, FloatArray, IntArray

#: How much smaller a coordinate in US survey feet is than the same in international feet (85 FR 62698).
_FOOT = 1.0 - 0.3048 / (1200.0 / 3937.0)
#: Area a structure that no file-wide model explains may be anywhere in, half width (50 ft in metres) ...
_ANYWHERE_M = 15.24
#: ... and the share of such structures expected in a file.
_OUTLIERS = 0.05
#: A file's shots of one pole that lie farther apart than this (1 ft) tell no single place.
_ONE_PLACE_M = 0.3048
#: Measured and design distance of the outer poles may differ by this (5 ft) in a frame.
_FRAME_M = 1.524
#: Costs by which an explanation must beat none at all (odds 1,100 to 1) and another one (20 to 1).
_AGAINST_NONE, _AGAINST_OTHER = 14.0, 6.0
#: Least share of a file's structures that an explanation of the whole file must explain.
_MOST = 0.6
#: Prior probability of a scale that is not the job's, and of a scale and a rotation at once.
_ODD = 0.002
#: A combined factor this near 1 is none.
_WORST_FACTOR = 5e-6
#: What a law is called, the number it fixes, and the vectors it predicts.
_Law = tuple[Kind, float, FloatArray]
#: Rounds after which a rotation of a few degrees is exact to the last shot.
_STRAIGHTENED = 3


def shifted_files(survey: CheckedSurvey, *, rejected: Collection[DecisionKey] = ()) -> list[Suspicion]:
    """Find files of two exceptions or more whose structures are all off by one law, none a person `rejected`.

    Returns
    -------
    list of Suspicion
        "foot definition", "grid taken as ground", "base or datum shifted", "rotation of the survey"; "no
        single cause found" when two of them explain a file about equally well.
    """
    found = []
    for index, group in _groups(survey):
        file = survey.files[index]
        line = survey.line_name(group.rows.tolist())
        models = [m for m in _models(group) if (m.code, file_subject(file), line) not in rejected]
        suspicion = _decide(survey, file, group, models)
        if suspicion is not None:
            found.append(suspicion)
    return found


def _groups(survey: CheckedSurvey) -> Iterable[tuple[int, Group]]:
    """Gather the frames each file shows whole, of files with two exceptions or more."""
    file, row, place = _frames(survey)
    for index in np.unique(file).tolist():
        here = file == index
        if here.sum() >= 2 and survey.exception[row[here]].sum() >= 2:
            yield index, _group(survey, row[here], place[here])


def _frames(survey: CheckedSurvey) -> tuple[IntArray, IntArray, FloatArray]:
    """Return file, row and (k, 2) centre of each frame whose outer poles one file shows."""
    size = len(survey.figures) * 3
    pole = survey.file * size + survey.matched.row * 3 + survey.matched.pole
    known, of_pole = np.unique(pole, return_inverse=True)
    if not len(known):
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros((0, 2))
    at = np.column_stack([_mean(survey.matched.at[:, axis], of_pole, len(known)) for axis in (0, 1)])
    spread = np.zeros(len(known))
    np.maximum.at(spread, of_pole, np.hypot(*(survey.matched.at - at[of_pole]).T))
    row = (known % size) // 3
    steady = spread * survey.figures.grid_metres[row] <= _ONE_PLACE_M
    known, at, row = known[steady], at[steady], row[steady]
    first = np.flatnonzero(known % 3 == 0)
    outer = known[first] + survey.figures.structures.pole_count[row[first]] - 1
    last = np.minimum(np.searchsorted(known, outer), len(known) - 1)
    both = known[last] == outer
    first, last = first[both], last[both]
    whole = _looks_like_a_frame(survey, row[first], at[last] - at[first])
    first, last = first[whole], last[whole]
    return known[first] // size, row[first], (at[first] + at[last]) / 2.0


def _mean(values: FloatArray, group: IntArray, size: int) -> FloatArray:
    return np.bincount(group, weights=values, minlength=size) / np.bincount(group, minlength=size)


def _looks_like_a_frame(survey: CheckedSurvey, row: IntArray, across: FloatArray) -> BoolArray:
    design = survey.figures.structures.spacing[row] * (survey.figures.structures.pole_count[row] - 1)
    measured = np.hypot(across[:, 0], across[:, 1]) / survey.figures.combined_factor[row]
    metres = survey.figures.of_lines(lambda line: line.unit.metres)[row]
    return np.asarray(np.isnan(design) | (np.abs(measured - design) * metres <= _FRAME_M))


def _group(survey: CheckedSurvey, row: IntArray, place: FloatArray) -> Group:
    shot = survey.tolerances.shot_sigma / math.sqrt(2.0)
    along = np.hypot(shot, survey.along_limit(row) / 3.0)
    across = np.full(len(row), math.hypot(shot, survey.tolerances.across.value / 3.0))
    sigma = np.hypot(np.column_stack([along, across]), survey.tolerances.common_sigma)
    line = survey.line(int(row[0]))
    half = line.ground(_ANYWHERE_M)
    inside = (1.0 - _OUTLIERS) / (2.0 * math.pi * float(np.median(sigma[:, 0] * sigma[:, 1])))
    return Group(
        rows=row,
        design=survey.centre[row],
        off=place - survey.centre[row],
        whiten=survey.own_frame(row) / sigma[:, :, np.newaxis],
        outlier_cost=max(2.0 * math.log(inside / (_OUTLIERS / (2.0 * half) ** 2)), 9.0),
        factor=line.combined_factor if line.combined_factor_declared else math.nan,
        foot=line.ground(0.3048),
    )


def _models(group: Group) -> list[Model]:
    """Return every explanation of a group; lengths in the grid's unit, slopes as pure numbers.

    Of the job's own factor: left out or applied twice, about any point; and any other scale.
    """
    place, far, turns = group.foot * 200.0, group.foot * 4000.0, math.radians(4.0)
    still = np.zeros_like(group.off)
    move = np.broadcast_to(np.eye(2), (len(group.off), 2, 2))
    none = move[:, :, :0]
    from_middle = group.design - group.design.mean(axis=0)
    turned = np.column_stack([from_middle[:, 1], -from_middle[:, 0]])
    grow, turn = (np.concatenate([move, way[:, :, np.newaxis]], axis=2) for way in (from_middle, turned))
    both = np.concatenate([grow, turned[:, :, np.newaxis]], axis=2)
    known = math.isfinite(group.factor)
    scale = ("no single cause found", _ODD) if known else ("grid taken as ground", 0.1)
    feet: list[_Law] = [("foot", sign * _FOOT, sign * _FOOT * group.design) for sign in (-1.0, 1.0)]
    factors: list[_Law] = []
    if known and abs(group.factor - 1.0) >= _WORST_FACTOR:
        slopes: tuple[tuple[Kind, float], ...] = (
            ("ground", 1.0 / group.factor - 1.0),
            ("twice", group.factor - 1.0),
        )
        factors = [(kind, slope, slope * from_middle) for kind, slope in slopes]
    return [
        Model("", "none", still, none, (), 0.5),
        Model("base or datum shifted", "vector", still, move, (place, place), 0.15),
        Model("rotation of the survey", "rotation", still, turn, (far, far, turns), 0.05),
        Model("no single cause found", "similarity", still, both, (far, far, 0.004, turns), _ODD),
        *(Model("foot definition", kind, fixed, none, (), 0.05, number) for kind, number, fixed in feet),
        Model(scale[0], "scale", still, grow, (far, far, 0.004), scale[1]),
        *(
            Model("grid taken as ground", kind, fixed, move, (far, far), 0.05, number)
            for kind, number, fixed in factors
        ),
    ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fitted:
    model: Model
    fit: Fit


def _fit(group: Group, model: Model) -> _Fitted:
    """Fit a model; a rotation is made straight again about the angle found, as its chord is shorter."""
    fitted = _fit_once(group, model)
    for _ in range(_STRAIGHTENED if model.kind == "rotation" and np.isfinite(fitted.fit.cost) else 0):
        fitted = _fit_once(group, _about(group, fitted.model, float(fitted.fit.values[2])))
    return fitted


def _about(group: Group, model: Model, more_rad: float) -> Model:
    """Return the rotation model with `number`, the clockwise angle it starts from, larger by `more_rad`."""
    angle = model.number + more_rad
    from_middle = (group.design - group.design.mean(axis=0)) @ np.array([1.0, 1.0j])
    turned = from_middle * np.exp(-1j * angle)
    fixed, change = turned - from_middle, -1j * turned
    column = np.column_stack([change.real, change.imag])[:, :, np.newaxis]
    return replace(
        model,
        number=angle,
        fixed=np.column_stack([fixed.real, fixed.imag]),
        columns=np.concatenate([model.columns[:, :, :2], column], axis=2),
    )


def _fit_once(group: Group, model: Model) -> _Fitted:
    observed = np.einsum("mij,mj->mi", group.whiten, group.off - model.fixed)
    fit = fit_vectors(
        observed,
        group.whiten @ model.columns,
        ranges=np.array(model.ranges),
        outlier_cost=group.outlier_cost,
        prior=model.prior,
    )
    return _Fitted(model=model, fit=fit)


def _decide(survey: CheckedSurvey, file: str, group: Group, models: list[Model]) -> Suspicion | None:
    """Choose the explanation with the best evidence, if it is better than none by far."""
    fitted = sorted((_fit(group, model) for model in models), key=lambda each: each.fit.cost)
    none = next(each for each in fitted if each.model.kind == "none")
    able = [each for each in fitted if each is none or _explains(survey, group, each)]
    best = able[0]
    if best is none or none.fit.cost - best.fit.cost < _AGAINST_NONE:
        return None
    others = [
        (each.model, (each.fit.cost - best.fit.cost) / 2.0)
        for each in able
        if each is not none and each.model.code != best.model.code
    ]
    tied = [model for model, odds in others if odds < _AGAINST_OTHER / 2.0]
    return suspicion_of(
        survey, file, group, model=best.model, fit=best.fit, before=none.fit, others=others, tied=tied
    )


def _explains(survey: CheckedSurvey, group: Group, each: _Fitted) -> bool:
    """Tell whether a fit explains most of the file, and two exceptions among it."""
    explained = each.fit.explained
    needed = 2 if not each.model.ranges else 3
    return bool(
        explained.sum() >= max(needed, _MOST * len(explained))
        and survey.exception[group.rows[explained]].sum() >= 2
    )
