"""Deciding on causes: what may be decided when, by whom, and what it does to the exceptions."""

from __future__ import annotations

import datetime as dt
import shutil
import uuid
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from linemap.domain.causes.cause import Answer
from linemap.errors import Conflict, InputRefused, NotFound
from linemap.service.survey.survey import ordered_causes
from linemap.service.survey.survey_page import (
    Asked,
    corrected_by,
    decide,
    survey_answer,
    verdict_changes,
)
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job
from linemap.store.survey import load_decisions

DAY = dt.date(2026, 5, 16)
AT = dt.datetime(2026, 5, 16, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=-6)))


@pytest.fixture
def own(demo_job: Path, tmp_path: Path) -> Iterator[Database]:
    with open_job(shutil.copy(demo_job, tmp_path / "demo.linemap")) as database:
        yield database


def viewed(database: Database) -> JobView:
    return build_view(database, today=DAY)


def about(view: JobView, code: str, *, answer: Answer = "accepted", note: str = "seen") -> Asked:
    cause = next(cause for cause in view.causes if cause.code == code)
    return Asked(
        id=str(uuid.uuid4()),
        cause=code,
        subject=cause.subject,
        line=cause.line,
        answer=answer,
        who=" P. Chief ",
        note=note,
    )


def test_every_exception_is_under_a_cause_that_names_it(demo_view: JobView) -> None:
    page = survey_answer(demo_view)
    for row in page.exceptions:
        if row.cause is None:
            assert {each.code for each in row.ledger} == {"moved since"}
        else:
            assert row.structure in page.causes[row.cause].structures
    assert page.settled == page.history == page.notes == []
    assert sum(page.verdicts.values()) == len(demo_view.figures)


def test_what_costs_most_comes_first(demo_view: JobView) -> None:
    ranks = [cause.cost_rank for cause in ordered_causes(demo_view)]
    assert ranks == sorted(ranks)
    assert ranks[0] < ranks[-1]


@pytest.mark.parametrize(
    ("code", "changed"),
    [
        ("foot definition", {"7/1", "7/2", "7/5", "7/6"}),
        ("columns exchanged", {"1/1", "1/2", "1/3", "1/4"}),
        ("neighbour's label", {"2/4", "2/5"}),
        ("faced back run", {"10/3", "10/4", "10/5", "11/1", "11/2", "11/3"}),
        ("offset stake", set()),
    ],
)
def test_acceptance_changes_exactly_what_the_cause_names(own: Database, code: str, changed: set[str]) -> None:
    before = viewed(own)
    assert decide(own, before, about(before, code), at=AT)
    after = viewed(own)
    told = verdict_changes(before, after)
    assert {each.structure for each in told.changed} == changed
    assert {each.after for each in told.changed} <= {"pass"}
    (decision,) = after.decisions
    assert decision.who == "P. Chief"
    corrected = {number for _, number in corrected_by(after, decision)}
    assert changed <= corrected | {"2/4"} if changed else corrected == set()
    assert [shot.note for shot in after.observed_shots] == [shot.note for shot in before.observed_shots]


def test_what_accepting_changes_waits_for_what_is_not_declared(demo_view: JobView) -> None:
    """A pass was promised ("cannot tell -> pass"), and nothing came while no base point was declared."""
    bare = replace(demo_view, declaration=replace(demo_view.declaration, base_point=""))
    corrected = [each for each in ordered_causes(bare) if each.correction is not None]
    assert corrected
    assert all(each.would_change.endswith(", once declared: base point") for each in corrected)
    assert not any("once declared" in each.would_change for each in ordered_causes(demo_view))


def test_an_answer_is_recorded_once_and_its_id_is_its_own(own: Database) -> None:
    view = viewed(own)
    asked = about(view, "foot definition")
    assert decide(own, view, asked, at=AT)
    assert not decide(own, view, asked, at=AT + dt.timedelta(minutes=5))
    with pytest.raises(Conflict, match="an identifier of its own"):
        decide(own, viewed(own), replace(asked, answer="rejected"), at=AT)
    with own.reading() as connection:
        assert len(load_decisions(connection)) == 1


def test_a_decision_on_an_older_look_is_refused(own: Database) -> None:
    stale = viewed(own)
    decide(own, stale, about(stale, "offset stake"), at=AT)
    with pytest.raises(Conflict, match="the job changed"):
        decide(own, stale, about(stale, "foot definition"), at=AT)


def test_rejecting_an_accepted_cause_undoes_its_correction(own: Database) -> None:
    before = viewed(own)
    asked = about(before, "foot definition")
    decide(own, before, asked, at=AT)
    against = replace(asked, id=str(uuid.uuid4()), answer="rejected")
    decide(own, viewed(own), against, at=AT + dt.timedelta(minutes=1))
    after = viewed(own)
    assert verdict_changes(before, after).changed == []
    assert after.correction_notes == ()


def test_needs_evidence_leaves_the_cause_open(own: Database) -> None:
    view = viewed(own)
    decide(own, view, about(view, "reversed single", answer="needs evidence", note=""), at=AT)
    after = survey_answer(viewed(own))
    stood = [cause.decision for cause in after.causes if cause.decision]
    assert [decision.answer for decision in stood] == ["needs evidence"]


def test_nobody_and_nothing_are_refused(own: Database) -> None:
    view = viewed(own)
    foot = about(view, "foot definition")
    with pytest.raises(InputRefused, match="names nobody"):
        decide(own, view, replace(foot, who="  "), at=AT)
    with pytest.raises(InputRefused, match="second evidence"):
        decide(own, view, about(view, "faced back run", note=""), at=AT)
    with pytest.raises(NotFound, match="no answer to withdraw"):
        decide(own, view, replace(foot, answer="withdrawn"), at=AT)
    for answer in ("accepted", "rejected", "needs evidence"):
        with pytest.raises(NotFound, match="has no cause"):
            decide(own, view, replace(foot, subject="file other.csv", answer=answer), at=AT)
    assert viewed(own).decisions == ()
