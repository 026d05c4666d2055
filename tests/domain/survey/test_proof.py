"""A record claims; its evidence verifies."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from linemap.domain.record.event import Event, Result
from linemap.domain.record.workflow import FRAMED_ON_GROUND
from linemap.domain.survey.proof import RULES, Proof, proof_of
from linemap.service.view.view import JobView


def event(
    step: str,
    pole: str = "",
    *,
    note: str = "",
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
        photos=photos,
    )


def prove(*events: Event, step: str = "set", letters: str = "AB") -> Proof:
    return proof_of(events, FRAMED_ON_GROUND, step=step, letters=letters)


WHOLE = (event("set", "A", note="depth 9.5, level", photos=("p1",)), event("set", "B", note="10.1 ft deep"))


def test_both_poles_with_depth_level_and_photo_verify_a_setting() -> None:
    assert prove(*WHOLE) == Proof(verdict="verified")


def test_a_tick_alone_is_a_claim() -> None:
    found = prove(event("set"))
    assert found.missing == ("depth", "level", "photo")
    assert found.words == "claimed, not verified: no depth, no level, no photo on record"


def test_pole_b_missing_is_no_whole_setting() -> None:
    assert prove(WHOLE[0]).missing == ("every pole",)
    assert prove(*WHOLE, letters="ABC").missing == ("every pole",)


def test_what_was_not_recorded_or_was_rejected_proves_nothing() -> None:
    assert prove().verdict == "not recorded"
    assert prove(event("set"), event("set", result="rejected", hour=9)).verdict == "not recorded"


@pytest.mark.parametrize("note", ["not level yet", "arm out of level"])
def test_a_note_that_says_it_is_not_level_is_no_evidence_of_level(note: str) -> None:
    assert "level" in prove(event("set", note=note)).missing


def test_an_inspection_by_the_crew_itself_is_by_nobody_else() -> None:
    rules = {"framed": ("someone else",)}
    framed, own, other = event("framed"), event("inspected"), event("inspected", crew="Four Tines")
    for inspection, verdict in ((own, "claimed"), (other, "verified")):
        found = proof_of([framed, inspection], FRAMED_ON_GROUND, step="framed", letters="AB", rules=rules)  # type: ignore[arg-type]
        assert found.verdict == verdict


def test_a_rule_that_asks_for_the_unknown_is_refused() -> None:
    with pytest.raises(ValueError, match="'moonlight' is no evidence"):
        proof_of([], FRAMED_ON_GROUND, step="set", letters="AB", rules={"set": ("moonlight",)})  # type: ignore[dict-item]


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
