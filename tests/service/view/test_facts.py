"""What the facts of the invented line come to: brands decide 6/4, nothing decides 2/3."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from linemap.domain.survey.fact import RecordedFact
from linemap.service.survey.survey import rows_of_view
from linemap.service.survey.survey_page import survey_answer
from linemap.service.view.panel import structure_panel
from linemap.service.view.surveyed import decided_at, plumb_readings, second_evidence_words
from linemap.service.view.view import JobView

DAY = dt.date(2026, 5, 7)


def with_facts(view: JobView, number: str, *facts: RecordedFact) -> JobView:
    key = view.key(view.row("", number))
    return replace(view, facts_by_structure={**view.facts_by_structure, key: list(facts)})


def test_the_brands_show_the_frame_of_6_4_turned(demo_view: JobView) -> None:
    said = decided_at(demo_view, demo_view.row("", "6/4"))
    assert said is not None
    assert said.conclusion == "frame turned"
    assert len(said.reasons) == 2
    assert said.asks_for == ""


def test_2_3_stays_open_and_says_what_to_look_at(demo_view: JobView) -> None:
    said = decided_at(demo_view, demo_view.row("", "2/3"))
    assert said is not None
    assert (said.conclusion, said.words) == ("still open", "no second evidence is recorded")
    assert said.asks_for


def test_brands_seen_the_other_way_round_mean_the_labels(demo_view: JobView) -> None:
    row = demo_view.row("", "6/4")
    seen = demo_view.facts_by_structure[demo_view.key(row)]
    turned = [replace(fact, length_ft={70.0: 75.0, 75.0: 70.0}[fact.length_ft or 0.0]) for fact in seen]
    said = decided_at(with_facts(demo_view, "6/4", *turned), row)
    assert said is not None
    assert said.conclusion == "labels reversed"


def test_a_structure_with_nothing_exchanged_and_no_fact_says_nothing(demo_view: JobView) -> None:
    row = demo_view.row("", "1/5")
    assert not demo_view.checks.reversed[row]
    assert decided_at(demo_view, row) is None
    assert second_evidence_words(demo_view, row) == ""
    fact = RecordedFact(
        structure="1/5", what="tag", pole="A", looking="ahead", side="left", who="Otter", on=DAY
    )
    said = decided_at(with_facts(demo_view, "1/5", fact), row)
    assert said is not None
    assert said.conclusion == "as designed"


def test_readings_are_shown_with_verdict_and_the_source_of_the_tolerance(demo_view: JobView) -> None:
    row = demo_view.row("", "1/5")
    arm = RecordedFact(
        structure="1/5",
        what="arm level",
        left_height=54.0,
        right_height=54.5,
        arm_length=25.0,
        who="Otter",
        on=DAY,
        note="with the level",
    )
    plumb = RecordedFact(
        structure="1/5",
        what="plumb",
        pole="A",
        lower_height=0.0,
        lower_along=0.0,
        lower_across=0.0,
        upper_height=60.0,
        upper_along=0.1,
        upper_across=0.0,
        pole_height=60.0,
        who="",
        on=DAY,
    )
    first, second = plumb_readings(with_facts(demo_view, "1/5", arm, plumb), row)
    assert (first.what, first.verdict, first.seen) == (
        "arm",
        "fail",
        "Otter, 2026-05-07, with the level",
    )
    assert (second.what, second.verdict, second.seen) == ("pole A", "pass", "2026-05-07")
    assert "no source" in first.tolerance_source
    assert second.tolerance_text == "± 1 in per 10 ft"
    assert plumb_readings(demo_view, row) == []


def test_the_panel_shows_what_the_facts_come_to(demo_view: JobView) -> None:
    panel = structure_panel(demo_view, "", "6/4")
    assert panel.second_evidence is not None
    assert panel.second_evidence.conclusion == "frame turned"
    assert panel.cause is not None
    assert panel.cause.asks_for
    assert panel.plumb == []


def test_the_survey_page_shows_the_conclusion_as_evidence_of_the_cause(demo_view: JobView) -> None:
    page = survey_answer(demo_view)
    by_number = {cause.structures[0]: cause for cause in page.causes if cause.code == "reversed single"}
    assert any("second evidence at 6/4: frame turned" in words for words in by_number["6/4"].evidence)
    assert not any("second evidence" in words for words in by_number["2/3"].evidence)


def test_rows_of_the_survey_say_it_in_one_sentence(demo_view: JobView) -> None:
    rows = {row.structure: row.second_evidence for row in rows_of_view(demo_view, everything=False)}
    assert rows["6/4"].startswith("second evidence: frame turned (the frame stands turned")
    assert rows["2/3"].startswith("second evidence: still open")
    assert "ask for" in rows["2/3"]
    assert rows["9/4"] == ""


def test_a_cause_is_shown_on_its_own_line_only(demo_view: JobView) -> None:
    cause = demo_view.causes[0]
    rows = [demo_view.row_of[key] for key in demo_view.keys_of(cause)]
    assert rows
    assert all(cause in demo_view.causes_at(row) for row in rows)
    elsewhere = replace(cause, line="another line")
    other = replace(demo_view, causes=(elsewhere,))
    assert other.keys_of(elsewhere) == []
    assert not any(other.causes_at(row) for row in rows)
