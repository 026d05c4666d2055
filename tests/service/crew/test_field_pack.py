"""What a phone takes along says the same as the job, and its versions change exactly with its content."""

from __future__ import annotations

import dataclasses
import datetime as dt

import orjson
import pytest

from linemap.domain.crew.hold import Hold
from linemap.domain.record.status import StepState
from linemap.service.crew.field_card import Surroundings, field_card, mile_of
from linemap.service.crew.field_pack import MilePack, field_index, load_surroundings, mile_packs
from linemap.service.view.view import JobView
from linemap.store.database import Database

NOW = dt.datetime(2026, 5, 16, 7, 30, tzinfo=dt.UTC)
NOTHING = Surroundings(revisions={}, claims={}, briefings={}, tickets={})


@pytest.fixture(scope="module")
def packs(demo_view: JobView, demo_database: Database) -> tuple[MilePack, ...]:
    return mile_packs(demo_view, load_surroundings(demo_database, now=NOW))


def card(view: JobView, number: str) -> dict[str, object]:
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
    assert (found["back"], found["ahead"], found["left_to_right"]) == ("9/1", "9/3", "AB")
    assert found["open"] == ["dug", "framed"]
    (hold,) = found["holds"]  # type: ignore[misc]
    assert hold["until"] == "2026-05-22"
    assert "framed" in hold["stops"]
    assert "dug" not in hold["stops"]
    assert [pole["length_text"] for pole in found["poles"]] == ["85 ft", "85 ft"]  # type: ignore[attr-defined]
    assert "Facing ahead to 9/3: from left to right A, B" in str(found["sketch_svg"])
    assert "Facing back to 9/1: from left to right B, A" in str(found["sketch_back_svg"])
    assert found["slug"] == "9-2"


def test_poles_of_a_begun_step_are_named(demo_view: JobView) -> None:
    key = ("Brindle Gap - Amber Sill 115 kV", "9/2")
    state = StepState(at=NOW, crew="Badger", event_id="e", times_done=1, poles="A")
    status = dataclasses.replace(demo_view.statuses[key], begun={"dug": state})
    view = dataclasses.replace(demo_view, statuses={**demo_view.statuses, key: status})
    step = next(step for step in field_card(view, NOTHING, view.row(*key))["steps"] if step["code"] == "dug")
    assert step == {
        "code": "dug",
        "words": "dug",
        "per": "pole",
        "done": False,
        "poles_done": "A",
        "when": "2026-05-16",
        "crew": "Badger",
    }


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
    same = mile_packs(
        demo_view, Surroundings(revisions=_revisions(packs), claims={}, briefings={}, tickets={})
    )
    assert [pack.version for pack in same] == [pack.version for pack in packs]
    row = demo_view.row("", "9/2")
    held = {**demo_view.holds_by_row, row: [Hold(id="H-1", structures=("9/2",), reason="new")]}
    changed = mile_packs(
        dataclasses.replace(demo_view, holds_by_row=held),
        Surroundings(revisions=_revisions(packs), claims={}, briefings={}, tickets={}),
    )
    different = [one.mile for one, other in zip(packs, changed, strict=True) if one.version != other.version]
    assert different == [9]


def _revisions(packs: tuple[MilePack, ...]) -> dict[str, str]:
    return {pack.line: orjson.loads(pack.raw)["structures"][0]["revision"] for pack in packs}


def test_revision_is_that_of_the_current_list(packs: tuple[MilePack, ...]) -> None:
    assert set(_revisions(packs).values()) == {"C"}


def test_index_lists_miles_crews_and_the_workflow(packs: tuple[MilePack, ...], demo_view: JobView) -> None:
    sizes = {(pack.line, pack.mile): len(pack.raw) for pack in packs}
    index = field_index(demo_view, packs, sizes)
    assert index["crews"] == sorted(index["crews"])
    assert {"Heron", "Badger"} <= set(index["crews"])
    assert [step["code"] for step in index["workflow"]["steps"]] == [
        step.code for step in demo_view.workflow.order()
    ]
    (line,) = index["lines"]
    assert (line["back_end"], line["ahead_end"], line["unit"]) == ("Brindle Gap", "Amber Sill", "ft")
    assert [entry["version"] for entry in line["miles"]] == [pack.version for pack in packs]
    assert index["as_of"] == "2026-05-15"


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
    assert "not to scale" in field_card(view, NOTHING, row)["sketch_svg"]
