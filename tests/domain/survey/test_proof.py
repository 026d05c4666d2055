"""A record claims; its evidence verifies."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from linemap.domain.record.event import Event, Result
from linemap.domain.record.reading import Reading, make_reading
from linemap.domain.record.workflow import FRAMED_ON_GROUND
from linemap.domain.survey.proof import RULES, Proof, evidence_rules, proof_of
from linemap.service.view.view import JobView


def event(
    step: str,
    pole: str = "",
    *,
    note: str = "",
    readings: tuple[Reading, ...] = (),
    photos: tuple[str, ...] = (),
    crew: str = "Otter",
    result: Result = "done",
    hour: int = 8,
) -> Event:
    moment = datetime(2026, 5, 13, hour, tzinfo=UTC)
    return Event(
        id=f"{step}{pole}{hour}{result}{crew}",
        line="N",
        structure="8/4",
        pole=pole,
        step=step,
        result=result,
        happened_at=moment,
        received_at=moment,
        crew=crew,
        note=note,
        readings=readings,
        photos=photos,
    )


def prove(*events: Event, step: str = "set", letters: str = "AB") -> Proof:
    return proof_of(events, FRAMED_ON_GROUND, step=step, letters=letters)


LEVEL = make_reading("level", True)
WHOLE = (
    event("set", "A", readings=(make_reading("depth", 9.5), LEVEL), photos=("p1",)),
    event("set", "B", readings=(make_reading("depth", 10.1),)),
)


def test_both_poles_with_depth_level_and_photo_verify_a_setting() -> None:
    assert prove(*WHOLE) == Proof(verdict="verified")


def test_a_tick_alone_is_a_claim() -> None:
    found = prove(event("set"))
    assert found.missing == ("depth", "level", "photo")
    assert found.words == "claimed, not verified: no depth, no level, no photo on record"


def test_pole_b_missing_is_no_whole_setting() -> None:
    assert prove(WHOLE[0]).missing == ("every pole", "depth at B")
    assert prove(*WHOLE, letters="ABC").missing == ("every pole", "depth at C")


def test_what_was_not_recorded_or_was_rejected_proves_nothing() -> None:
    assert prove().verdict == "not recorded"
    assert prove(event("set"), event("set", result="rejected", hour=9)).verdict == "not recorded"


@pytest.mark.parametrize(
    ("step", "note", "noted"),
    [
        ("set", "depth 9.5, level", ("depth", "level")),
        ("set", "level tomorrow", ("level",)),
        ("set", "not level yet", ()),
        ("grounded", "could not reach 25 ohms", ("ohms",)),
    ],
)
def test_a_note_proves_nothing_and_that_is_said(step: str, note: str, noted: tuple[str, ...]) -> None:
    found = prove(event(step, note=note), step=step)
    assert found.verdict == "claimed"
    assert set(RULES[step]) - {"every pole"} == set(found.missing)
    assert found.noted == noted
    assert ("and a note proves nothing" in found.words) == bool(noted)


def test_a_depth_of_a_whole_record_is_of_the_poles_it_names() -> None:
    both = event("set", readings=(make_reading("depth", 9.5),), photos=("p",))
    assert prove(both).missing == ("level",)
    named = event("set", readings=(make_reading("depth", 9.5, pole="A"), LEVEL), photos=("p",))
    assert prove(named).missing == ("depth at B",)


def test_a_corrected_record_proves_nothing_and_its_correction_does() -> None:
    first = event("grounded", readings=(make_reading("ohms", 84.0),))
    without = replace(event("grounded", hour=9), supersedes=first.id)
    assert prove(first, without, step="grounded").missing == ("ohms",)
    kept = replace(without, readings=(make_reading("ohms", 8.4),))
    assert prove(first, kept, step="grounded").verdict == "verified"


def test_a_later_no_takes_a_yes_back() -> None:
    again = event("set", "B", readings=(make_reading("level", False),), hour=9)
    assert prove(*WHOLE, again).missing == ("level",)


def test_a_brand_kept_in_a_field_of_its_own_proves_as_a_reading_does() -> None:
    kept = [replace(event("spotted", pole), brand_seen="75 2 DF 2024") for pole in "AB"]
    assert prove(*kept, step="spotted").verdict == "verified"
    assert prove(kept[0], event("spotted", "B"), step="spotted").missing == ("brand at B",)


def test_an_inspection_by_the_crew_itself_is_by_nobody_else() -> None:
    rules = {"framed": ("someone else",)}
    framed, own, other = event("framed"), event("inspected"), event("inspected", crew="Four Tines")
    for inspection, verdict in ((own, "claimed"), (other, "verified")):
        found = proof_of([framed, inspection], FRAMED_ON_GROUND, step="framed", letters="AB", rules=rules)
        assert found.verdict == verdict


def test_a_rule_that_asks_for_the_unknown_is_refused() -> None:
    with pytest.raises(ValueError, match="'moonlight' is no evidence"):
        evidence_rules({"set": {"needs": ["moonlight"], "source": ""}})


def test_a_step_without_a_rule_is_verified_by_its_record() -> None:
    assert "staked" not in RULES
    assert prove(event("staked"), step="staked").verdict == "verified"


def test_the_invented_line_lacks_three_ohm_readings(demo_view: JobView) -> None:
    without = [
        number
        for (line, number), events in demo_view.events_by_structure.items()
        if proof_of(events, demo_view.workflow, step="grounded", letters="AB").missing == ("ohms",) and line
    ]
    assert without == ["3/1", "6/2", "9/5"]
