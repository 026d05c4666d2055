"""Decisions: which stands, what it does to the shots, and that nothing observed is lost."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.causes.cause import Answer, Decision, corrected_shots, standing
from linemap.domain.survey.shot import Shot

NOON = dt.datetime(2026, 5, 15, 12, 0, tzinfo=dt.UTC)
ROWS = {"kind": "relabel", "file": "may.csv", "rows": [2], "structure": "2/5"}


def decide(
    identifier: str = "d1",
    *,
    answer: Answer = "accepted",
    hours: float = 0.0,
    cause: str = "columns exchanged",
    subject: str = "file may.csv",
    correction: Mapping[str, Any] | None = None,
) -> Decision:
    return Decision(
        id=identifier,
        cause=cause,
        subject=subject,
        line="North",
        answer=answer,
        who="R. Calder",
        at=NOON + dt.timedelta(hours=hours),
        correction={"kind": "exchange", "file": "may.csv"} if correction is None else correction,
    )


def shot(row: int = 1, **changes: Any) -> Shot:
    plain = Shot(
        point=str(5000 + row),
        easting=2_250_000.0,
        northing=900_000.0,
        structure="2/4",
        pole="A",
        item="pole",
        line="North",
        file="may.csv",
        row=row,
    )
    return replace(plain, **changes)


def test_the_latest_decision_stands_whatever_the_order_they_come_in() -> None:
    early, late = decide("d1"), decide("d2", answer="rejected", hours=1)
    assert standing([late, early]) == {early.key: late}
    assert standing([early, late, early]) == {early.key: late}


def test_a_withdrawal_undoes_and_brings_nothing_back() -> None:
    first, second = decide("d1"), decide("d2", answer="needs evidence", hours=1)
    undone = decide("d3", answer="withdrawn", hours=2, correction={})
    assert standing([first, second, undone]) == {}
    again = decide("d4", answer="rejected", hours=3, correction={})
    assert standing([undone, again, first, second]) == {first.key: again}


def test_decisions_on_other_subjects_lines_and_causes_are_apart() -> None:
    one = decide("d1")
    others = [
        replace(one, id="d2", subject="file june.csv"),
        replace(one, id="d3", line="South"),
        replace(one, id="d4", cause="foot definition"),
    ]
    undone = replace(one, id="d5", answer="withdrawn", at=NOON + dt.timedelta(hours=1))
    assert [decision.id for decision in standing([one, *others, undone]).values()] == ["d2", "d3", "d4"]


def test_exchange_swaps_the_columns_of_its_file_only_and_says_so() -> None:
    other = shot(9, file="june.csv")
    observed = (shot(1), other)
    corrected, notes = corrected_shots(observed, [decide()])
    assert (corrected[0].easting, corrected[0].northing) == (900_000.0, 2_250_000.0)
    assert corrected[0].note == "northing and easting exchanged, decision d1"
    assert corrected[1] is other
    assert observed[0] == shot(1)
    assert tuple(note.words for note in notes) == (
        "1 shot of may.csv: northing and easting exchanged (decision d1, R. Calder, 15 May 2026)",
    )


def test_exchange_of_some_rows_leaves_the_others() -> None:
    correction = {"kind": "exchange", "file": "may.csv", "rows": [2]}
    corrected, _ = corrected_shots([shot(1), shot(2)], [decide(correction=correction)])
    assert [each.easting for each in corrected] == [2_250_000.0, 900_000.0]


def test_the_us_survey_foot_moves_an_easting_of_2_25_million_by_4_50_feet() -> None:
    # 1 US survey foot = 1200/3937 m exactly (85 FR 62698), 1 international foot = 0.3048 m
    factor = 1200 / 3937 / 0.3048
    corrected, _ = corrected_shots(
        [shot()], [decide(correction={"kind": "foot", "file": "may.csv", "factor": factor})]
    )
    assert corrected[0].easting - 2_250_000.0 == pytest.approx(4.5, abs=0.0001)
    assert corrected[0].northing - 900_000.0 == pytest.approx(1.8, abs=0.0001)


def test_a_scale_about_a_point_leaves_that_point_where_it_is() -> None:
    correction = {"kind": "foot", "file": "may.csv", "factor": 1.001, "about": [2_249_000.0, 900_000.0]}
    corrected, _ = corrected_shots([shot(1), shot(2, easting=2_249_000.0)], [decide(correction=correction)])
    assert [each.easting for each in corrected] == [pytest.approx(2_250_001.0), 2_249_000.0]
    assert {each.northing for each in corrected} == {900_000.0}


def test_translate_relabel_and_drop() -> None:
    decisions = [
        decide("d1", correction={"kind": "translate", "file": "may.csv", "east": 1.5, "north": -2.0}),
        decide("d2", subject="structure 2/4", hours=1, correction={**ROWS, "line": "South"}),
        decide(
            "d3",
            subject="structure 3/5",
            hours=2,
            correction={"kind": "drop", "file": "may.csv", "rows": [3]},
        ),
    ]
    corrected, notes = corrected_shots([shot(1), shot(2), shot(3)], decisions)
    assert [(each.structure, each.line, each.easting, each.northing) for each in corrected] == [
        ("2/4", "North", 2_250_001.5, 899_998.0),
        ("2/5", "South", 2_250_001.5, 899_998.0),
    ]
    assert corrected[1].note == "moved +1.500 east, -2.000 north, decision d1; labelled 2/5, decision d2"
    assert [note.words.split(" of ")[0] for note in notes] == ["3 shots", "1 shot", "1 shot"]


def test_swapping_labels_exchanges_the_outer_poles_and_nothing_else() -> None:
    two = [shot(1), shot(2, pole="B"), shot(3, item="anchor", pole="")]
    three = [shot(row, structure="5/5", pole=pole) for row, pole in ((4, "A"), (5, "B"), (6, "C"))]
    elsewhere = shot(7, line="South")
    correction = {"kind": "swap_labels", "structures": ["2/4", "5/5"]}
    corrected, notes = corrected_shots([*two, *three, elsewhere], [decide(correction=correction)])
    assert [each.pole for each in corrected] == ["B", "A", "", "C", "B", "A", "A"]
    assert corrected[4] is three[1]
    assert corrected[6] is elsewhere
    assert notes[0].words.startswith("4 shots of 2/4, 5/5: ")


@pytest.mark.parametrize("answer", ["rejected", "needs evidence"])
def test_only_accepted_decisions_change_shots(answer: Answer) -> None:
    assert corrected_shots([shot()], [decide(answer=answer)]) == ((shot(),), ())


def test_a_withdrawn_acceptance_leaves_the_shots_as_observed() -> None:
    decisions = [decide("d1"), decide("d2", answer="withdrawn", hours=1, correction={})]
    assert corrected_shots([shot()], decisions) == ((shot(),), ())


def test_a_correction_that_finds_no_shot_says_so() -> None:
    corrected, notes = corrected_shots([shot(file="june.csv")], [decide()])
    assert corrected == (shot(file="june.csv"),)
    assert notes[0].words.startswith("0 shots of may.csv")


def test_accepting_a_cause_without_a_correction_changes_nothing() -> None:
    assert corrected_shots([shot()], [decide(correction={})]) == ((shot(),), ())


@pytest.mark.parametrize(
    ("correction", "reason"),
    [
        ({"kind": "guess"}, "is of the kind 'guess'; use one of exchange, foot"),
        ({"kind": ["drop"]}, "is of the kind"),
        ({"file": "may.csv"}, "is of the kind None"),
        ({"kind": "exchange"}, "no usable file: None"),
        ({"kind": "exchange", "file": "may.csv", "rows": []}, "no usable rows"),
        ({"kind": "exchange", "file": "may.csv", "rows": [1.5]}, "no usable rows"),
        ({"kind": "foot", "file": "may.csv", "factor": 0.0}, "no usable factor: 0.0"),
        ({"kind": "foot", "file": "may.csv", "factor": float("nan")}, "no usable factor: nan"),
        ({"kind": "foot", "file": "may.csv", "factor": True}, "no usable factor: True"),
        ({"kind": "foot", "file": "may.csv", "factor": 1.0, "about": [1.0]}, "no usable about"),
        ({"kind": "translate", "file": "may.csv", "east": 1.0}, "no usable north: None"),
        ({**ROWS, "structure": " "}, "no usable structure"),
        ({"kind": "swap_labels", "structures": "2/4"}, "no usable structures"),
        ({"kind": "drop", "file": "may.csv", "rows": [1], "line": "x"}, "names line, which drop does not"),
    ],
)
def test_a_correction_that_cannot_be_applied_is_refused(correction: Mapping[str, Any], reason: str) -> None:
    with pytest.raises(ValueError, match="has a correction that") as refused:
        decide(correction=correction)
    assert reason in str(refused.value)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"id": " "}, "blank id"),
        ({"cause": ""}, "blank cause"),
        ({"subject": ""}, "blank subject"),
        ({"who": ""}, "blank who"),
        ({"answer": "yes"}, "use one of accepted, rejected, needs evidence, withdrawn"),
        ({"at": NOON.replace(tzinfo=None)}, "no time zone"),
    ],
)
def test_a_decision_must_say_who_what_and_when(change: dict[str, Any], reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        replace(decide(), **change)


@settings(max_examples=examples(60))
@given(
    answers=st.lists(st.sampled_from(["accepted", "rejected", "needs evidence", "withdrawn"]), max_size=6),
    order=st.randoms(use_true_random=False),
)
def test_the_order_of_arrival_never_matters(answers: list[Answer], order: Any) -> None:
    decisions = [decide(f"d{i}", answer=answer, hours=i) for i, answer in enumerate(answers)]
    shuffled = [*decisions, *decisions]
    order.shuffle(shuffled)
    assert standing(shuffled) == standing(decisions)
    assert corrected_shots([shot()], shuffled) == corrected_shots([shot()], decisions)
    last = answers[-1] if answers else "withdrawn"
    assert (corrected_shots([shot()], decisions)[0] == (shot(),)) == (last != "accepted")


@settings(max_examples=examples(60))
@given(easting=st.floats(1e5, 3e6), northing=st.floats(1e5, 3e6))
def test_exchanging_twice_gives_the_coordinates_back(easting: float, northing: float) -> None:
    observed = shot(easting=easting, northing=northing)
    twice = [decide("d1"), decide("d2", subject="file may.csv again", hours=1)]
    (back,), _ = corrected_shots([observed], twice)
    assert (back.easting, back.northing) == (easting, northing)
