"""The survey files against the key, by a check of their own written here in plain mathematics."""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import NormalDist, mean

import pytest

Rows = list[dict[str, str]]
Key = dict[str, Rows]

FACTOR = 0.999217
DATES = ("2026-04-02", "2026-04-09", "2026-04-16", "2026-04-23", "2026-04-29", "2026-05-13")
US_SURVEY_FOOT = 1200 / 3937 / 0.3048
DESCRIBED = re.compile(r"^(?:STR |S)?(\d+)[/-](\d+) (?:POLE )?([ABC])(?: GL)?$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    file: str
    structure: str
    pole: str
    northing: float
    easting: float
    elevation: float
    hrms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    reversed: bool
    rotation: float
    along: float
    across: float
    spacing: float
    collinearity: float


def raw_rows(folder: Path) -> list[tuple[str, list[str]]]:
    rows = []
    for date in DATES:
        with (folder / f"shots_{date}.csv").open(encoding="utf-8", newline="") as stream:
            rows += [(date, row) for row in csv.reader(stream)]
    return rows


def pole_shots(folder: Path, *, corrected: bool) -> list[Shot]:
    """Pole shots; corrected = file order and foot as they should be."""
    shots = []
    for date, (_, first, second, elevation, description, hrms) in raw_rows(folder):
        found = DESCRIBED.match(description)
        if not found:
            continue
        plane = [float(first), float(second)]
        if corrected and date == "2026-04-02":
            plane.reverse()
        unit = US_SURVEY_FOOT if corrected and date == "2026-04-29" else 1.0
        shots.append(
            Shot(
                file=date,
                structure=f"{found[1]}/{found[2]}",
                pole=found[3],
                northing=plane[0] * unit,
                easting=plane[1] * unit,
                elevation=float(elevation) * unit,
                hrms=float(hrms),
            )
        )
    return shots


def design(key: Key) -> dict[str, dict[str, tuple[float, float]]]:
    poles: dict[str, dict[str, tuple[float, float]]] = {}
    for row in key["poles"]:
        place = (float(row["northing_ft"]), float(row["easting_ft"]))
        poles.setdefault(row["structure"], {})[row["pole"]] = place
    return poles


def as_set(shots: list[Shot], structure: str) -> dict[str, tuple[float, float]]:
    poles: dict[str, list[Shot]] = {}
    for shot in shots:
        if shot.structure == structure:
            poles.setdefault(shot.pole, []).append(shot)
    return {name: (mean(s.northing for s in p), mean(s.easting for s in p)) for name, p in poles.items()}


def read(wanted: dict[str, tuple[float, float]], found: dict[str, tuple[float, float]]) -> Reading:
    """Compare as-set poles with the design; two or three poles, all present."""

    def across_arm(poles: dict[str, tuple[float, float]]) -> tuple[complex, complex]:
        first, last = complex(*poles["A"]), complex(*poles[max(poles)])
        return last - first, (first + last) / 2

    (arm, centre), (built, middle) = across_arm(wanted), across_arm(found)
    right = arm / abs(arm)
    turn = built / abs(built) / right  # north + i east: azimuths turn the same way
    is_reversed = turn.real < 0
    rotation = math.degrees(math.atan2((-turn if is_reversed else turn).imag, abs(turn.real)))
    shift = (middle - centre) / FACTOR / right
    bow = 0.0
    if "C" in found:
        bow = ((complex(*found["B"]) - middle) / (built / abs(built))).imag / FACTOR
    return Reading(
        reversed=is_reversed,
        rotation=rotation,
        along=-shift.imag,
        across=shift.real,
        spacing=abs(built) / FACTOR / (len(found) - 1),
        collinearity=bow,
    )


def probability(value: float, sigma: float, tolerance: float) -> float:
    normal = NormalDist()
    return normal.cdf((tolerance - value) / sigma) - normal.cdf((-tolerance - value) / sigma)


def verdict(reading: Reading, *, sigma: float, spacing: float, at_angle: bool, arm: float) -> str:
    centre = math.sqrt(sigma**2 / 2 + 0.02**2)
    values = (
        probability(reading.rotation, math.degrees(math.sqrt(2) * sigma / arm), 1.0),
        probability(reading.along, centre, 0.25 if at_angle else 1.0),
        probability(reading.across, centre, 0.25),
        probability(reading.spacing - spacing, math.sqrt(2) * sigma, 0.20),
        probability(reading.collinearity, math.sqrt(1.5) * sigma, 0.25),
    )
    if min(values) <= 0.05:
        return "fail"
    return "pass" if min(values) >= 0.95 else "cannot tell"


def answers(key: Key, shots: list[Shot]) -> dict[str, tuple[Reading, str]]:
    """Reading and verdict of every structure with all its poles shot."""
    types = {row["structure"]: row["type"] for row in key["structures"]}
    result = {}
    for name, poles in design(key).items():
        found = as_set(shots, name)
        if set(found) != set(poles):
            continue
        arm = math.dist(poles["A"], poles[max(poles)]) / FACTOR
        sigma = next(shot.hrms for shot in shots if shot.structure == name) / math.sqrt(2)
        reading = read(poles, found)
        result[name] = (
            reading,
            verdict(
                reading,
                sigma=sigma,
                spacing=arm / (len(poles) - 1),
                at_angle=not types[name].startswith(("H-TAN", "H-LONG", "H-TRN")),
                arm=arm,
            ),
        )
    return result


def relabelled(shots: list[Shot], key: Key) -> list[Shot]:
    """The shots of 2/5 under their own number."""
    place = design(key)["2/5"]["A"]
    near = [s for s in shots if s.structure == "2/4" and math.dist((s.northing, s.easting), place) < 100]
    return [replace(s, structure="2/5") if s in near else s for s in shots]


@pytest.fixture(scope="module")
def corrected(demo_files: Path, key: Key) -> dict[str, tuple[Reading, str]]:
    return answers(key, relabelled(pole_shots(demo_files, corrected=True), key))


@pytest.fixture(scope="module")
def planted(key: Key) -> dict[str, dict[str, str]]:
    return {row["structure"]: row for row in key["as_set"]}


def test_118_lines_are_111_pole_shots_and_7_others(demo_files: Path) -> None:
    rows = raw_rows(demo_files)
    assert len(rows) == 118
    assert len(pole_shots(demo_files, corrected=False)) == 111
    others = [row[4] for _, row in rows if not DESCRIBED.match(row[4])]
    assert len(others) == 7
    assert others[0] == "CP-3 CHECK"
    assert others[-1] == "?"


def test_54_structures_are_surveyed_once_each_pole(demo_files: Path, key: Key) -> None:
    shots = pole_shots(demo_files, corrected=False)
    counts = {name: sum(s.structure == name for s in shots) for name in design(key)}
    surveyed = {row["structure"] for row in key["status"] if row["surveyed"] == "1"}
    odd = {"2/4": 4, "2/5": 0, "3/3": 3, "3/5": 3, "8/4": 1}
    for name, poles in design(key).items():
        assert counts[name] == odd.get(name, len(poles) if name in surveyed else 0)


def test_first_file_has_eastings_first(demo_files: Path) -> None:
    rows = [row for date, row in raw_rows(demo_files) if date == "2026-04-02"]
    assert all(float(row[1]) > 2_000_000 > float(row[2]) for row in rows)


def test_survey_foot_file_is_moved_alike_on_four_structures(demo_files: Path, key: Key) -> None:
    shots = [s for s in pole_shots(demo_files, corrected=False) if s.file == "2026-04-29"]
    assert {s.structure for s in shots} == {"7/1", "7/2", "7/5", "7/6"}
    poles = design(key)
    for name in ("7/1", "7/2", "7/5", "7/6"):
        own = [s for s in shots if s.structure == name]
        north = mean(s.northing - poles[name][s.pole][0] for s in own)
        east = mean(s.easting - poles[name][s.pole][1] for s in own)
        assert north == pytest.approx(-1.83, abs=0.05)
        assert east == pytest.approx(-4.56, abs=0.05)


def test_every_structure_answers_as_planted(
    corrected: dict[str, tuple[Reading, str]], planted: dict[str, dict[str, str]]
) -> None:
    whole = {name for name, row in planted.items() if row["after_acceptance"] != "incomplete"}
    assert set(corrected) == whole
    for name in whole - {"3/5"}:  # two shots of its pole B disagree; tested below
        reading, answer = corrected[name]
        wanted = planted[name]
        assert ("reversed" if reading.reversed else answer) == wanted["after_acceptance"], name
        if wanted["reversed"]:
            assert reading.reversed == (wanted["reversed"] == "1")
        for value, column, near in (
            (reading.rotation, "rotation_deg", 0.3),
            (reading.along, "along_ft", 0.1),
            (reading.across, "across_ft", 0.1),
            (reading.spacing, "spacing_ft", 0.1),
        ):
            if wanted[column]:
                assert value == pytest.approx(float(wanted[column]), abs=near), (name, column)


def test_reversed_frames_are_otherwise_within_tolerance(corrected: dict[str, tuple[Reading, str]]) -> None:
    turned = {name: answer for name, (reading, answer) in corrected.items() if reading.reversed}
    assert len(turned) == 8
    assert set(turned.values()) == {"pass"}


def test_31_structures_pass_before_labels_and_foot_are_corrected(demo_files: Path, key: Key) -> None:
    shots = pole_shots(demo_files, corrected=False)
    first = [s for s in pole_shots(demo_files, corrected=True) if s.file == DATES[0]]
    as_read = answers(key, first + [s for s in shots if s.file != DATES[0]])
    clean = [name for name, (reading, answer) in as_read.items() if answer == "pass" and not reading.reversed]
    assert len([name for name in clean if name not in ("2/4", "3/5")]) == 31


def test_clean_structures_are_far_from_a_tolerance(
    corrected: dict[str, tuple[Reading, str]], planted: dict[str, dict[str, str]]
) -> None:
    for name, row in planted.items():
        if row["planted"] == "none":
            assert abs(corrected[name][0].rotation) < 0.55


def test_doubtful_survey_travels_with_the_shots(demo_files: Path) -> None:
    quality = {(s.structure == "8/1", s.hrms) for s in pole_shots(demo_files, corrected=True)}
    assert quality == {(False, 0.042), (True, 0.141)}


def test_repeated_shots(demo_files: Path) -> None:
    shots = pole_shots(demo_files, corrected=True)
    for name, pole, apart in (("3/3", "A", 0.05), ("3/5", "B", 6.2)):
        one, two = [(s.northing, s.easting) for s in shots if (s.structure, s.pole) == (name, pole)]
        assert math.dist(one, two) / FACTOR == pytest.approx(apart, abs=0.006)


def test_two_groups_under_one_number(demo_files: Path) -> None:
    shots = [s for s in pole_shots(demo_files, corrected=True) if s.structure == "2/4"]
    assert [s.pole for s in shots] == ["A", "B", "A", "B"]
    apart = math.dist((shots[0].northing, shots[0].easting), (shots[2].northing, shots[2].easting))
    assert apart / FACTOR == pytest.approx(997.0, abs=0.2)


def test_pole_elevations_follow_the_ground(demo_files: Path, key: Key) -> None:
    ground = {(row["structure"], row["pole"]): float(row["ground_ft"]) for row in key["poles"]}
    shots = [s for s in pole_shots(demo_files, corrected=True) if s.structure in ("1/6", "5/3", "7/5", "9/1")]
    for shot in shots:
        assert shot.elevation == pytest.approx(ground[shot.structure, shot.pole], abs=0.06)
