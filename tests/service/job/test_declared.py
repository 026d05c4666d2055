"""What a person declares about how work is judged, as text and as a job keeps it."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest

from linemap.domain.design.tolerance import ToleranceEntry, Tolerances
from linemap.domain.record.workflow import FRAMED_ON_GROUND
from linemap.errors import InputRefused
from linemap.service.job.declared import read_catenary, read_tolerance
from linemap.service.job.declared_steps import read_evidence
from linemap.service.job.job import declare
from linemap.service.view.build import build_view
from linemap.service.view.panel import structure_panel
from linemap.store.database import open_job
from linemap.units import LengthUnit

NOW = dt.datetime(2026, 5, 16, 8, tzinfo=dt.UTC)


def test_what_is_declared_is_laid_over_what_is_kept() -> None:
    kept: tuple[ToleranceEntry, ...] = (ToleranceEntry(name="across", value=0.3, unit="ft", source="spec 4"),)
    for text in ("anchor_lead=0.5 ft: spec 7.3", "Arm level = 1.5 in: spec 7.4", "anchor_direction_deg=3°"):
        kept = read_tolerance(text, kept, unit=LengthUnit.FOOT)
    found = Tolerances.from_entries(kept, LengthUnit.FOOT)
    assert (found.across.value, found.across.source) == (0.3, "spec 4")
    assert (found.anchor_lead.value, found.anchor_lead.source) == (0.5, "spec 7.3")
    assert (found.arm_level.value, str(found.arm_level)) == (1.5, "±1.5 in")
    assert (found.anchor_direction_deg.value, found.anchor_direction_deg.source) == (
        3.0,
        "given without a source",
    )
    assert str(found.plumb) == "±1 in per 10 ft", "not named, so as it was"


def test_a_length_in_the_other_unit_is_converted() -> None:
    found = read_tolerance("anchor_lead=1 ft: spec", (), unit=LengthUnit.METRE)
    assert Tolerances.from_entries(found, LengthUnit.METRE).anchor_lead.value == pytest.approx(0.3048)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("anchor_lead", "names nothing and its value"),
        ("anchor_lead=wide", "gives no number"),
        ("anchor_reach=1 ft", "not a tolerance linemap knows"),
        ("plumb=1 ft: spec", "unit does not fit"),
        ("arm_level=0 in: spec", "not a number above 0"),
    ],
)
def test_tolerances_that_cannot_be_read(text: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        read_tolerance(text, (), unit=LengthUnit.FOOT)


def test_evidence_of_a_step_and_of_none() -> None:
    found = read_evidence("framed=nothing: owner's letter", {}, workflow=FRAMED_ON_GROUND)
    assert found == {"framed": {"needs": [], "source": "owner's letter"}}
    for text, words in (
        ("flown=photo", "no step of the job's workflow"),
        ("set=moonlight", "is no evidence"),
    ):
        with pytest.raises(InputRefused, match=words):
            read_evidence(text, {}, workflow=FRAMED_ON_GROUND)


def test_a_catenary_constant_needs_a_length() -> None:
    found = read_catenary("1,371.6 m: table 3, 60 F: no load", unit=LengthUnit.FOOT)
    assert found.constant == pytest.approx(4500.0)
    assert found.source == "table 3, 60 F: no load"
    for text in ("", "tight", "0 ft", "45 stone"):
        with pytest.raises(InputRefused):
            read_catenary(text, unit=LengthUnit.FOOT)


def test_a_declared_rule_changes_what_counts_as_verified(demo_job: Path, tmp_path: Path) -> None:
    with open_job(shutil.copy(demo_job, tmp_path)) as database:
        before = structure_panel(build_view(database, today=NOW.date()), "", "12/1")
        declared = declare(
            database,
            {
                "tolerance": ["across=0.2 ft: spec 4.1"],
                "evidence": ["set=every pole: spec 9.1", "framed=nothing: spec 9.2"],
            },
            now=NOW,
        )
        after = structure_panel(build_view(database, today=NOW.date()), "", "12/1")
        with pytest.raises(InputRefused):
            declare(database, {"base_point": "CP-3", "evidence": ["set=moonlight"]}, now=NOW)
        assert declare(database, {}, now=NOW) == declared, "a refusal changes nothing"
    notes = {step.words: step.note for step in before.steps}
    assert notes["set"].startswith("claimed, not verified: ")
    assert "asked for: every pole, depth, level, photo (common practice" in notes["set"]
    notes = {step.words: step.note for step in after.steps}
    assert notes["set"] == "verified; asked for: every pole (spec 9.1)"
    assert notes["framed"] == ""
    assert "frame centre across the line: ±0.20 ft (spec 4.1)" in declared.rules
    assert '"set" counts as verified by every pole (spec 9.1)' in declared.rules
