"""Steps of guys and spans: declared by the job, folded by the part each record names."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from linemap.domain.design.guy import Guy
from linemap.domain.record.declared_work import (
    guys_by_structure,
    part_steps,
    span_ends,
    with_part_steps,
    workflow_of,
)
from linemap.domain.record.event import Event, Result
from linemap.domain.record.status import StructureStatus, fold, fold_structure
from linemap.domain.record.step_words import match_part_step
from linemap.domain.record.workflow import FRAMED_ALOFT, FRAMED_ON_GROUND

KEY = ("North", "5/5")
GUYS = ("G1", "G2", "G3")
OWN = {
    "guyed": {"per": "guy", "requires": [], "source": "contract 3.2"},
    "strung": {"per": "span", "requires": ["set", "blocks hung"], "source": "contract 3.4"},
    "clipped": {"per": "span", "requires": ["strung"], "source": "contract 3.4"},
}
WORKFLOW = workflow_of({"part_step": OWN})
FIRST = datetime(2026, 5, 4, 8, tzinfo=UTC)


def event(step: str, part: str, hour: int, result: Result = "done", crew: str = "Mole") -> Event:
    at = FIRST + timedelta(hours=hour)
    return Event(
        id=f"{step} {part} {hour}", line=KEY[0], structure=KEY[1], step=step, part=part, result=result,
        crew=crew, happened_at=at, received_at=at,
    )  # fmt: skip


def status(*events: Event, guys: tuple[str, ...] = GUYS) -> StructureStatus:
    return fold_structure(events, WORKFLOW, key=KEY, letters="ABC", guys=guys)


def said(found: StructureStatus, code: str) -> list[str]:
    return [finding.words for finding in found.findings if finding.code == code]


def test_a_job_that_declares_none_has_its_named_order_and_no_other() -> None:
    assert workflow_of({}) is FRAMED_ON_GROUND
    assert workflow_of({"workflow": "framed aloft"}) is FRAMED_ALOFT
    assert with_part_steps(FRAMED_ALOFT, {}) is FRAMED_ALOFT
    assert not FRAMED_ALOFT.has("guy")
    assert not FRAMED_ALOFT.has("span")


def test_declared_steps_follow_what_they_require_and_a_known_one_keeps_its_own() -> None:
    codes = [step.code for step in WORKFLOW.order()]
    assert codes.index("set") < codes.index("strung") < codes.index("clipped")
    assert part_steps(WORKFLOW) == {"guyed": "guy", "strung": "span", "clipped": "span"}
    guyed = WORKFLOW.step("guyed")
    assert guyed is not None
    assert guyed.requires == ("set",), "nothing else was said"
    assert WORKFLOW.chain == FRAMED_ON_GROUND.chain, "the stage of a structure stays what it was"
    with pytest.raises(ValueError, match="circle"):
        with_part_steps(WORKFLOW, {"strung": {"per": "span", "requires": ["clipped"]}})


def test_a_step_of_guys_is_done_when_every_guy_of_the_schedule_is() -> None:
    begun = status(event("guyed", "G1", 1), event("guyed", "g3", 2))
    assert "guyed" not in begun.done
    assert begun.begun["guyed"].guys == ("G1", "G3")
    assert said(begun, "pole missing") == ["guyed recorded for guys G1, G3, not for guy G2"]
    whole = status(event("guyed", "G1", 1), event("guyed", "G3", 2), event("guyed", "G2", 30))
    assert whole.done["guyed"].guys == GUYS
    assert whole.done["guyed"].at == FIRST + timedelta(hours=30), "when the last of them was"
    assert not said(whole, "pole missing")


def test_a_record_without_a_guy_is_for_all_and_a_rejected_guy_is_open_again() -> None:
    assert status(event("guyed", "", 1)).done["guyed"].guys == GUYS
    again = status(event("guyed", "", 1), event("guyed", "G2", 2, "rejected", "Swift"))
    assert again.begun["guyed"].guys == ("G1", "G3")
    assert said(again, "rejected") == [
        "guyed for guy G2 rejected 4 May 2026 by Swift, not recorded again since"
    ]
    assert (
        "guyed"
        in status(event("guyed", "", 1), event("guyed", "G2", 2, "rejected"), event("guyed", "G2", 3)).done
    )


def test_a_guy_the_schedule_does_not_have_is_said_and_counts_for_none() -> None:
    found = status(event("guyed", "G9", 1))
    assert not found.done
    assert not found.begun
    assert said(found, "unknown pole") == ["Mole recorded guyed for guy G9, not one of G1, G2, G3"]
    assert "guyed" in status(event("guyed", "G9", 1), guys=()).done, "no schedule tells guys apart"


def test_a_step_of_a_span_is_one_of_the_structure_at_its_back() -> None:
    found = status(event("strung", "5/5 to 5/6", 1), event("clipped", "5/5 to 5/6", 2))
    assert {"strung", "clipped"} <= {*found.done}
    assert said(found, "step missing") == ["strung recorded, but not set, blocks hung"]


def test_the_fold_of_a_job_takes_the_guys_of_each_structure() -> None:
    other = replace(event("guyed", "G1", 1), structure="5/6", id="other")
    folded = fold(
        [event("guyed", "G1", 1), other], WORKFLOW, pole_letters={KEY: "ABC", ("North", "5/6"): "AB"},
        guys={KEY: GUYS, ("North", "5/6"): ("G1",)},
    )  # fmt: skip
    assert "guyed" in folded[KEY].begun
    assert "guyed" in folded["North", "5/6"].done


def test_guys_come_in_the_order_of_the_schedule() -> None:
    guys = [Guy(line="", structure="5/5", id=name, kind="back") for name in ("G2", "G1")]
    assert guys_by_structure(guys, only_line="North") == {KEY: ("G2", "G1")}


def test_crews_words_mean_declared_steps_alone() -> None:
    known = part_steps(WORKFLOW)
    words = ("Stringing", "clip in", "GUYED", "sagged", "lunch")
    assert [match_part_step(word, known) for word in words] == [
        "strung", "clipped", "guyed", None, None,
    ]  # fmt: skip
    assert span_ends("T-45 to T-46") == ("T-45", "T-46")
    assert span_ends("T-45-T-46") is None
