"""Causes: the invented line against its answer key, each kind by hand, and nothing where nothing is wrong."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.causes.cause import Cause, Decision, corrected_shots
from linemap.domain.causes.causes import find_causes
from linemap.domain.design.figures import Figures
from linemap.domain.design.structure import Pole
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.record.event import Event
from linemap.domain.survey.orientation import check
from linemap.domain.survey.set_poles import cluster_poles
from linemap.domain.survey.shot import Shot
from linemap.domain.survey.verdict import Checks, Verdict
from linemap.service.view.view import JobView
from linemap.store.database import Database
from linemap.store.survey import load_shots
from linemap.units import LengthUnit

NOW = dt.datetime(2026, 5, 15, 12, 0, tzinfo=dt.UTC)
FEET = Tolerances.default(LengthUnit.FOOT)
METRES = Tolerances.default(LengthUnit.METRE)

EXPECTED = [
    ("columns exchanged", "file shots_2026-04-02.csv", "1/1 1/2 1/3 1/4"),
    ("reversed single", "structure 2/3", "2/3"),
    ("neighbour's label", "structure 2/4", "2/4 2/5"),
    ("wrong brace set", "structure 3/4", "3/4"),
    ("duplicate conflict", "structure 3/5", "3/5"),
    ("offset stake", "structure 4/2", "4/2"),
    ("square to one tangent", "structure 5/5", "5/5"),
    ("reversed single", "structure 6/4", "6/4"),
    ("foot definition", "file shots_2026-04-29.csv", "7/1 7/2 7/5 7/6"),
    ("poor survey", "structure 8/1", "8/1"),
    ("no single cause found", "structure 8/2", "8/2"),
    ("pole missing", "structure 8/4", "8/4"),
    ("offset stake", "structure 9/4", "9/4"),
    ("inner faces shot", "structure 10/2", "10/2"),
    ("faced back run", "crew Raven, 10/3 to 11/3", "10/3 10/4 10/5 11/1 11/2 11/3"),
]


def judged(figures: Figures, shots: Sequence[Shot], tolerances: Tolerances = FEET) -> Checks:
    return check(figures, cluster_poles(shots, figures, default_sigma=tolerances.shot_sigma), tolerances)


def find(
    figures: Figures,
    shots: Sequence[Shot],
    *,
    tolerances: Tolerances = FEET,
    events: Iterable[Event] = (),
    **known: Any,
) -> tuple[Cause, ...]:
    poles = cluster_poles(shots, figures, default_sigma=tolerances.shot_sigma)
    checks = check(figures, poles, tolerances)
    return find_causes(figures, poles, checks, shots, events=events, tolerances=tolerances, **known)


def told(causes: Iterable[Cause]) -> list[tuple[str, str, str]]:
    return [(cause.code, cause.subject, " ".join(cause.structures)) for cause in causes]


def accept(causes: Iterable[Cause]) -> list[Decision]:
    return [
        Decision(
            id=f"d{i}",
            cause=cause.code,
            subject=cause.subject,
            line=cause.line,
            answer="accepted",
            who="R. Calder",
            at=NOW + dt.timedelta(minutes=i),
            correction=cause.correction or {},
        )
        for i, cause in enumerate(causes)
    ]


# ---- the invented line


@pytest.fixture(scope="module")
def demo_shots(demo_database: Database) -> tuple[Shot, ...]:
    with demo_database.reading() as connection:
        return load_shots(connection)


def find_in(view: JobView, shots: Sequence[Shot]) -> tuple[Cause, ...]:
    return find(
        view.figures,
        shots,
        tolerances=view.tolerances,
        events=[event for group in view.events_by_structure.values() for event in group],
        poles=[pole for group in view.poles_by_structure.values() for pole in group],
    )


@pytest.fixture(scope="module")
def demo_causes(demo_view: JobView, demo_shots: tuple[Shot, ...]) -> dict[str, Cause]:
    """Causes of the invented line by the first structure each explains."""
    return {cause.structures[0]: cause for cause in find_in(demo_view, demo_shots)}


def test_every_planted_fault_is_one_cause_and_nothing_else_is(demo_causes: dict[str, Cause]) -> None:
    assert told(demo_causes.values()) == EXPECTED


def test_no_structure_has_two_causes_and_none_that_passes_has_one(
    demo_causes: dict[str, Cause], key: dict[str, list[dict[str, str]]]
) -> None:
    explained = [number for cause in demo_causes.values() for number in cause.structures]
    assert len(explained) == len(set(explained))
    assert set(explained) == {row["structure"] for row in key["as_set"] if row["answer"] != "pass"}


def test_each_cause_says_what_it_rests_on_and_asks_for(demo_causes: dict[str, Cause]) -> None:
    for cause in demo_causes.values():
        texts = (cause.words, *cause.evidence, cause.would_change, cause.moment, cause.asks_for)
        assert all(texts)
        assert len(cause.evidence) >= 1
        assert 1 <= cause.cost_rank <= 5
        assert not any(word in " ".join(texts).casefold() for word in ("safe", "certified", "meets code"))


def test_the_foot_is_told_with_its_vector_though_the_line_turns(demo_causes: dict[str, Cause]) -> None:
    cause = demo_causes["7/1"]
    assert "US survey feet read as international feet: dN -1.83, dE -4.56 ft on all 4" in cause.words
    assert "the line turns 41.5°" in cause.words
    assert cause.would_change == "4 structures fail -> cannot tell"
    assert cause.correction is not None
    assert cause.correction["factor"] == pytest.approx(1200 / 3937 / 0.3048, rel=1e-15)
    assert any("one constant shift" in words and "to 1 against" in words for words in cause.evidence)


def test_the_exchanged_file_is_one_question(demo_causes: dict[str, Cause]) -> None:
    cause = demo_causes["1/1"]
    assert cause.correction == {"kind": "exchange", "file": "shots_2026-04-02.csv"}
    assert cause.would_change == "4 structures cannot tell -> pass"


def test_unequal_legs_let_the_brands_decide_and_offer_no_correction(demo_causes: dict[str, Cause]) -> None:
    cause = demo_causes["6/4"]
    assert "legs unequal (A 75 ft, B 70 ft): the brand heights decide" in cause.words
    assert cause.correction is None
    assert cause.cost_rank == 1
    assert any("branded 75 ft" in words for words in cause.evidence)
    assert "75 ft" in cause.asks_for


def test_equal_legs_need_second_evidence_and_the_labels_may_be_swapped_then(
    demo_causes: dict[str, Cause],
) -> None:
    cause = demo_causes["2/3"]
    assert "labels or frame, second evidence needed" in cause.words
    assert "legs alike (70 ft)" in cause.words
    assert cause.correction == {"kind": "swap_labels", "structures": ["2/3"]}
    assert cause.would_change == "1 structure cannot tell -> pass, if it is the labels"


def test_a_run_is_the_crew_that_framed_it_not_the_one_that_set_all(demo_causes: dict[str, Cause]) -> None:
    cause = demo_causes["10/3"]
    assert "framed by Raven" in cause.words
    assert (
        cause.evidence[0]
        == "6 of 6 structures framed by Raven there reversed; 2 of 46 on the rest of the line"
    )
    assert not any("Otter" in words and "as likely" in words for words in cause.evidence)


@pytest.mark.parametrize(
    ("structure", "words"),
    [
        ("2/4", "4 shots in two groups 997 ft apart"),
        ("3/4", "too short by about what another brace set makes"),
        ("3/5", "pole B shot 2 times, 6.20 ft apart"),
        ("4/2", "built on the offset stake 10 ft right"),
        ("5/5", "set square to the back tangent"),
        ("8/1", "the survey is not good enough to tell"),
        ("8/2", "arm turned 4.4° clockwise (sigma 0.19°): no single cause found"),
        ("8/4", "pole B not shot"),
        ("9/4", "built on the offset stake 25 ft ahead"),
        ("10/2", "short by about one pole diameter"),
    ],
)
def test_what_is_said_of_each(demo_causes: dict[str, Cause], structure: str, words: str) -> None:
    assert words in demo_causes[structure].words


def test_accepted_corrections_make_the_structures_pass_and_touch_no_other(
    demo_view: JobView, demo_shots: tuple[Shot, ...], demo_causes: dict[str, Cause]
) -> None:
    chosen = [demo_causes[number] for number in ("1/1", "2/4", "7/1")]
    corrected, notes = corrected_shots(demo_shots, accept(chosen))
    assert len(notes) == 3
    before = demo_view.checks.verdict
    after = judged(demo_view.figures, corrected, demo_view.tolerances).verdict
    affected = {number for cause in chosen for number in cause.structures}
    for number, old, new in zip(demo_view.figures.structures.number, before, after, strict=True):
        assert new == (Verdict.PASS if number in affected else old), number
    rest = [row for row in EXPECTED if row[2].split()[0] not in {"1/1", "2/4", "7/1"}]
    assert told(find_in(demo_view, corrected)) == rest


# ---- by hand, on five structures 1,000 ft apart


def moved(shots: Iterable[Shot], change: Callable[[complex], complex]) -> list[Shot]:
    """Change coordinates as east + i north."""
    after = [change(complex(shot.easting, shot.northing)) for shot in shots]
    return [replace(s, easting=at.real, northing=at.imag) for s, at in zip(shots, after, strict=True)]


def one(causes: tuple[Cause, ...]) -> Cause:
    assert len(causes) == 1, told(causes)
    return causes[0]


def test_a_line_set_as_designed_has_no_cause(bent: Figures, survey: Callable[..., list[Shot]]) -> None:
    assert find(bent, survey(bent)) == ()
    assert find(bent, []) == ()


@pytest.mark.parametrize(
    ("fault", "code", "words"),
    [
        ({"along": -50.0}, "offset stake", "offset stake 50 ft back"),
        ({"across": -5.0}, "offset stake", "offset stake 5 ft left"),
        ({"across": 7.4}, "no single cause found", "7.40 ft right"),
        ({"rotation_deg": 90.0}, "parallel to the line", "stands along the line"),
        ({"rotation_deg": -89.6}, "parallel to the line", "stands along the line"),
        ({"rotation_deg": 7.0}, "no single cause found", "arm turned 7.0° clockwise"),
        ({"spacing_error": -1.3}, "inner faces shot", "inner faces"),
        ({"spacing_error": 0.5}, "wrong brace set", "too long"),
        ({"spacing_error": -0.85}, "no single cause found", "spacing 11.65 ft"),
        ({"swapped": True}, "reversed single", "A and B the other way round"),
        ({"swapped": True, "across": 10.0}, "offset stake", "also stand the other way round"),
        (
            {"across": 10.0, "rotation_deg": 90.0},
            "two causes at once",
            "offset stake (10 ft right) and parallel",
        ),
        ({"along": -25.0, "spacing_error": 0.45}, "two causes at once", "and wrong brace set (long)"),
        ({"across": 7.4, "rotation_deg": 90.0}, "no single cause found", "7.40 ft right"),
        ({"letters": "B"}, "pole missing", "pole A not shot"),
        ({"sigma": 0.4}, "poor survey", "not good enough to tell"),
    ],
)
def test_one_fault_at_a_tangent(
    bent: Figures, survey: Callable[..., list[Shot]], fault: dict[str, Any], code: str, words: str
) -> None:
    cause = one(find(bent, survey(bent, row1=fault)))
    assert (cause.code, cause.subject, cause.structures) == (code, "structure 1/2", ("1/2",))
    assert words in cause.words


@pytest.mark.parametrize(
    ("fault", "code", "words"),
    [
        ({"rotation_deg": -15.0}, "square to one tangent", "square to the back tangent"),
        ({"rotation_deg": 15.0}, "square to one tangent", "square to the ahead tangent"),
        ({"rotation_deg": 11.0}, "no single cause found", "arm turned 11.0°"),
        ({"along": 0.62}, "one side's faces shot", "both poles ahead"),
        ({"along": 1.6}, "no single cause found", "1.60 ft ahead"),
    ],
)
def test_one_fault_at_an_angle(
    bent: Figures, survey: Callable[..., list[Shot]], fault: dict[str, Any], code: str, words: str
) -> None:
    cause = one(find(bent, survey(bent, row2=fault)))
    assert (cause.code, cause.structures) == (code, ("1/3",))
    assert words in cause.words


@pytest.mark.parametrize("size", [2.0, 5.0, 10.0, 20.0])
def test_metric_stakes_are_round_in_metres(
    build: Callable[..., Figures], survey: Callable[..., list[Shot]], size: float
) -> None:
    metric = build(unit=LengthUnit.METRE, spacing=4.0)
    cause = one(find(metric, survey(metric, row1={"across": size}), tolerances=METRES))
    assert f"offset stake {size:g} m right" in cause.words


def test_the_survey_foot_the_other_way(
    build: Callable[..., Figures], survey: Callable[..., list[Shot]]
) -> None:
    figures = build(azimuth_deg=40.0, turn_deg=30.0, unit=LengthUnit.US_SURVEY_FOOT)
    shots = moved(survey(figures), lambda at: at * (1200 / 3937 / 0.3048))
    cause = one(find(figures, shots))
    assert cause.code == "foot definition"
    assert "international feet read as US survey feet: dN +1.8" in cause.words
    assert cause.would_change == "5 structures fail -> cannot tell"


@pytest.mark.parametrize("power", [1, -1])
def test_the_combined_factor_left_out_or_applied_twice_about_a_point(
    bent: Figures, survey: Callable[..., list[Shot]], power: int
) -> None:
    base = complex(2_247_000.0, 899_000.0)
    shots = moved(survey(bent), lambda at: base + (at - base) * 0.9992**power)
    cause = one(find(bent, shots))
    assert (cause.code, len(cause.structures)) == ("grid taken as ground", 5)
    assert ("applied twice" in cause.words) == (power == 1)
    assert cause.correction is not None
    assert complex(*cause.correction["about"]) == pytest.approx(base, abs=60.0)
    assert cause.would_change == "5 structures fail -> cannot tell"


def test_a_base_shift_is_one_vector_that_is_no_foot(bent: Figures, survey: Callable[..., list[Shot]]) -> None:
    cause = one(find(bent, moved(survey(bent), lambda at: at + complex(3.0, 1.5))))
    assert cause.code == "base or datum shifted"
    assert "dN +1.50, dE +3.00 ft on all 5 structures" in cause.words
    assert cause.correction is not None
    assert (cause.correction["east"], cause.correction["north"]) == (
        pytest.approx(-3.0, abs=0.01),
        pytest.approx(-1.5, abs=0.01),
    )


@pytest.mark.parametrize("degrees", [0.1, -1.4])
def test_a_turned_survey_is_told_with_its_angle_and_turned_back(
    bent: Figures, survey: Callable[..., list[Shot]], degrees: float
) -> None:
    base = complex(2_249_500.0, 900_300.0)
    turn = complex(math.cos(math.radians(degrees)), -math.sin(math.radians(degrees)))
    shots = moved(survey(bent), lambda at: base + (at - base) * turn)
    cause = one(find(bent, shots))
    assert cause.code == "rotation of the survey"
    assert f"turned {degrees:+.4f}°" in cause.words
    corrected, _ = corrected_shots(shots, accept([cause]))
    assert set(judged(bent, corrected).verdict) == {Verdict.PASS}


def test_a_fault_at_one_structure_shows_through_a_file_that_is_off(
    bent: Figures, survey: Callable[..., list[Shot]]
) -> None:
    shots = moved(survey(bent, row3={"across": 25.0}), lambda at: at * (0.3048 / (1200 / 3937)))
    assert told(find(bent, shots)) == [
        ("foot definition", "file may.csv", "1/1 1/2 1/3 2/2"),
        ("offset stake", "structure 2/1", "2/1"),
    ]


def test_a_rejected_law_of_a_file_does_not_compete(bent: Figures, survey: Callable[..., list[Shot]]) -> None:
    shots = moved(survey(bent), lambda at: at * (0.3048 / (1200 / 3937)))
    first = one(find(bent, shots))
    second = one(find(bent, shots, rejected={first.key}))
    assert (first.code, second.code) == ("foot definition", "base or datum shifted")


def test_exchanged_rows_of_a_mixed_file_are_named(bent: Figures, survey: Callable[..., list[Shot]]) -> None:
    shots = survey(bent)
    mixed = [*moved(shots[:4], lambda at: complex(at.imag, at.real)), *shots[4:]]
    cause = one(find(bent, mixed))
    assert cause.correction == {"kind": "exchange", "file": "may.csv", "rows": [1, 2, 3, 4]}
    assert cause.structures == ("1/1", "1/2")
    assert cause.would_change == "2 structures cannot tell -> pass"


def test_another_unit_and_another_zone(bent: Figures, survey: Callable[..., list[Shot]]) -> None:
    metres = one(find(bent, moved(survey(bent), lambda at: at * 0.3048)))
    assert (metres.code, metres.would_change) == ("unit of length", "5 structures cannot tell -> pass")
    turn = complex(math.cos(0.02), math.sin(0.02))
    zone = one(find(bent, moved(survey(bent), lambda at: at * turn * 1.0001 + complex(900_000.0, 0.0))))
    assert (zone.code, zone.correction) == ("wrong zone", None)


def test_labels_of_two_neighbours_exchanged_are_two_relabellings_that_work_together(
    bent: Figures, survey: Callable[..., list[Shot]]
) -> None:
    other = {"1/2": "1/3", "1/3": "1/2"}
    shots = [replace(s, structure=other.get(s.structure, s.structure)) for s in survey(bent)]
    causes = find(bent, shots)
    assert [cause.code for cause in causes] == ["neighbour's label"] * 2
    assert [cause.structures for cause in causes] == [("1/2",), ("1/3",)]
    corrected, _ = corrected_shots(shots, accept(causes))
    assert set(judged(bent, corrected).verdict) == {Verdict.PASS}


def test_a_coarse_file_is_one_poor_survey(bent: Figures, survey: Callable[..., list[Shot]]) -> None:
    shots = survey(bent, **{f"row{row}": {"sigma": 0.4} for row in range(5)})
    assert told(find(bent, shots)) == [("poor survey", "file may.csv", "1/1 1/2 1/3 2/1 2/2")]


def test_inner_faces_of_a_whole_file_are_one_cause(bent: Figures, survey: Callable[..., list[Shot]]) -> None:
    shots = survey(bent, **{f"row{row}": {"spacing_error": -1.2 - row / 20.0} for row in range(4)})
    cause = one(find(bent, shots))
    assert (cause.code, cause.subject, len(cause.structures)) == ("inner faces shot", "file may.csv", 4)


def record(number: str, step: str, crew: str, *, day: int = 4) -> Event:
    at = NOW.replace(day=day)
    return Event(
        id=f"{number} {step}", line="North", structure=number, step=step, crew=crew, happened_at=at,
        received_at=at,
    )  # fmt: skip


def test_three_reversed_in_a_row_without_records_are_one_run_of_their_file(
    bent: Figures, survey: Callable[..., list[Shot]]
) -> None:
    shots = survey(bent, **{f"row{row}": {"swapped": True} for row in (1, 2, 3)})
    cause = one(find(bent, shots))
    assert (cause.code, cause.structures) == ("faced back run", ("1/2", "1/3", "2/1"))


def test_two_reversed_in_a_row_are_two(bent: Figures, survey: Callable[..., list[Shot]]) -> None:
    shots = survey(bent, row1={"swapped": True}, row2={"swapped": True})
    assert [cause.code for cause in find(bent, shots)] == ["reversed single"] * 2


def test_the_day_is_named_when_it_fits_better_than_the_crews(
    bent: Figures, survey: Callable[..., list[Shot]]
) -> None:
    shots = survey(bent, **{f"row{row}": {"swapped": True} for row in (1, 2, 3)})
    numbers = ("1/1", "1/2", "1/3", "2/1", "2/2")
    events = [record(number, "framed", "Heron", day=5) for number in numbers]
    events += [record(n, "set", "Otter", day=7 if 0 < i < 4 else 6) for i, n in enumerate(numbers)]
    cause = one(find(bent, shots, events=events))
    assert cause.subject == "set on 2026-05-07, 1/2 to 2/1"


def pole(letter: str, **changes: Any) -> Pole:
    plain = Pole(line="North", structure="1/2", letter=letter, length_ft=70.0, pole_class="2")
    return replace(plain, **changes)


@pytest.mark.parametrize(
    ("poles", "words", "correctable"),
    [
        ([], "does not tell the legs apart", True),
        ([pole("A"), pole("B")], "only a photo with a known direction", True),
        ([pole("A", ground_wire=True), pole("B", ground_wire=False)], "ground wire on A", True),
        ([pole("A"), pole("B", pole_class="H1")], "legs of two classes", False),
        ([pole("A"), pole("B", length_ft=75.0)], "A 70 ft, B 75 ft", False),
    ],
)
def test_what_decides_between_labels_and_frame(
    bent: Figures,
    survey: Callable[..., list[Shot]],
    poles: list[Pole],
    words: str,
    correctable: bool,
) -> None:
    cause = one(find(bent, survey(bent, row1={"swapped": True}), poles=poles))
    assert words in cause.words
    assert (cause.correction is not None) == correctable


@pytest.mark.parametrize(
    ("steps", "moment"),
    [
        ((), "before the arms are drilled"),
        (("framed",), "before the pick"),
        (("framed", "set"), "before backfill is tamped"),
        (("framed", "set", "grounded"), "before wire"),
    ],
)
def test_the_cheapest_moment_still_open(
    bent: Figures, survey: Callable[..., list[Shot]], steps: tuple[str, ...], moment: str
) -> None:
    events = [record("1/2", step, "Heron") for step in steps]
    causes = find(bent, survey(bent, row1={"across": 10.0}), events=events)
    assert one(causes).moment == moment


def test_a_fault_of_the_survey_can_be_put_right_until_the_table_is_given_out(
    bent: Figures, survey: Callable[..., list[Shot]]
) -> None:
    cause = one(find(bent, survey(bent, row1={"letters": "A"})))
    assert cause.moment == "before the as-set table is given out"


@settings(max_examples=examples(40))
@given(data=st.data())
def test_frames_within_tolerance_never_have_a_cause(
    build: Callable[..., Figures], shoot: Callable[..., list[Shot]], data: st.DataObject
) -> None:
    figures = build(azimuth_deg=data.draw(st.floats(0, 359)), turn_deg=data.draw(st.floats(-60, 60)))
    shots = []
    for row in range(len(figures)):
        fault = data.draw(
            st.fixed_dictionaries(
                {
                    "rotation_deg": st.floats(-0.6, 0.6),
                    "along": st.floats(-0.15, 0.15),
                    "across": st.floats(-0.15, 0.15),
                    "spacing_error": st.floats(-0.12, 0.12),
                }
            )
        )
        shots += shoot(figures, row, **fault)
    assert find(figures, shots) == ()


@settings(max_examples=examples(40))
@given(azimuth=st.floats(0, 359), turn=st.floats(-60, 60), data=st.data())
def test_a_second_cause_says_what_it_waits_for_and_the_order_of_shots_does_not_matter(
    build: Callable[..., Figures],
    shoot: Callable[..., list[Shot]],
    azimuth: float,
    turn: float,
    data: st.DataObject,
) -> None:
    figures = build(azimuth_deg=azimuth, turn_deg=turn)
    shots = []
    for row in range(len(figures)):
        fault = data.draw(
            st.fixed_dictionaries(
                {},
                optional={
                    "rotation_deg": st.floats(-80, 80),
                    "along": st.floats(-30, 30),
                    "across": st.floats(-30, 30),
                    "swapped": st.booleans(),
                    "letters": st.sampled_from(["A", "B"]),
                },
            )
        )
        shots += [replace(shot, file=f"f{row // 3}.csv", row=row) for shot in shoot(figures, row, **fault)]
    causes = find(figures, shots)
    first = [cause for cause in causes if not any(each.startswith("seen as if ") for each in cause.evidence)]
    explained = [number for cause in first for number in cause.structures]
    assert len(explained) == len(set(explained))
    checks = judged(figures, shots)
    failed = {n for n, v in zip(figures.structures.number, checks.verdict, strict=True) if v is Verdict.FAIL}
    assert failed <= {number for cause in causes for number in cause.structures}
    assert np.all(np.diff([figures.structures.number.tolist().index(c.structures[0]) for c in causes]) >= 0)
    assert told(find(figures, shots[::-1])) == told(causes)
