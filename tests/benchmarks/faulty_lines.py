"""Invented lines as set and as shot, clean or with one planted fault each; everything drawn from one seed."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from linemap.domain.design.line import Centreline, Line
from linemap.domain.design.structure import Structures
from linemap.domain.record.event import Event
from linemap.domain.survey.shot import Shot
from linemap.geometry.projection import Projection
from linemap.geometry.station import Stationing
from linemap.units import LengthUnit

FACTOR = 0.999217
SIZE, PER_FILE = 18, 6
#: Structures that stand on a PI.
ANGLES = (6, 12)
SHOT_SIGMA, COMMON_SIGMA = 0.03, 0.02
#: Setting scatter, a quarter of the default tolerances and never beyond 0.6 of them.
TOLERANCE = {"along": 1.0, "across": 0.25, "turn": 1.0, "gap": 0.2}
FOOT = 1.0 - 0.3048 / (1200.0 / 3937.0)
MORNING = dt.datetime(2026, 5, 4, 13, 0, tzinfo=dt.UTC)

Array = NDArray[np.float64]


@dataclass(slots=True, kw_only=True)
class Made:
    """One invented line while it is being made: design, frames as set, shots, records."""

    rng: np.random.Generator
    name: str
    number: list[str]
    centre: Array
    back: Array
    ahead: Array
    count: NDArray[np.int64]
    spacing: Array
    along: Array
    across: Array
    turn: Array
    gap: Array
    swapped: NDArray[np.bool_]
    #: (n, 3, 2) how far ahead and right each pole, from left to right, stands off its place in the frame.
    pole_off: Array
    sigma: Array
    #: Ground at each structure, and what the list says of it.
    ground: Array
    listed_ground: Array
    #: Distance along the line, ground; back and ahead station of its equations.
    distance: Array
    equations: list[tuple[float, float]]
    #: True where the stations of the list know nothing of the equations.
    equations_left_out: bool
    framed_by: list[str]
    shots: list[Shot]

    @property
    def faces(self) -> Array:
        """Grid azimuth each structure faces: the bisector."""
        return self.back + ((self.ahead - self.back + 180.0) % 360.0 - 180.0) / 2.0


def make_line(rng: np.random.Generator, index: int) -> Made:
    """Draw a line of three legs and the frames on it, all within tolerance."""
    turns = rng.uniform(4.0, 40.0, 2) * rng.choice([-1.0, 1.0], 2)
    azimuth = rng.uniform(0.0, 360.0) + np.concatenate([[0.0], turns.cumsum()])
    leg = np.searchsorted(ANGLES, np.arange(SIZE - 1), side="right")
    step = rng.uniform(800.0, 1200.0, SIZE - 1) * FACTOR
    way = np.radians(azimuth[leg])
    start = rng.uniform([1_900_000.0, 700_000.0], [2_400_000.0, 1_100_000.0])
    path = np.column_stack([np.sin(way), np.cos(way)]) * step[:, np.newaxis]
    back, ahead = azimuth[np.concatenate([[0], leg])], azimuth[np.concatenate([leg, [2]])]
    three = np.isin(np.arange(SIZE), ANGLES) & (np.abs(ahead - back) > 15.0)
    crews = rng.choice(["Heron", "Raven", "Wren"], SIZE // 3)
    ground = rng.uniform(2_000.0, 6_000.0) + rng.normal(0.0, 25.0, SIZE).cumsum()
    return Made(
        rng=rng,
        name=f"L{index}",
        number=[f"{1 + i // 6}/{1 + i % 6}" for i in range(SIZE)],
        centre=np.vstack([start, start + path.cumsum(axis=0)]),
        back=back,
        ahead=ahead,
        count=np.where(three, 3, 2),
        spacing=np.where(three, 15.0, 12.5),
        along=scatter(rng, "along") * np.where(np.isin(np.arange(SIZE), (0, *ANGLES, SIZE - 1)), 0.25, 1.0),
        across=scatter(rng, "across"),
        turn=scatter(rng, "turn"),
        gap=scatter(rng, "gap"),
        swapped=np.zeros(SIZE, dtype=np.bool_),
        pole_off=np.zeros((SIZE, 3, 2)),
        sigma=np.full(SIZE, SHOT_SIGMA),
        ground=ground,
        listed_ground=ground + rng.normal(0.0, 0.3, SIZE),
        distance=np.concatenate([[0.0], step.cumsum() / FACTOR]),
        equations=[],
        equations_left_out=False,
        framed_by=[str(crews[i // 3]) for i in range(SIZE)],
        shots=[],
    )


def scatter(rng: np.random.Generator, kind: str) -> Array:
    limit = TOLERANCE[kind]
    return rng.normal(0.0, limit / 4.0, SIZE).clip(-0.6 * limit, 0.6 * limit)


def shoot(made: Made, common: float = COMMON_SIGMA) -> None:
    """Shoot every pole once, a file of six structures at a time, which share an error of sigma `common`."""
    rng = made.rng
    for i in range(SIZE):
        if i % PER_FILE == 0:
            shared = rng.normal(0.0, common, 2)
        ahead, arm = unit(made.faces[i]), unit(made.faces[i] + 90.0 + made.turn[i])
        right = unit(made.faces[i] + 90.0)
        centre = made.centre[i] + (ahead * made.along[i] + right * made.across[i]) * FACTOR
        places = (np.arange(made.count[i]) - (made.count[i] - 1) / 2.0) * (made.spacing[i] + made.gap[i])
        off = (made.pole_off[i, :, :1] * ahead + made.pole_off[i, :, 1:] * right)[: made.count[i]]
        stands = list(zip(places, off, strict=True))
        for letter, (place, moved) in zip("ABC", stands[::-1] if made.swapped[i] else stands, strict=False):
            at = centre + (arm * place + moved) * FACTOR + shared + rng.normal(0.0, made.sigma[i], 2)
            height = made.ground[i] + rng.normal(0.0, 0.3)
            made.shots.append(_shot(made, i, letter, at, height))


def _shot(made: Made, i: int, letter: str, at: Array, height: float) -> Shot:
    default = made.sigma[i] == SHOT_SIGMA
    row = len(made.shots) + 1
    return Shot(
        point=str(5000 + row),
        easting=float(at[0]),
        northing=float(at[1]),
        elevation=float(height),
        structure=made.number[i],
        pole=letter,
        item="pole",
        line=made.name,
        sigma=None if default else float(made.sigma[i]),
        file=f"{made.name}-{i // PER_FILE}.csv",
        row=row,
    )


def unit(azimuth_deg: float) -> Array:
    angle = math.radians(azimuth_deg)
    return np.array([math.sin(angle), math.cos(angle)])


def line_of(made: Made) -> Line:
    corners = made.centre[[0, *ANGLES, SIZE - 1]]
    return Line(
        name=made.name,
        crs="EPSG:6515",
        unit=LengthUnit.FOOT,
        centreline=Centreline.from_points(corners),
        combined_factor=FACTOR,
        stationing=stationing_of(made),
    )


def stationing_of(made: Made) -> Stationing:
    return Stationing.from_pairs(0.0, made.equations)


def stations_of(made: Made) -> list[str]:
    """Return the stations of the list."""
    if made.equations_left_out:
        return [f"{value:.2f}" for value in made.distance.tolist()]
    return [f"{value:.2f}" for value in stationing_of(made).post(made.distance)[0].tolist()]


def structures_of(lines: list[Made]) -> Structures:
    return Structures.from_columns(
        line=[made.name for made in lines for _ in range(SIZE)],
        number=[number for made in lines for number in made.number],
        easting=np.concatenate([made.centre[:, 0] for made in lines]),
        northing=np.concatenate([made.centre[:, 1] for made in lines]),
        spacing=np.concatenate([made.spacing for made in lines]),
        pole_count=np.concatenate([made.count for made in lines]),
        elevation=np.concatenate([made.listed_ground for made in lines]),
        given_station=[text for made in lines for text in stations_of(made)],
        section_break=np.tile(np.isin(np.arange(SIZE), (0, SIZE - 1)), len(lines)),
    )


def events_of(made: Made) -> list[Event]:
    """Framed by the crews drawn, set by one crew, three a day."""
    return [
        Event(
            id=f"{made.name} {number} {step}",
            line=made.name,
            structure=number,
            step=step,
            happened_at=MORNING + dt.timedelta(days=i // 3, hours=i % 3),
            received_at=MORNING + dt.timedelta(days=30),
            crew=crew,
        )
        for i, number in enumerate(made.number)
        for step, crew in (("framed", made.framed_by[i]), ("set", "Otter"))
    ]


# ---- faults of frames: change what was set, return the structures concerned


def offset_stake(made: Made) -> list[int]:
    i = one(made)
    side = made.along if made.rng.random() < 0.5 else made.across
    side[i] += made.rng.choice([5.0, 10.0, 15.0, 25.0, 50.0]) * made.rng.choice([-1.0, 1.0])
    return [i]


def square_to_one_tangent(made: Made) -> list[int]:
    i = int(made.rng.choice(ANGLES))
    tangent = made.back if made.rng.random() < 0.5 else made.ahead
    made.turn[i] += tangent[i] - made.faces[i]
    return [i]


def parallel_to_the_line(made: Made) -> list[int]:
    i = one(made)
    made.turn[i] += 90.0 * made.rng.choice([-1.0, 1.0])
    return [i]


def inner_faces(made: Made) -> list[int]:
    i = one(made)
    made.gap[i] -= made.rng.uniform(1.1, 1.5)
    return [i]


def one_side(made: Made) -> list[int]:
    """At an angle or dead-end: on tangents the tolerance along the line is wider than a pole."""
    i = int(made.rng.choice([0, *ANGLES, SIZE - 1]))
    made.along[i] += made.rng.uniform(0.5, 0.75) * made.rng.choice([-1.0, 1.0])
    return [i]


def brace_set(made: Made) -> list[int]:
    i = one(made)
    made.gap[i] += made.rng.uniform(0.3, 0.6) * made.rng.choice([-1.0, 1.0])
    return [i]


def reversed_single(made: Made) -> list[int]:
    i = one(made)
    made.swapped[i] = True
    return [i]


def faced_back(made: Made) -> list[int]:
    size = int(made.rng.integers(3, 7))
    first = int(made.rng.integers(0, SIZE - size + 1))
    rows = list(range(first, first + size))
    made.framed_by = ["Raven" if i in rows else "Heron" for i in range(SIZE)]
    made.swapped[rows] = True
    return rows


def tagged_file(made: Made) -> list[int]:
    """All of one file, framed by several crews."""
    file = int(made.rng.integers(SIZE // PER_FILE))
    rows = list(range(file * PER_FILE, (file + 1) * PER_FILE))
    made.framed_by = [("Heron", "Raven", "Wren")[i % 3] for i in range(SIZE)]
    made.swapped[rows] = True
    return rows


def tagged_line(made: Made) -> list[int]:
    """All but one at most, framed by several crews."""
    made.framed_by = [("Heron", "Raven", "Wren")[i % 3] for i in range(SIZE)]
    made.swapped[:] = True
    if made.rng.random() < 0.5:
        made.swapped[one(made)] = False
    return np.flatnonzero(made.swapped).tolist()


def pole_off_stake(made: Made) -> list[int]:
    """One pole ahead or back where the centre is held tight (elsewhere it may be a turn), or to a side."""
    across = made.rng.random() < 0.5
    i = one(made) if across else int(made.rng.choice([0, *ANGLES, SIZE - 1]))
    pole = int(made.rng.choice([0, made.count[i] - 1]))
    made.pole_off[i, pole, int(across)] = made.rng.uniform(0.8, 4.0) * made.rng.choice([-1.0, 1.0])
    return [i]


def neighbours_bisector(made: Made) -> list[int]:
    """A tangent structure beside a PI, square to that one's bisector."""
    at = int(made.rng.choice(ANGLES))
    i = at + int(made.rng.choice([-1, 1]))
    made.turn[i] += (made.faces[at] - made.faces[i] + 180.0) % 360.0 - 180.0
    return [i]


def poor_survey(made: Made) -> list[int]:
    i = one(made)
    made.sigma[i] = made.rng.uniform(0.15, 0.5)
    return [i]


def other_fault(made: Made) -> list[int]:
    """An arm turned by no special angle, or a frame moved by no round number: one way, or both ways."""
    i, kind = one(made), made.rng.integers(4)
    if kind == 0:
        made.turn[i] += made.rng.uniform(2.0, 20.0) * made.rng.choice([-1.0, 1.0])
    if kind in (1, 3):
        made.along[i] += _not_round(made.rng, 2.0)
    if kind in (2, 3):
        made.across[i] += _not_round(made.rng, 1.0)
    return [i]


def _not_round(rng: np.random.Generator, least: float) -> float:
    """Draw a distance up to 30 ft either way that is no stake's by 1.5 ft: setting scatter makes it none."""
    while True:
        size = rng.uniform(least, 30.0)
        if min(abs(size - stake) for stake in (5.0, 10.0, 15.0, 25.0)) > 1.5:
            return float(size * rng.choice([-1.0, 1.0]))


def one(made: Made) -> int:
    return int(made.rng.integers(SIZE))


# ---- faults of shots: change what was recorded


def of_file(made: Made, change: Callable[[Array], Array], file: int | None = None) -> list[int]:
    """Change the coordinates, (n, 2), of all shots of one file, drawn when it is not said."""
    file = int(made.rng.integers(SIZE // PER_FILE)) if file is None else file
    chosen = [k for k, shot in enumerate(made.shots) if shot.file == f"{made.name}-{file}.csv"]
    at = change(np.array([(made.shots[k].easting, made.shots[k].northing) for k in chosen]))
    for k, (east, north) in zip(chosen, at.tolist(), strict=True):
        made.shots[k] = replace(made.shots[k], easting=east, northing=north)
    return list(range(file * PER_FILE, (file + 1) * PER_FILE))


def exchanged(made: Made) -> list[int]:
    return of_file(made, lambda at: at[:, ::-1])


def foot(made: Made) -> list[int]:
    return of_file(made, lambda at: at * (1.0 - FOOT))


def foot_of(file: int) -> Callable[[Made], list[int]]:
    return lambda made: of_file(made, lambda at: at * (1.0 - FOOT), file)


def other_unit(made: Made) -> list[int]:
    return of_file(made, lambda at: at * 0.3048)


def ground(made: Made) -> list[int]:
    """Ground about a control point within two miles, or the factor applied twice about it."""
    base = made.centre[one(made)] + made.rng.uniform(-10_000.0, 10_000.0, 2)
    scale = FACTOR if made.rng.random() < 0.5 else 1.0 / FACTOR
    return of_file(made, lambda at: base + (at - base) * scale)


def base_shift(made: Made) -> list[int]:
    way = unit(made.rng.uniform(0.0, 360.0))
    return of_file(made, lambda at: at + way * made.rng.uniform(1.5, 40.0))


def rotation(made: Made) -> list[int]:
    base = made.centre[one(made)] + made.rng.uniform(-3_000.0, 3_000.0, 2)
    angle = math.radians(made.rng.uniform(0.05, 1.5) * made.rng.choice([-1.0, 1.0]))
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    return of_file(made, lambda at: base + (at - base) @ turn)


def other_zone(made: Made, design: Projection, other: Projection) -> list[int]:
    def project(at: Array) -> Array:
        return np.column_stack(other.from_geodetic(*design.to_geodetic(at[:, 0], at[:, 1])))

    return of_file(made, project)


def other_datum(made: Made, design: Projection, other: Projection) -> list[int]:
    """Through WGS 84, and some metres beside it: what PROJ's steps without grids are good for."""
    beside = made.rng.uniform(-5.0, 5.0, 2) / other.unit.metres

    def project(at: Array) -> Array:
        return np.column_stack(other.from_lonlat(*design.to_lonlat(at[:, 0], at[:, 1]))) + beside

    return of_file(made, project)


def neighbour_label(made: Made) -> list[int]:
    i = int(made.rng.integers(SIZE - 1))
    target, label = (i, i + 1) if made.rng.random() < 0.5 else (i + 1, i)
    for k, shot in enumerate(made.shots):
        if shot.structure == made.number[target]:
            made.shots[k] = replace(shot, structure=made.number[label])
    return [label]


def labels_off(made: Made) -> list[int]:
    """Number the shots of one file one or two structures off; return the structures they are of."""
    file, step = int(made.rng.integers(SIZE // PER_FILE)), int(made.rng.choice([-2, -1, 1, 2]))
    rows = [i for i in range(file * PER_FILE, (file + 1) * PER_FILE) if 0 <= i + step < SIZE]
    label = {made.number[i]: made.number[i + step] for i in rows}
    name = f"{made.name}-{file}.csv"
    for k, shot in enumerate(made.shots):
        if shot.file == name:
            made.shots[k] = replace(shot, structure=label.get(shot.structure, shot.structure))
    return rows


def letters_exchanged(made: Made) -> list[int]:
    """Exchange letters of a three-pole structure, other than end for end; of a two-pole line nothing."""
    three = np.flatnonzero(made.count == 3)
    if not len(three):
        return []
    i = int(made.rng.choice(three))
    letters = dict(zip("ABC", str(made.rng.choice(["ACB", "BAC", "BCA", "CAB"])), strict=True))
    for k, shot in enumerate(made.shots):
        if shot.structure == made.number[i]:
            made.shots[k] = replace(shot, pole=letters[shot.pole])
    return [i]


def line_not_named(made: Made) -> list[int]:
    """Leave the line out of one file: every line has these numbers."""
    file = int(made.rng.integers(SIZE // PER_FILE))
    for k, shot in enumerate(made.shots):
        if shot.file == f"{made.name}-{file}.csv":
            made.shots[k] = replace(shot, line="")
    return list(range(file * PER_FILE, (file + 1) * PER_FILE))


def equation_left_out(made: Made) -> list[int]:
    """Give the line an equation that its list does not know."""
    i = int(made.rng.integers(3, SIZE - 5))
    back = float(made.distance[i] + made.rng.uniform(100.0, 700.0))
    made.equations = [(back, back + float(made.rng.uniform(40.0, 900.0) * made.rng.choice([-1.0, 1.0])))]
    made.equations_left_out = True
    return list(range(i + 1, SIZE))


def of_heights(made: Made, change: Callable[[float], float]) -> list[int]:
    file = int(made.rng.integers(SIZE // PER_FILE))
    for k, shot in enumerate(made.shots):
        if shot.file == f"{made.name}-{file}.csv" and shot.elevation is not None:
            made.shots[k] = replace(shot, elevation=change(shot.elevation))
    return list(range(file * PER_FILE, (file + 1) * PER_FILE))


def heights_shifted(made: Made) -> list[int]:
    up = float(made.rng.uniform(2.0, 120.0) * made.rng.choice([-1.0, 1.0]))
    return of_heights(made, lambda height: height + up)


def heights_in_metres(made: Made) -> list[int]:
    return of_heights(made, lambda height: height * 0.3048)


def height_of_another(made: Made) -> list[int]:
    """The list has the ground of the next structure, where that is far from the own."""
    i = int(made.rng.integers(SIZE - 1))
    if abs(made.ground[i] - made.ground[i + 1]) < 12.0:
        return []
    made.listed_ground[i] = made.listed_ground[i + 1]
    return [i]


def heights_of_next(made: Made) -> list[int]:
    """The list's heights stand one row off."""
    made.listed_ground = np.roll(made.listed_ground, int(made.rng.choice([-1, 1])))
    return list(range(SIZE))


def duplicate(made: Made) -> list[int]:
    k = int(made.rng.integers(len(made.shots)))
    shot = made.shots[k]
    away = unit(made.rng.uniform(0.0, 360.0)) * made.rng.uniform(0.5, 12.0)
    again = replace(
        shot, easting=shot.easting + away[0], northing=shot.northing + away[1], row=len(made.shots) + 1
    )
    made.shots.append(again)
    return [made.number.index(shot.structure)]


def pole_missing(made: Made) -> list[int]:
    shot = made.shots.pop(int(made.rng.integers(len(made.shots))))
    return [made.number.index(shot.structure)]
