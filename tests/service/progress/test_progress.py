"""Progress of the invented line on 15 May 2026, number by number, and of jobs that lack something."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from linemap.answers.progress import Rework
from linemap.domain.kind.when import When
from linemap.domain.schedule.forecast import Forecast, Unavailable
from linemap.domain.schedule.plan import Baseline
from linemap.domain.survey.proof import EvidenceRule
from linemap.errors import NotFound
from linemap.service.progress.progress import Progress, claimed_only, progress_of
from linemap.service.progress.progress_page import period_answer, progress_answer
from linemap.service.progress.progress_words import (
    block_sentence,
    forecast_sentences,
    percent,
    plan_sentence,
    window_sentences,
)
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database

Rows = list[dict[str, str]]
TODAY = dt.date(2026, 5, 15)


@pytest.fixture(scope="module")
def progress(demo_view: JobView) -> Progress:
    return progress_of(demo_view)


def at(database: Database, **days: dt.date) -> JobView:
    """The job as of a day, as known by a day."""
    return build_view(database, today=TODAY, when=When(**days))


def done(progress: Progress, step: str) -> int:
    count = progress.count(step)
    assert count is not None
    return len(count.done)


def test_counts_are_those_of_the_answer_key(progress: Progress, key: dict[str, Rows]) -> None:
    """2/5 has no shot of its own number as the files stand, so one less is surveyed than was shot."""
    for row in key["counts"]:
        wanted = int(row["structures_done"]) - (row["step"] == "surveyed")
        count = progress.count(row["step"])
        assert count is not None
        assert (row["step"], len(count.done), count.of) == (row["step"], wanted, int(row["of"]))


def test_counts_name_the_structures_behind_them(progress: Progress, key: dict[str, Rows]) -> None:
    for step in ("dug", "framed", "set", "guyed", "grounded", "blocks hung", "inspected"):
        count = progress.count(step)
        assert count is not None
        assert [n for _, n in count.done] == [r["structure"] for r in key["status"] if r[step] == "1"]


def test_units_are_counted_and_not_records(progress: Progress) -> None:
    """5/2, 12/3 and 13/4 each have two records of a frame; the frames are 66."""
    records = sum(event.step == "framed" and event.result == "done" for event in progress.events)
    assert records > done(progress, "framed") == 66


def test_weight_tells_less_than_count(progress: Progress) -> None:
    """59 of 121 are 48.8 %; by type weight 65.8 of 142.8, because three-pole dead-ends wait."""
    count = progress.count("set")
    assert count is not None
    assert count.weighted == pytest.approx(65.8 / 142.8)
    assert percent(len(count.done) / count.of) == "48.8 %"


def test_mile_7_shows_four_of_six_with_its_two_holes(progress: Progress) -> None:
    assert len(progress.miles) == 23
    row = next(row for row in progress.miles if row.mile == 7)
    assert (len(row.done), len(row.structures), row.holes) == (4, 6, ("7/3", "7/4"))
    holes = {number for row in progress.miles for number in row.holes}
    assert holes == {"7/3", "7/4", "9/2", "11/4", "11/5", "11/6", "22/4"}


def test_spans_add_up_to_the_line(progress: Progress) -> None:
    assert sum(row.span_all for row in progress.miles) == pytest.approx(117_736.5, abs=3.0)


def test_section_1_is_not_ready_for_two_structures(progress: Progress) -> None:
    assert [state.section.words for state in progress.sections] == [
        "section 1 (1/1-7/5)",
        "section 2 (7/5-13/2)",
        "section 3 (13/2-16/4)",
        "section 4 (16/4-18/2)",
        "section 5 (18/2-22/4)",
        "section 6 (22/4-23/2)",
    ]
    first = progress.sections[0]
    assert first.sentence().startswith("section 1 (1/1-7/5): 35 of 37 set, not ready: 7/3, 7/4")
    assert [blocker.holds for blocker in first.blockers] == [("HW-1",), ("HW-1",)]
    assert not any(state.complete for state in progress.sections)


def test_plan_68_actual_59(progress: Progress, key: dict[str, Rows]) -> None:
    assert progress.planned == 68.0
    points = {point.week.isoformat(): point for point in progress.curve}
    for row in key["weekly_set"]:
        point = points[row["week_of"]]
        actual = int(row["actual_cumulative"]) if row["actual_cumulative"] else None
        assert (point.planned, point.actual) == (int(row["planned_cumulative"]), actual)
    assert plan_sentence(progress) == (
        "59 of 121 set, 68 planned by Fri 15 May 2026: "
        "9 behind the baseline plan (revision 0, frozen 2026-03-02)"
    )


def test_forecast_says_what_the_naive_answer_does_not(progress: Progress) -> None:
    found = progress.forecast
    assert isinstance(found, Forecast)
    assert found.rates.per_week == 8.75
    assert (len(found.remaining), len(found.workable), len(found.held)) == (62, 54, 8)
    assert [task.number for task in found.held] == [
        "7/3", "7/4", "9/2", "11/4", "11/5", "11/6", "13/2", "14/2",
    ]  # fmt: skip
    assert [task.number for task in found.conditional] == ["14/1", "14/3", "21/3"]
    assert found.naive_week == dt.date(2026, 7, 6)
    assert (found.bulk, found.bulk_about) == (61, dt.date(2026, 7, 2))
    (late,) = found.late
    assert (late.structures, late.not_before) == (("14/2",), dt.date(2026, 8, 17))
    assert late.sections == ("section 3 (13/2-16/4)",)
    assert found.finish is not None
    assert found.finish.early >= dt.date(2026, 8, 17), "the naive week of 6 July is five weeks early"


def test_sentences_name_the_driver_and_keep_a_restricted_reason(progress: Progress) -> None:
    headline, driver, *rest = forecast_sentences(progress)
    assert headline.startswith("all but one set about Thu 2 Jul 2026 (80 % range ")
    assert headline.endswith(
        "; last structure (14/2) not before Mon 17 Aug 2026, "
        "so section 3 (13/2-16/4) cannot be pulled before that"
    )
    assert driver == "the last date hangs on 14/2, hold HN-1 to 2026-08-15, then section 3 (13/2-16/4)"
    assert "62 remain: 54 workable, 8 held" in " ".join(rest)
    assert "nest" not in " ".join((headline, driver, *rest))


def test_the_three_structures_without_ohms_are_claimed_and_not_verified(
    demo_view: JobView, progress: Progress
) -> None:
    found = claimed_only(demo_view, progress)
    assert [number for _, number in found["grounded"]] == ["3/1", "6/2", "9/5"]
    count = progress.count("set")
    assert count is not None
    assert tuple(found["set"]) == count.done, "no photo is in the invented record"
    assert "dug" not in found, "no rule asks for anything"
    lighter = replace(demo_view, evidence_rules={"set": EvidenceRule(needs=("every pole",))})
    assert claimed_only(lighter, progress) == {"set": {}}


def test_each_structure_says_once_what_the_progress_page_counts_as_claimed(demo_view: JobView) -> None:
    wanted: dict[tuple[str, str], dict[str, tuple[str, ...]]] = {}
    for step, claimed in claimed_only(demo_view, progress_of(demo_view)).items():
        for key, proof in claimed.items():
            wanted.setdefault(key, {})[demo_view.workflow.words(step)] = proof.missing
    found = {}
    for key, row in demo_view.row_of.items():
        told = [each.values for each in demo_view.ledger.at(row) if each.code == "claimed"]
        assert len(told) <= 1
        if told:
            found[key] = dict(zip(told[0]["steps"], told[0]["missing"], strict=True))
    assert wanted
    assert found == wanted


def test_outage_asks_for_section_4_by_mid_august(progress: Progress) -> None:
    (words,) = window_sentences(progress)
    assert words.startswith("section 4 (16/4-18/2): hold HX-1 keeps wire until Mon 14 Sep 2026")
    assert "ready four weeks before means by Mon 17 Aug 2026" in words


def test_the_past_is_counted_as_it_was(demo_database: Database) -> None:
    """As of 8 April 5/2 stood rejected; its frame counts again from 9 April on."""
    earlier = progress_of(at(demo_database, as_of=dt.date(2026, 4, 8)))
    later = progress_of(at(demo_database, as_of=dt.date(2026, 4, 9)))
    count, again = earlier.count("framed"), later.count("framed")
    assert count is not None
    assert again is not None
    assert "5/2" not in [number for _, number in count.done]
    assert "5/2" in [number for _, number in again.done]
    assert earlier.planned == 17.75, "three of the week's four days: 11 + 9 x 3/4"


def test_known_by_leaves_out_what_came_later(demo_database: Database) -> None:
    """Mole and Otter report within minutes; Heron's rows of 13 May came at 18:32 that evening."""
    day = dt.date(2026, 5, 13)
    now = progress_of(at(demo_database, as_of=day))
    then = progress_of(at(demo_database, as_of=day, known_by=day))
    assert done(now, "framed") == done(then, "framed")
    assert len(now.events) >= len(then.events)
    late = progress_of(at(demo_database, as_of=dt.date(2026, 5, 11)))
    known = progress_of(at(demo_database, as_of=dt.date(2026, 5, 11), known_by=dt.date(2026, 5, 11)))
    assert len(late.events) == len(known.events) + 1, "the record of 12/3 was on a phone until 14 May"


def test_what_was_known_on_a_day_is_of_that_day(demo_database: Database) -> None:
    """Asked on 15 May what was known on 12 May: 58 set, and no empty days between."""
    found = progress_of(at(demo_database, known_by=dt.date(2026, 5, 12)))
    assert found.as_of == dt.date(2026, 5, 12)
    assert done(found, "set") == 58
    assert "nothing after 2026-05-12 can have been known by then" in found.taken[0]


def test_daily_of_13_may_rebuilds_to_the_same_numbers(demo_database: Database) -> None:
    day = dt.date(2026, 5, 13)
    then = at(demo_database, known_by=day)
    report = period_answer(then, first=day)
    heron = next(one for one in report.quantities if one.crew == "Heron")
    assert (heron.count, heron.words) == (3, "framed")
    assert [place.number for place in heron.list] == ["13/1", "13/3", "13/4"]
    assert not any(one.crew == "Raven" for one in report.quantities)
    assert "13/4: framed recorded twice: Heron, Raven" in report.repeats[0]
    later = build_view(demo_database, today=dt.date(2026, 9, 1), when=When(known_by=day))
    assert period_answer(later, first=day) == report


def test_set_of_the_daily_and_of_the_count_are_one_number(
    demo_view: JobView, demo_database: Database
) -> None:
    """A daily of 12 May wrote 61 set; the names give 58."""
    report = period_answer(demo_view, first=dt.date(2026, 5, 12))
    assert next(one.to_date for one in report.quantities if one.words == "set") == 58
    assert done(progress_of(at(demo_database, as_of=dt.date(2026, 5, 12))), "set") == 58


def test_days_given_the_other_way_round_are_the_same_period(demo_view: JobView) -> None:
    monday = dt.date(2026, 5, 11)
    week = period_answer(demo_view, first=monday, last=TODAY)
    assert period_answer(demo_view, first=TODAY, last=monday) == week
    assert (week.first, week.last) == ("2026-05-11", "2026-05-15")


def test_a_job_without_records_says_so_and_shows_no_zero(demo_view: JobView) -> None:
    empty = replace(demo_view, events_by_structure={}, shots_by_structure={})
    found = progress_of(empty)
    assert isinstance(found.forecast, Unavailable)
    assert forecast_sentences(found) == (
        "forecast not available: nothing is recorded as done in the window of the rate",
    )
    charts = {chart.key: chart for chart in progress_answer(empty).charts}
    assert charts["time"].why == "not available: nothing is dug, framed or set yet"
    assert charts["curve"].wide, "the plan is drawn alone"


def test_a_job_without_plan_or_with_one_without_dates_has_no_planned_number(
    demo_view: JobView, demo_database: Database
) -> None:
    none = progress_of(replace(demo_view, baselines=()))
    assert str(none.planned) == "not available: no plan is loaded"
    assert "59 of 121 set; planned: not available" in plan_sentence(none)
    undated = Baseline(planned=(4, 11))
    found = progress_of(replace(demo_view, baselines=(undated,)))
    assert "gives no dates" in str(found.planned)
    assert progress_of(at(demo_database, as_of=dt.date(2026, 3, 1))).planned == Unavailable(
        reason="no plan of set was frozen by 2026-03-01"
    )
    before = progress_of(at(demo_database, as_of=dt.date(2026, 3, 20)))
    assert str(before.planned) == "not available: the plan begins 2026-03-23"


def test_empty_job_without_plan_has_no_curve(demo_view: JobView) -> None:
    bare = replace(demo_view, events_by_structure={}, shots_by_structure={}, baselines=())
    charts = {chart.key: chart for chart in progress_answer(bare).charts}
    assert (charts["curve"].wide, charts["curve"].why) == (
        "",
        "not available: nothing is planned and nothing is done",
    )


def test_what_is_taken_for_want_of_a_declaration_is_said(demo_view: JobView) -> None:
    assert progress_of(demo_view).taken == ()
    bare = replace(demo_view, calendar_declared=False, types={}, guys=())
    words = " ".join(progress_of(bare).taken)
    assert "work week not declared: Mon-Thu is taken" in words
    assert "no list says which structures have guys" in words


def test_lines_are_told_apart(demo_view: JobView) -> None:
    name = demo_view.figures.lines[0].name
    assert done(progress_of(demo_view, line=name), "set") == 59
    with pytest.raises(NotFound, match="has no line South"):
        progress_of(demo_view, line="South")


def test_rebaselined_job_keeps_the_old_curve(demo_view: JobView, demo_database: Database) -> None:
    first = demo_view.baselines[0]
    second = replace(first, revision="1", frozen_on=dt.date(2026, 5, 1), planned=tuple(range(1, 16)))
    both = replace(demo_view, baselines=(first, second))
    found = progress_of(both)
    assert (found.planned, found.beside, found.other_baselines) == (68.0, ((second, 8.0),), (second,))
    assert plan_sentence(found).endswith(
        "9 behind the baseline plan (revision 0, frozen 2026-03-02); "
        "51 ahead of revision 1, frozen 2026-05-01"
    )
    declared = progress_of(replace(both, baseline_declared="1"))
    assert (declared.planned, declared.other_baselines) == (8.0, (first,))
    earlier = at(demo_database, as_of=dt.date(2026, 4, 24))
    back = progress_of(replace(earlier, baselines=(first, second)))
    assert back.planned == 40.0, "a report of April still measures against the first plan"


def test_payload_lists_stand_behind_their_numbers(demo_view: JobView) -> None:
    found = progress_answer(demo_view)
    for count in found.counts:
        assert count.done == len(count.done_list)
        assert count.of == len(count.done_list) + len(count.open_list)
    for row in found.miles:
        assert row.done == len(row.done_list)
        assert row.of == row.done + len(row.open_list)
    assert sum(row.done for row in found.miles) == 59
    assert sum(step.count for crew in found.crews for step in crew.steps if step.words == "framed") == 66
    assert found.rework == [
        Rework(
            line=found.lines[0],
            number="5/2",
            words="framed rejected 2026-04-08 by Four Tines, made again 2026-04-09",
        )
    ]


def test_twenty_blocks_are_left_for_four_structures(demo_view: JobView) -> None:
    page = progress_answer(demo_view)
    assert page.windows[-1] == "blocks: 260 hung of 280 owned, 20 left = 4 structures"
    assert not any(
        "blocks" in words for words in progress_answer(replace(demo_view, blocks_owned=None)).windows
    )


def test_blocks_of_types_that_give_no_count(demo_view: JobView) -> None:
    bare = replace(demo_view, framing={}, types={})
    words = block_sentence(bare, progress_of(bare))
    assert words.startswith("blocks left: not available: no block count is given")
    # the type table stands in where there is no framing table
    listed = replace(demo_view, framing={})
    assert "20 left" in block_sentence(listed, progress_of(listed))
