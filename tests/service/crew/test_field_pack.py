"""What a phone takes along says the same as the job, and its versions change exactly with its content."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import orjson
import pytest

from linemap.answers.card import FieldCard
from linemap.answers.structure import StructureStep
from linemap.domain.crew.hold import Hold
from linemap.domain.crew.wind import wind_words
from linemap.domain.record.person import Audience
from linemap.domain.record.status import StepState
from linemap.service.crew.crew_sites import access_network, barriers_of
from linemap.service.crew.field_card import Surroundings, design_cards, mile_of, record_card
from linemap.service.crew.field_index import field_index
from linemap.service.crew.field_pack import FieldPacks, MilePack, load_surroundings
from linemap.service.people.redact import redact_view
from linemap.service.record.claims import briefing_sheet
from linemap.service.view.help import hospital_words
from linemap.service.view.view import JobView
from linemap.store.database import Database

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
NOTHING = Surroundings(revisions={}, claims={}, briefings={})


def mile_packs(view: JobView, around: Surroundings) -> tuple[MilePack, ...]:
    return FieldPacks(view).packs(view, around)


def field_card(view: JobView, around: Surroundings, row: int) -> FieldCard:
    (design,) = design_cards(view, [row])
    return FieldCard(**vars(design), **vars(record_card(view, around, row)))


@pytest.fixture(scope="module")
def packs(demo_view: JobView, demo_database: Database) -> tuple[MilePack, ...]:
    return mile_packs(demo_view, load_surroundings(demo_database, now=NOW))


def card(view: JobView, number: str) -> FieldCard:
    return field_card(view, NOTHING, view.row("", number))


def test_every_structure_travels_once_under_the_mile_of_its_number(
    packs: tuple[MilePack, ...], demo_view: JobView
) -> None:
    numbers = [entry["number"] for pack in packs for entry in orjson.loads(pack.raw)["structures"]]
    assert numbers == demo_view.figures.structures.number.tolist()
    assert [pack.mile for pack in packs] == list(range(1, 24))
    assert sum(pack.count for pack in packs) == 121
    for pack in packs:
        assert {entry["number"].split("/")[0] for entry in orjson.loads(pack.raw)["structures"]} == {
            str(pack.mile)
        }


def test_card_says_what_the_crew_must_see(demo_view: JobView) -> None:
    """9/2 of the invented line: a hold until 22 May, both poles 85 ft since Rev C, spotted and not dug."""
    found = card(demo_view, "9/2")
    assert (found.back, found.ahead, found.left_to_right) == ("9/1", "9/3", "AB")
    assert found.open == ["dug", "framed"]
    (hold,) = found.holds
    assert hold.until == "2026-05-22"
    assert "framed" in hold.stops
    assert "dug" not in hold.stops
    assert [pole.length_text for pole in found.poles] == ["85 ft", "85 ft"]
    assert found.slug == "9-2"
    assert (found.back_span_text, found.ahead_span_text) == ("879 ft", "1,007 ft")


def test_frame_is_what_the_plan_is_drawn_from(demo_view: JobView) -> None:
    """9/2: 14 ft between the poles, A left of ahead. 5/5: three poles at an angle of 18.75 degrees left."""
    frame = card(demo_view, "9/2").frame
    assert frame.to_scale
    assert (frame.back_deg, frame.ahead_deg) == pytest.approx((180.0, 0.0), abs=0.1)
    half = pytest.approx(7.0, abs=0.01)
    assert [(letter, abs(right), ahead) for letter, right, ahead in frame.poles] == [
        ("A", half, 0.0),
        ("B", half, 0.0),
    ]
    assert frame.poles[0][1] < 0.0 < frame.poles[1][1]
    angle = card(demo_view, "5/5").frame
    assert angle.ahead_deg == pytest.approx(-18.7528 / 2, abs=0.06)
    assert [pole[0] for pole in angle.poles] == ["A", "B", "C"]


def test_card_carries_marks_and_what_a_briefing_needs(demo_view: JobView) -> None:
    found = card(demo_view, "9/2")
    marks, near = found.marks, card(demo_view, "17/2").near
    assert marks is not None
    assert [pole.depth_text for pole in marks.poles] == ["10'-6\"", "11'-3 1/4\""]
    assert ("arm", "10'-0\"", "75'-0\"") in marks.poles[0].marks
    assert near.reminders["hazards"] == ["Hobnail-Crane 230 kV line, 481 ft ahead: treat as energized"]
    assert len(near.coordinates) == 4
    assert near.road_point.startswith("Bench Road, 1.2 mi away")
    assert found.arm_face == ""


def test_reminders_are_those_of_the_printed_sheet(demo_view: JobView) -> None:
    for number in ("1/1", "4/5", "7/3", "11/6", "12/1", "17/2", "23/2"):
        near, sheet = card(demo_view, number).near, briefing_sheet(demo_view, "", number)
        assert near.road_point == sheet.road_point
        assert near.coordinates == [text for _, text in sheet.coordinates]
        told = {each.key: list(each.reminders) for each in sheet.subjects if each.key != "precautions"}
        # the index brings what is said of wind: it is the same at every structure
        wind = wind_words(demo_view.wind_limits, metric=False)
        assert told["hazards"][-len(wind) :] == list(wind)
        told["hazards"] = told["hazards"][: -len(wind)]
        assert near.reminders == {key: words for key, words in told.items() if words}
        assert near.hospital == sheet.help
        assert "Amber Sill General" in near.hospital[0] or "Cold Ford Clinic" in near.hospital[0]
        told = redact_view(demo_view, Audience.CREW)
        said = hospital_words(told, told.row("", number))
        assert re.search(r"telephone 555-01\d\d", said[0]), "a crew may call a hospital"


def test_what_the_yard_lacks_is_told_at_its_structure(demo_view: JobView) -> None:
    assert card(demo_view, "13/2").shortages == ["two H1-75 poles missing, due 12 June 2026"]
    assert card(demo_view, "13/3").shortages == []


def test_guys_are_asked_for_only_where_there_are_guys(demo_view: JobView) -> None:
    assert card(demo_view, "8/2").not_built == ["guyed"]
    assert card(demo_view, "5/5").not_built == []


def test_only_the_miles_of_new_records_are_made_again(demo_view: JobView, demo_database: Database) -> None:
    around = load_surroundings(demo_database, now=NOW)
    packer = FieldPacks(demo_view)
    first = packer.packs(demo_view, around)
    assert packer.fits(demo_view)
    key = ("Brindle Gap - Amber Sill 115 kV", "9/2")
    state = StepState(at=NOW, crew="Badger", event_id="e", poles="A")
    status = dataclasses.replace(demo_view.statuses[key], begun={"dug": state})
    grown = dataclasses.replace(
        demo_view, statuses={**demo_view.statuses, key: status}, data_version=demo_view.data_version + 1
    )
    second = packer.packs(grown, around)
    assert [one.mile for one, other in zip(first, second, strict=True) if one is not other] == [9]
    assert [pack.version for pack in second] == [pack.version for pack in mile_packs(grown, around)]
    assert not packer.fits(dataclasses.replace(grown, base_version=grown.base_version + 1))


def test_poles_of_a_begun_step_are_named(demo_view: JobView) -> None:
    key = ("Brindle Gap - Amber Sill 115 kV", "9/2")
    state = StepState(at=NOW, crew="Badger", event_id="e", poles="A")
    status = dataclasses.replace(demo_view.statuses[key], begun={"dug": state})
    view = dataclasses.replace(demo_view, statuses={**demo_view.statuses, key: status})
    step = next(step for step in field_card(view, NOTHING, view.row(*key)).steps if step.code == "dug")
    assert step == StructureStep(
        code="dug",
        words="dug",
        per="pole",
        done=False,
        poles_done="A",
        parts=[],
        parts_done=[],
        when="2026-05-16",
        crew="Badger",
        missing=[],
    )


def test_recorded_without_its_evidence_is_told(demo_view: JobView) -> None:
    steps = {step.code: step.missing for step in card(demo_view, "8/2").steps}
    assert steps["framed"] == ["photo"]
    assert steps["staked"] == []


def test_restricted_places_and_parcels_stay_at_home(packs: tuple[MilePack, ...], demo_view: JobView) -> None:
    assert any(feature.restricted for feature in demo_view.context)
    layers = {
        feature["properties"]["layer"] for pack in packs for feature in orjson.loads(pack.raw)["context"]
    }
    assert {"access", "gate", "road", "other line"} <= layers
    assert not layers & {"nest", "cultural", "parcel"}


def test_context_is_near_its_mile(packs: tuple[MilePack, ...]) -> None:
    for pack in packs:
        body = orjson.loads(pack.raw)
        west = min(entry["longitude"] for entry in body["structures"]) - 0.0081
        for feature in body["context"]:
            if feature["geometry"]["type"] == "Point":
                assert feature["geometry"]["coordinates"][0] >= west


def test_version_is_that_of_the_content(packs: tuple[MilePack, ...], demo_view: JobView) -> None:
    same = mile_packs(demo_view, Surroundings(revisions=_revisions(packs), claims={}, briefings={}))
    assert [pack.version for pack in same] == [pack.version for pack in packs]
    held = (*demo_view.holds, Hold(id="H-1", structures=("9/2",), reason="new"))
    changed = mile_packs(
        dataclasses.replace(demo_view, holds=held),
        Surroundings(revisions=_revisions(packs), claims={}, briefings={}),
    )
    different = [one.mile for one, other in zip(packs, changed, strict=True) if one.version != other.version]
    assert different == [9]


def _revisions(packs: tuple[MilePack, ...]) -> dict[str, str]:
    return {pack.line: orjson.loads(pack.raw)["structures"][0]["revision"] for pack in packs}


def test_revision_is_that_of_the_current_list(packs: tuple[MilePack, ...]) -> None:
    assert set(_revisions(packs).values()) == {"C"}


def test_index_lists_miles_crews_and_the_workflow(packs: tuple[MilePack, ...], demo_view: JobView) -> None:
    barriers = barriers_of(demo_view, access_network(demo_view))
    index = field_index(demo_view, packs, barriers)
    assert index.crews == sorted(index.crews)
    assert {"Heron", "Badger"} <= set(index.crews)
    assert [step.code for step in index.workflow.steps] == [step.code for step in demo_view.workflow.order()]
    (line,) = index.lines
    assert (line.back_end, line.ahead_end, line.unit) == ("Brindle Gap", "Amber Sill", "ft")
    assert [entry.version for entry in line.miles] == [pack.version for pack in packs]
    assert index.as_of == "2026-05-15"
    (river,) = line.barriers
    assert (river.back, river.ahead, river.what) == ("11/6", "12/1", "river")
    assert "9.6 mi by Lantern Bridge Road" in river.words


def test_numbers_without_a_mile_go_by_true_distance(demo_view: JobView) -> None:
    figures = demo_view.figures
    plain = dataclasses.replace(figures.structures, number=figures.structures.number.copy())
    plain.number[:] = [str(place) for place in range(1, 122)]
    view = dataclasses.replace(demo_view, figures=dataclasses.replace(figures, structures=plain))
    assert mile_of(view, 0) == 1
    assert mile_of(view, 120) == int(figures.true_distance[120] // 5280.0) + 1


def test_unknown_spacing_is_drawn_and_said(demo_view: JobView) -> None:
    figures = demo_view.figures
    nowhere = figures.poles.copy()
    row = demo_view.row("", "9/2")
    nowhere[row] = float("nan")
    view = dataclasses.replace(demo_view, figures=dataclasses.replace(figures, poles=nowhere))
    frame = field_card(view, NOTHING, row).frame
    assert not frame.to_scale
    assert frame.poles == [("A", -1.0, 0.0), ("B", 1.0, 0.0)]
