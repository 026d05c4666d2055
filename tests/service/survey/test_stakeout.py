"""Staking the invented line: its points, its tables, and the point file read back."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections import Counter
from pathlib import Path

import pytest

from linemap.domain.design.guy import Guy
from linemap.domain.staking.stakeout import StakePlan
from linemap.domain.survey.set_poles import cluster_poles
from linemap.io.source.read import read_source
from linemap.io.survey.shots import read_shots
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.job.job import create_job
from linemap.service.survey.stakeout import anchors_of_job, points_of_job, unguarded_words, write_point_file
from linemap.service.survey.staking_table import staking_table
from linemap.service.view.build import build_view
from linemap.service.view.view import CAUTION, JobView
from linemap.store.database import open_job

Key = dict[str, list[dict[str, str]]]
JULY = dt.date(2026, 7, 2)


@pytest.fixture(scope="module")
def guyed(demo_view: JobView) -> JobView:
    """The demo job with two ahead guys at 9/2 and a bisector guy at 5/5."""
    line = demo_view.figures.lines[0].name
    guys = (
        Guy(line=line, structure="9/2", id="G1", kind="ahead", side="left", lead=45.0),
        Guy(line=line, structure="9/2", id="G2", kind="ahead", side="right", lead=45.0),
        Guy(line=line, structure="5/5", id="G1", kind="bisector", pole="B", height=58.0, ratio=1.0),
    )
    return dataclasses.replace(demo_view, guys=guys)


def test_the_whole_line_has_a_hub_for_every_centre_and_pole(demo_view: JobView) -> None:
    numbered = points_of_job(demo_view, plan=StakePlan(pole_along=(25.0,), pole_arm=(10.0,)))
    kinds = Counter(stake.kind for _, stake in numbered)
    assert kinds == {"centre": 121, "pole": 249, "offset": 2 * 249 + 2 * 121, "anchor": 44}
    taken = {shot.point for shots in demo_view.shots_by_structure.values() for shot in shots}
    numbers = [number for number, _ in numbered]
    assert len(set(numbers)) == len(numbers)
    assert taken.isdisjoint(numbers)


def test_pole_hubs_stand_at_the_poles_of_the_key(demo_view: JobView, key: Key) -> None:
    hubs = {
        (stake.structure, stake.pole): stake for _, stake in points_of_job(demo_view) if stake.kind == "pole"
    }
    assert len(key["poles"]) == len(hubs)
    for row in key["poles"]:
        hub = hubs[row["structure"], row["pole"]]
        if row["structure"] == "15/2":  # moved 8 ft ahead by the last revision
            continue
        assert hub.easting == pytest.approx(float(row["easting_ft"]), abs=0.01)
        assert hub.northing == pytest.approx(float(row["northing_ft"]), abs=0.01)
        assert hub.elevation == pytest.approx(float(row["ground_ft"]), abs=0.01)


def test_the_point_file_round_trips_and_leaves_every_verdict_alone(guyed: JobView, tmp_path: Path) -> None:
    path = tmp_path / "stakes_2026-05-18.csv"
    count = write_point_file(guyed, path, order="penzd")
    numbered = points_of_job(guyed)
    source = read_source(path)
    assert source.kind == "shots"
    order = ("point", "easting", "northing", "elevation", "description")
    shots = read_shots(source.tables[0], projection=guyed.projection, order=order).value
    assert len(shots) == count == len(numbered)
    for shot, (number, stake) in zip(shots, numbered, strict=True):
        assert (shot.point, shot.easting, shot.northing, shot.elevation) == (
            number, round(stake.easting, 3), round(stake.northing, 3),
            None if stake.elevation is None else round(stake.elevation, 3),
        )  # fmt: skip
        assert (shot.item, shot.structure, shot.pole) == ("hub", stake.structure, stake.pole)
    assert cluster_poles(shots, guyed.figures, default_sigma=0.03).count.sum() == 0


def test_the_ahead_anchors_of_9_2_land_on_the_pipeline(guyed: JobView) -> None:
    """The pipeline lies 39.5 ft ahead of 9/2, the lead is 45 ft."""
    row = guyed.row("", "9/2")
    required, findings = anchors_of_job(guyed, [row])
    assert [anchor.label for anchor in required] == ["AH L", "AH R"]
    words = [finding.words for finding in findings if finding.code == "anchor at crossing"]
    assert len(words) == 2
    assert all(
        "belongs 45.00 ft ahead" in text and "lies 39.50 ft ahead: 5.50 ft apart" in text for text in words
    )
    assert any("pipeline" in text.casefold() for text in words)


def test_the_guy_of_5_5_belongs_on_the_right(guyed: JobView) -> None:
    (anchor,), findings = anchors_of_job(guyed, [guyed.row("", "5/5")])
    assert (anchor.side, anchor.lead) == ("right", 58.0)
    assert anchor.azimuth_deg == pytest.approx(146.0736, abs=1e-3)
    assert findings == ()


def test_the_staking_table_says_all_a_party_chief_needs(guyed: JobView) -> None:
    (entry,) = staking_table(guyed, rows=[guyed.row("", "5/5")], compass_on=JULY)
    assert entry.station_text == "260+50.00 (R1)"
    assert entry.deflection_text == "18°45'10\" L"
    assert (entry.backsight, entry.backsight_way, entry.check) == ("5/4", "back", "6/1")
    assert entry.backsight_distance_text == "952.00 ft"
    assert entry.check_distance_text == "1,026.00 ft"
    # 180 less 18-45-10; the centres of the key stand on the line to 0.01 ft
    degrees, minutes, _ = entry.check_circle_text.split("-")
    assert (degrees, minutes) == ("161", "14")
    assert entry.backsight_magnetic_text.endswith("magnetic (WMM2025, 2026-07-02)")
    points = {point.description: point for point in entry.points}
    assert points["5/5 CL HUB"].circle_text == ""
    assert points["5/5 A HUB"].distance_text == "15.00 ft"
    assert points["5/5 ANC HUB BIS R"].distance_text == "58.00 ft"
    assert entry.pole_ground_text.keys() == {"A", "B", "C"}
    assert entry.caution == CAUTION


def test_a_station_that_occurs_twice_carries_its_region(guyed: JobView) -> None:
    (entry,) = staking_table(guyed, rows=[guyed.row("", "18/6")])
    assert entry.station_text == "953+52.50 (R2)"
    assert entry.backsight_magnetic_text == ""


def test_holds_and_notes_stand_beside_the_points(guyed: JobView) -> None:
    (entry,) = staking_table(guyed, rows=[guyed.row("", "9/2")])
    assert any("9/2" in sentence for sentence in entry.holds)
    assert any("39.50 ft ahead" in note for note in entry.notes)


def test_the_first_structure_is_turned_from_the_ahead_one(guyed: JobView) -> None:
    (entry,) = staking_table(guyed, rows=[0])
    assert (entry.backsight, entry.backsight_way, entry.check) == ("1/2", "ahead", "")
    assert entry.check_circle_text == entry.check_distance_text == ""


def test_a_guy_schedule_is_loaded_checked_and_staked(target: str, tmp_path: Path) -> None:
    now = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
    create_job(target, {"crs": "EPSG:6515", "line": "North", "combined_factor": "1"}, now=now)
    files = {
        "centreline": "PI,Northing,Easting\nPOB,900000,2250000\nPI-1,901000,2250000\nPOE,902000,2249000\n",
        "structures": "Structure,Northing,Easting,Pole Spacing\n1/1,900000,2250000,12.5\n"
        "1/2,901000,2250000,12.5\n1/3,902000,2249000,12.5\n",
        "guys": "Structure,Guy,Direction,Lead\n1/2,G1,bisector,45\n",
        # the line turns 45 degrees left, so the guy belongs right, at 67.5; this anchor lies at 247.5
        "shots": "P,Northing,Easting,Elevation,Description\n1,900982.779,2249958.426,,ANC 1/2 BIS L\n",
    }
    paths = []
    for name, text in files.items():
        path = tmp_path / f"{name}.csv"
        path.write_text(text, encoding="utf-8")
        paths.append(path)
    with open_job(target) as database:
        report = load_files(database, LoadRequest(paths=tuple(paths)), now=now)
        assert {file.kind for file in report.files} == {"centreline", "structures", "guys", "shots"}
        view = build_view(database, today=now.date())
    (check,) = view.anchor_checks
    assert check.direction_words == (
        "anchor lies left; the line turns left, so the bisector guy belongs right (180.0° off)"
    )
    assert check.lead == pytest.approx(45.0, abs=0.001)
    row = view.row("", "1/2")
    assert "anchor wrong side" in {finding.code for finding in view.ledger.at(row)}
    assert "1/2 ANC HUB BIS R" in {stake.description for _, stake in points_of_job(view, rows=[row])}


def test_the_usual_stakes_of_every_structure_keep_one_back_and_one_ahead(demo_view: JobView) -> None:
    assert unguarded_words(demo_view) == []


def test_structures_whose_stakes_go_with_the_digging_are_named_with_what_survives(
    demo_view: JobView, tmp_path: Path
) -> None:
    row, plan = demo_view.row("", "8/2"), StakePlan(pole_along=(3.0,), pole_arm=(25.0,))
    ((number, words),) = unguarded_words(demo_view, [row], plan)
    assert number == "8/2"
    assert words == (
        "no stake back or ahead stands 5.0 ft or more from the holes of poles and anchors; "
        "what survives: A OS25L, B OS25R"
    )
    (entry,) = staking_table(demo_view, rows=[row], plan=plan)
    assert words in entry.notes
    (usual,) = staking_table(demo_view, rows=[row])
    assert words not in usual.notes


def test_anchor_holes_take_stakes_too(guyed: JobView) -> None:
    row = guyed.row("", "9/2")
    ((_, words),) = unguarded_words(guyed, [row], StakePlan(pole_along=(45.0,), pole_arm=()))
    assert words.startswith("no stake ahead stands")
    assert "A OS45BK, B OS45BK" in words


def test_stakes_are_set_out_as_declared(demo_view: JobView) -> None:
    row = demo_view.row("", "8/2")
    declared = dataclasses.replace(demo_view, stake_plan=StakePlan(pole_along=(40.0,), pole_arm=()))
    offsets = [
        stake.description for _, stake in points_of_job(declared, rows=[row]) if stake.kind == "offset"
    ]
    assert offsets == ["8/2 A OS40BK", "8/2 A OS40AH", "8/2 B OS40BK", "8/2 B OS40AH"]
