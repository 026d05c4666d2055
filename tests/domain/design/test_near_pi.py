"""Structures beside a PI: taken where all that is known agrees, in question where it does not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from linemap.domain.design.compute_figures import figures
from linemap.domain.design.figures import Figures
from linemap.domain.design.line import Centreline, Line
from linemap.domain.design.structure import Structures
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.finding.finding import Finding
from linemap.domain.staking.stakeout import StakePlan, stake_points
from linemap.domain.survey.orientation import check
from linemap.domain.survey.review import review
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Checks, Verdict
from linemap.geometry.frame import ArmRule
from linemap.geometry.projection import Projection
from linemap.geometry.station import Stationing
from linemap.units import LengthUnit

GRID = Projection.from_text("EPSG:6515")
EAST, NORTH, SPAN = 2_250_000.0, 900_000.0, 800.0


def line(
    turn_deg: float, moved: tuple[float, float], *, listed: str = "", rule: ArmRule = ArmRule.BISECTOR
) -> Figures:
    """Five structures 800 ft apart; the third belongs at a PI and is `moved` (ahead, right) in its frame."""
    headings = np.radians([0.0, 0.0, turn_deg, turn_deg])
    steps = SPAN * np.column_stack([np.sin(headings), np.cos(headings)])
    at = np.vstack([[EAST, NORTH], np.add((EAST, NORTH), steps.cumsum(axis=0))])
    face = math.radians(turn_deg / 2.0)
    ahead, right = np.array([math.sin(face), math.cos(face)]), np.array([math.cos(face), -math.sin(face)])
    centres = at.copy()
    centres[2] += moved[0] * ahead + moved[1] * right
    structures = Structures.from_columns(
        number=list("12345"),
        line="North",
        easting=centres[:, 0],
        northing=centres[:, 1],
        spacing=[12.5] * 5,
        given_deflection=["", "", listed, "", ""],
        rule=[ArmRule.BISECTOR, ArmRule.BISECTOR, rule, ArmRule.BISECTOR, ArmRule.BISECTOR],
        explicit_azimuth=[0.0] * 5,
    )
    route = Line(
        name="North",
        crs="EPSG:6515",
        unit=LengthUnit.FOOT,
        centreline=Centreline.from_points(at[[0, 2, 4]]),
        stationing=Stationing(),
    )
    return figures([route], structures, projection=GRID)


def verdict(computed: Figures, *, face_deg: float) -> str:
    """Shoot the third frame set square to an azimuth, about its listed centre, and judge it."""
    checks = checked(computed, face_deg=face_deg)
    if computed.pi_in_question[2]:
        assert not checks.findings, "it cannot be turned where nobody can tell which way it faces"
    return str(checks.verdict[2])


def checked(computed: Figures, *, face_deg: float) -> Checks:
    angle = math.radians(face_deg + 90.0)
    centre = computed.structures.easting[2], computed.structures.northing[2]
    shots = [
        Shot(
            point=pole,
            easting=centre[0] + way * 6.25 * math.sin(angle),
            northing=centre[1] + way * 6.25 * math.cos(angle),
            structure="3",
            pole=pole,
            item="pole",
            line="North",
        )
        for pole, way in (("A", -1.0), ("B", 1.0))
    ]
    tolerances = Tolerances.default(LengthUnit.FOOT)
    poles = cluster_poles(shots, computed, default_sigma=tolerances.shot_sigma)
    return check(computed, poles, tolerances)


def of_third(computed: Figures) -> list[Finding]:
    return [each for each in review(computed) if each.structure == "3"]


@pytest.mark.parametrize("listed", ["", "88-00-00 R", "88 RT", "R 87\u00b0 50'"])
@pytest.mark.parametrize("moved", [(0.0, 6.5), (0.0, -6.5), (0.5, 12.0), (0.0, 60.0)])
def test_a_centre_inside_or_outside_its_pi_takes_it(moved: tuple[float, float], listed: str) -> None:
    """6.5 ft inside a PI of 88 degrees, the frame set right: it was failed by 44 degrees."""
    computed = line(88.0, moved, listed=listed)
    assert computed.deflection_deg[2] == pytest.approx(88.0)
    assert computed.structure_azimuth_deg[2] == pytest.approx(44.0)
    assert computed.offset[2] == pytest.approx(moved[1])
    assert computed.true_distance[2] == pytest.approx(2 * SPAN, abs=1e-6)
    assert not computed.pi_in_question.any()
    found = of_third(computed)
    assert [each.code for each in found if each.code not in {"factor not declared", "span deflection"}] == [
        "PI taken"
    ]
    assert verdict(computed, face_deg=44.0) == Verdict.PASS
    assert verdict(computed, face_deg=0.0) == Verdict.FAIL


def test_the_finding_says_what_it_was_taken_by() -> None:
    (taken,) = [each for each in of_third(line(88.0, (0.0, 6.5), listed="88 R")) if each.code == "PI taken"]
    assert taken.words == (
        "taken for the structure of its PI: it stands 6.50 ft from vertex 2, which turns 88°00'00\" R: "
        "its spans turn 87°19'35\" R, the list says 88 R"
    )


@pytest.mark.parametrize(
    ("moved", "listed", "why"),
    [
        ((0.0, 6.5), "TANGENT", "the list says it does not turn"),
        ((0.0, 6.5), "12-30 R", "the list says another angle"),
        ((0.0, 6.5), "88 L", "the list says the other side"),
        ((-6.5 * math.cos(math.radians(44.0)), 6.5 * math.sin(math.radians(44.0))), "", "on the back leg"),
    ],
)
def test_where_it_disagrees_verdict_and_stakes_are_withheld(
    moved: tuple[float, float], listed: str, why: str
) -> None:
    computed = line(88.0, moved, listed=listed)
    assert computed.pi_in_question.tolist() == [False, False, True, False, False], why
    (asked,) = [each for each in of_third(computed) if each.code == "PI in question"]
    assert "no verdict is given and no stake but its centre" in asked.words
    for face_deg in (0.0, 44.0, 88.0):
        assert verdict(computed, face_deg=face_deg) == Verdict.CANNOT_TELL
    stakes = stake_points(computed, StakePlan(), rows=[1, 2])
    assert [each.description for each in stakes if each.structure == "3"] == ["STR 3 CL HUB"]
    assert len([each for each in stakes if each.structure == "2"]) > 1


def test_a_structure_on_a_tangent_before_an_empty_pi_is_left_alone() -> None:
    """Its spans go straight on: the next structure stands beyond the PI by a tenth of a span and more."""
    computed = line(88.0, (-100.0, 0.0))
    assert computed.near_pi_vertex.tolist() == [-1] * 5


def test_an_azimuth_of_its_own_asks_no_pi() -> None:
    computed = line(88.0, (0.0, 6.5), listed="TANGENT", rule=ArmRule.AZIMUTH)
    assert not computed.pi_in_question.any()


def test_a_bend_too_small_to_matter_is_left_alone() -> None:
    computed = line(0.8, (0.0, 20.0), listed="TANGENT")
    assert computed.near_pi_vertex.tolist() == [-1] * 5


def test_within_the_usual_reach_nothing_changes() -> None:
    computed = line(88.0, (0.0, 2.0))
    assert computed.at_pi[2]
    assert computed.near_pi_vertex[2] == -1


def test_at_the_ends_of_a_line_spans_tell_nothing() -> None:
    computed = line(88.0, (0.0, 6.5), listed="88 R")
    assert np.isnan(computed.span_deflection_deg[[0, -1]]).all()
    assert (computed.near_pi_vertex[[0, -1]] == -1).all()
