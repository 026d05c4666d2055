"""Anchors of the invented line as a panel, a card and the staking table tell them."""

from __future__ import annotations

from typing import Any

from linemap.service.survey.staking_table import staking_table
from linemap.service.view.panel import structure_panel
from linemap.service.view.surveyed import anchors_at, guys_in_short
from linemap.service.view.view import JobView


def at(view: JobView, number: str) -> list[dict[str, Any]]:
    return anchors_at(view, view.row("", number))


def test_the_two_surveyed_anchors_pass_and_the_others_are_not_surveyed(demo_view: JobView) -> None:
    judged = {(check.required.guy.structure, str(check.verdict)) for check in demo_view.anchor_checks}
    surveyed = {number for number, verdict in judged if verdict != "not surveyed"}
    assert surveyed == {"3/2", "10/5"}
    assert {verdict for number, verdict in judged if number in surveyed} == {"pass"}
    assert not [
        finding
        for finding in demo_view.ledger.everything()
        if finding.code.startswith("anchor") and finding.asks == "surveyor"
    ]


def test_thirteen_structures_are_guyed_and_angles_on_their_outside(demo_view: JobView) -> None:
    assert len({guy.structure for guy in demo_view.guys}) == 13
    outer, inner = at(demo_view, "5/5")
    assert (outer.label, outer.verdict) == ("BIS R1", "not surveyed")
    assert "55.50 ft from pole C on level ground" in outer.wanted
    assert "the line turns left, so the bisector guy belongs right" in outer.wanted
    assert "from pole B" in inner.wanted
    assert [row.label for row in at(demo_view, "1/1")] == ["BK L", "BK R"]


def test_the_panel_shows_tolerances_with_their_source(demo_view: JobView) -> None:
    (anchor,) = structure_panel(demo_view, "", "3/2").anchors
    assert anchor.tolerance_text == "±5.0°, ±1.00 ft"
    assert anchor.tolerance_source == "common practice, no source; replace by the job's specification"
    assert anchor.words[1].startswith("lead 52.00 ft from the centre, as wanted")
    assert structure_panel(demo_view, "", "2/1").anchors == []


def test_a_card_says_it_in_two_sentences(demo_view: JobView) -> None:
    short, seen = guys_in_short(demo_view, demo_view.row("", "3/2"))
    assert short == "anchors: BIS L 52.00 ft from the centre"
    assert seen.startswith("BIS L: pass, anchor in the direction wanted")


def test_the_anchors_ahead_of_9_2_are_told_at_the_pipeline(demo_view: JobView) -> None:
    (entry,) = staking_table(demo_view, rows=[demo_view.row("", "9/2")])
    hubs = [point.description for point in entry.points if "ANC" in point.description]
    assert hubs == [f"9/2 ANC HUB {way} {side}" for way in ("BK", "AH") for side in ("L", "R")]
    assert any("pipeline" in note.casefold() for note in entry.notes)
    assert entry.kind_text.startswith("type H-TRN; A 85 ft class 1, B 85 ft class 1; ground at B ")
