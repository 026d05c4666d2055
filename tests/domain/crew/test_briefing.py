"""The briefing sheet reminds and leaves the five subjects to the person in charge."""

from __future__ import annotations

from dataclasses import replace

import pytest

from linemap.domain.crew.briefing import CAUTIONS, Briefing, briefing, coordinates
from linemap.domain.record.claim import SUBJECTS
from linemap.service.view.view import JobView


def sheet(view: JobView, number: str, *, within_m: float = 304.8) -> Briefing:
    row = view.row("", number)
    return briefing(
        view.figures,
        row,
        crossings=view.crossings,
        features=view.context,
        holds=view.holds_by_row.get(row, ()),
        poles=view.poles_by_structure.get(view.key(row), ()),
        within_m=within_m,
    )


def reminders(found: Briefing, key: str) -> str:
    return "; ".join(next(subject.reminders for subject in found.subjects if subject.key == key))


def test_the_five_subjects_of_the_rule_are_there_in_its_order(demo_view: JobView) -> None:
    # 29 CFR 1926.952(b)
    assert [subject.key for subject in sheet(demo_view, "17/2").subjects] == list(SUBJECTS)
    assert list(SUBJECTS) == ["hazards", "procedures", "precautions", "energy_sources", "ppe"]


@pytest.mark.parametrize("number", ["17/2", "17/3"])
def test_a_crossed_line_is_to_be_treated_as_energized(demo_view: JobView, number: str) -> None:
    found = sheet(demo_view, number, within_m=500.0)
    assert "Hobnail-Crane 230 kV line" in reminders(found, "hazards")
    assert "treat as energized" in reminders(found, "energy_sources")
    assert "treat every wire as energized" in CAUTIONS[0].casefold()


def test_only_crossings_within_the_set_distance_are_listed(demo_view: JobView) -> None:
    assert "Hobnail" in reminders(sheet(demo_view, "17/2", within_m=147.0), "hazards")
    assert "Hobnail" not in reminders(sheet(demo_view, "17/2", within_m=146.0), "hazards")


def test_a_crossing_without_a_distance_is_listed_at_both_ends_of_its_span(demo_view: JobView) -> None:
    placed = tuple(replace(crossing, true_distance=None) for crossing in demo_view.crossings)
    for number, listed in (("17/2", True), ("17/3", True), ("17/4", False)):
        row = demo_view.row("", number)
        found = briefing(demo_view.figures, row, crossings=placed, features=(), holds=(), poles=())
        assert ("span 17/2-17/3" in reminders(found, "hazards")) is listed


def test_side_slope_water_and_holds_are_reminded_of(demo_view: JobView) -> None:
    assert "side slope: ground at pole A is 4.2 ft lower, 34% across" in reminders(
        sheet(demo_view, "6/4"), "hazards"
    )
    wet = sheet(demo_view, "7/3")
    assert "wetland: wetland at 7/3 and 7/4, here" in reminders(wet, "hazards")
    assert "HW-1" not in reminders(wet, "precautions")
    assert "no work at 7/3, 7/4" in reminders(wet, "precautions")
    assert "Tallow River" in reminders(sheet(demo_view, "11/6"), "hazards")


def test_a_restricted_reason_or_place_is_nowhere_on_the_sheet(demo_view: JobView) -> None:
    for number in ("14/1", "14/2", "21/3"):
        text = str(sheet(demo_view, number, within_m=5_000.0)).casefold()
        assert "nest" not in text
        assert "cultural site" not in text


def test_an_ambulance_gets_the_nearest_road_point_and_three_formats(demo_view: JobView) -> None:
    found = sheet(demo_view, "4/5")
    assert found.road_point.startswith("State Route 918, ")
    assert [name for name, _ in found.coordinates] == [
        "decimal degrees", "degrees and minutes", "degrees, minutes, seconds", "grid",
    ]  # fmt: skip


def test_without_roads_none_is_made_up(demo_view: JobView) -> None:
    found = briefing(demo_view.figures, 0, crossings=(), features=(), holds=(), poles=())
    assert found.road_point == "no public road in the data of the job"


def test_the_three_formats_name_one_place() -> None:
    # 46.71312 = 46 deg 42.7872 min = 46 deg 42 min 47.2 s
    assert dict(coordinates(-108.37717, 46.71312)) == {
        "decimal degrees": "46.71312, -108.37717",
        "degrees and minutes": "46°42.787' N, 108°22.630' W",
        "degrees, minutes, seconds": "46°42'47.2\" N, 108°22'37.8\" W",
    }
    assert coordinates(151.99999999, -33.99999999)[1][1] == "34°00.000' S, 152°00.000' E"
