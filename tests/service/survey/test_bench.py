"""The bench for shots: what is on it, what a person may say of a shot, and what that does to verdicts."""

from __future__ import annotations

import datetime as dt
import shutil
import uuid
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from crew_words import crew_file, not_surveyed

from linemap.answers.shots import OpenShot
from linemap.errors import Conflict, InputRefused, NotFound
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.survey.alike import alike_answer, pattern_like
from linemap.service.survey.bench import AskedOfShots, decide_shots, shots_changed
from linemap.service.survey.chosen_shot import ChosenShot
from linemap.service.survey.open_shots import open_shots_answer
from linemap.service.survey.red_marks import red_marks
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.database import Database, open_job

DAY = dt.date(2026, 5, 16)
AT = dt.datetime(2026, 5, 16, 9, 0, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
TWICE = "shots_2026-04-16.csv"


@pytest.fixture
def own(demo_job: Path, tmp_path: Path) -> Iterator[Database]:
    with open_job(shutil.copy(demo_job, tmp_path / "demo.linemap")) as database:
        yield database


def viewed(database: Database) -> JobView:
    return build_view(database, today=DAY)


def asked(*shots: ChosenShot, **other: Any) -> AskedOfShots:
    return AskedOfShots(
        **{
            "id": str(uuid.uuid4()),
            "what": "assign",
            "shots": shots,
            "who": " P. Chief ",
            "note": "field book p. 12",
            **other,
        }
    )


def on_bench(view: JobView, file: str, row: int) -> OpenShot:
    return next(each for each in open_shots_answer(view).shots if (each.file, each.row) == (file, row))


def test_what_the_demo_line_leaves_is_on_the_bench(demo_view: JobView) -> None:
    found = open_shots_answer(demo_view)
    assert found.count == 118 + len(demo_view.check_ins) == 118 + 7
    assert Counter(each.state for each in found.shots) == {"conflicting": 12, "no pole": 6, "unread": 1}
    (unread,) = [each for each in found.shots if each.state == "unread"]
    assert (unread.description, unread.words) == ("?", "no structure and pole can be read of it")
    assert (unread.near[0].structure, unread.near[0].words) == (
        "9/3",
        "490.68 ft off: 487.50 ft back, 55.75 ft right",
    )
    assert [each.words for each in found.shots if each.state == "no pole"] == [
        "a check shot",
        "a hub or an offset stake of 3/2",
        "an anchor or a guy of 3/2",
        "a hub or an offset stake of 5/5",
        "an anchor or a guy of 10/5",
        "a crossing",
    ]
    assert all(each.decision is None for each in found.shots)


def test_what_each_choice_would_give_stands_at_the_shot(demo_view: JobView) -> None:
    twice = [each for each in open_shots_answer(demo_view).shots if each.file == TWICE and each.pole == "B"]
    assert [(each.point, each.state, each.near[0].structure) for each in twice] == [
        ("5007", "conflicting", "3/5"),
        ("5008", "conflicting", "3/5"),
    ]
    (without_first,), (without_second,) = (each.without for each in twice)
    assert without_first.startswith(f"with point 5008 of {TWICE}: arm turned 26.5°")
    assert without_second.startswith(f"with point 5007 of {TWICE}: arm turned 0.0°")


def test_setting_one_of_two_shots_aside_gives_a_verdict_and_taking_it_back_none(own: Database) -> None:
    before = viewed(own)
    aside = asked(ChosenShot(file=TWICE, row=8), what="set aside", note="rod on the wrong pole")
    decisions, recorded = decide_shots(own, before, aside, at=AT)
    after = viewed(own)
    assert recorded
    told = shots_changed(before, after, decisions)
    assert [(each.structure, each.before, each.after) for each in told.changed] == [
        ("3/5", "cannot tell", "pass")
    ]
    assert told.words == [f"shots set aside, row 8 of {TWICE}"]
    shot = on_bench(after, TWICE, 8)
    assert (shot.state, shot.words) == ("set aside", "set aside: not used")
    assert shot.decision is not None
    assert shot.decision.words == "set aside by P. Chief, 2026-05-16: rod on the wrong pole"
    assert len(after.observed_shots) == len(before.observed_shots)
    back = asked(what="take back", decisions=(decisions[0].id,), note="")
    undone, _ = decide_shots(own, after, back, at=AT + dt.timedelta(minutes=1))
    again = viewed(own)
    assert [each.answer for each in again.decisions] == ["accepted", "withdrawn"]
    assert open_shots_answer(again).shots == open_shots_answer(before).shots
    assert shots_changed(before, again, undone).changed == []


def test_a_shot_that_says_nothing_becomes_the_pole_it_is_said_to_be(own: Database) -> None:
    before = viewed(own)
    chosen = ChosenShot(file="shots_2026-05-13.csv", row=38, structure="9-3", pole="B")
    decide_shots(own, before, asked(chosen), at=AT)
    after = viewed(own)
    (shot,) = [each for each in after.shots_by_structure[before.key(after.row("", "9/3"))] if each.row == 38]
    assert (shot.item, shot.pole, shot.description) == ("pole", "B", "?")
    assert shot.note.endswith("P. Chief")
    # it lies 490 ft off and 9/3 B has a shot of its own: said, and nothing is averaged
    assert on_bench(after, chosen.file, 38).state == "conflicting"
    assert before.observed_shots == after.observed_shots


def test_a_label_put_right_by_hand_is_as_good_as_by_the_cause(own: Database) -> None:
    before = viewed(own)
    shots = [
        ChosenShot(file="shots_2026-04-09.csv", row=row, structure="2/5", pole=pole)
        for row, pole in ((13, "A"), (14, "B"))
    ]
    decisions, _ = decide_shots(own, before, asked(*shots), at=AT)
    after = viewed(own)
    assert [each.subject for each in decisions] == [f"row {row} of shots_2026-04-09.csv" for row in (13, 14)]
    changed = shots_changed(before, after, decisions).changed
    assert [(each.structure, each.after) for each in changed] == [("2/4", "pass"), ("2/5", "pass")]
    assert not [cause for cause in after.causes if cause.code == "neighbour's label"]
    assert on_bench(after, shots[0].file, 13).state == "assigned"


def test_many_shots_that_become_the_same_are_one_decision(own: Database) -> None:
    view = viewed(own)
    many = [ChosenShot(file="shots_2026-05-13.csv", row=row, item="check") for row in range(35, 2, -1)]
    other = ChosenShot(file=TWICE, row=8, item="crossing")
    decisions, _ = decide_shots(own, view, asked(*many, other), at=AT)
    assert [each.correction["rows"] for each in decisions] == [[8], [*range(3, 36)]]
    assert len({each.id for each in decisions}) == 2
    assert decisions[1].subject.startswith("rows 3, 4, 5, 6, 7, 8, 9, 10 and 25 more (")
    after = viewed(own)
    assert sum(each.state == "assigned" for each in open_shots_answer(after).shots) == 34
    back = asked(what="take back", decisions=tuple(each.id for each in decisions))
    decide_shots(own, after, back, at=AT + dt.timedelta(minutes=1))
    assert open_shots_answer(viewed(own)).shots == open_shots_answer(view).shots


def test_what_is_asked_is_recorded_once_and_its_id_is_its_own(own: Database) -> None:
    view = viewed(own)
    aside = asked(ChosenShot(file=TWICE, row=8), what="set aside")
    assert decide_shots(own, view, aside, at=AT)[1]
    assert not decide_shots(own, viewed(own), aside, at=AT + dt.timedelta(minutes=5))[1]
    for other in (replace(aside, note="another"), replace(aside, shots=(ChosenShot(file=TWICE, row=7),))):
        with pytest.raises(Conflict, match="an identifier of its own"):
            decide_shots(own, viewed(own), other, at=AT)
    with pytest.raises(
        Conflict, match=r"row 8 .* is set aside by P\. Chief on 2026-05-16; take that back first"
    ):
        decide_shots(own, viewed(own), replace(aside, id=str(uuid.uuid4())), at=AT)
    with pytest.raises(Conflict, match="the job changed"):
        decide_shots(own, view, asked(ChosenShot(file=TWICE, row=7), what="set aside"), at=AT)
    back = asked(what="take back", decisions=(aside.id,))
    assert decide_shots(own, viewed(own), back, at=AT + dt.timedelta(minutes=6))[1]
    assert not decide_shots(own, viewed(own), back, at=AT)[1]
    with pytest.raises(NotFound, match="nothing to take back"):
        decide_shots(own, viewed(own), replace(back, id=str(uuid.uuid4())), at=AT)
    assert len(viewed(own).decisions) == 2


@pytest.mark.parametrize(
    ("shot", "other", "refusal", "words"),
    [
        ({}, {"who": "  "}, InputRefused, "names nobody"),
        ({}, {"what": "set aside", "note": " "}, InputRefused, "gives no reason"),
        ({"structure": "99/9", "pole": "A"}, {}, NotFound, "no structure 99/9"),
        ({"structure": "3/5", "pole": "C"}, {}, InputRefused, "is no pole of 3/5; use one of A, B"),
        ({"structure": "3/5"}, {}, InputRefused, "is not given, and a pole has one; name the pole"),
        ({"pole": "A"}, {}, InputRefused, "is not given, and a pole has one; name the structure"),
        (
            {"item": "check", "structure": "3/5"},
            {},
            InputRefused,
            "is no control point of the job; use one of CP-3",
        ),
        ({"item": "crossing", "structure": "3/5"}, {}, InputRefused, "does not belong to a crossing"),
        ({"item": "other"}, {}, InputRefused, "is nothing a shot can be assigned as"),
        ({"row": 999, "structure": "3/5", "pole": "A"}, {}, NotFound, "no shot in row 999"),
        ({}, {"shots": ()}, InputRefused, "names no shot and no decision"),
        ({}, {"what": "take back", "decisions": ("gone",)}, NotFound, "nothing was decided about shots"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_recorded(
    own: Database, shot: dict[str, Any], other: dict[str, Any], refusal: type[Exception], words: str
) -> None:
    view = viewed(own)
    chosen = ChosenShot(**{"file": TWICE, "row": 8, **shot})
    with pytest.raises(refusal, match=words):
        decide_shots(own, view, asked(chosen, **other), at=AT)
    assert viewed(own).decisions == ()


def test_a_check_shot_is_assigned_to_the_control_point_it_is_of(own: Database) -> None:
    shot = ChosenShot(file="check_ins_2026-04-16.csv", row=1, item="check", structure="cp 5")
    decide_shots(own, viewed(own), asked(shot), at=AT)
    (found,) = [each for each in viewed(own).check_ins if each.file == shot.file]
    assert (found.control, found.how) == ("CP-5", "assigned")
    # what lies miles from the point it is said to be of is no measurement of it
    decide_shots(own, viewed(own), asked(replace(shot, structure="CP-7")), at=AT + dt.timedelta(hours=1))
    view = viewed(own)
    assert not [each for each in view.check_ins if each.file == shot.file]
    (told,) = [each for each in view.ledger.beside("survey") if each.code == "check-in elsewhere"]
    assert "names CP-7" in told.words
    assert on_bench(view, shot.file, 1).words == "a check shot of CP-7"


def test_one_shot_named_twice_is_refused(own: Database) -> None:
    shot = ChosenShot(file=TWICE, row=8, structure="3/5", pole="A")
    with pytest.raises(InputRefused, match="named twice"):
        decide_shots(own, viewed(own), asked(shot, replace(shot, pole="B")), at=AT)


def test_the_paper_says_who_assigned_and_who_set_aside_and_why(own: Database) -> None:
    aside = asked(ChosenShot(file=TWICE, row=8), what="set aside", note="rod on the wrong pole")
    decide_shots(own, viewed(own), aside, at=AT)
    check = asked(ChosenShot(file="shots_2026-05-13.csv", row=38, item="check"))
    decide_shots(own, viewed(own), check, at=AT)
    sheet = red_marks(own, viewed(own))
    noted = {(each.file, each.row): each.decided for each in sheet.shots if each.decided}
    assert noted == {
        (TWICE, "8"): "set aside by P. Chief, 2026-05-16: rod on the wrong pole",
        ("shots_2026-05-13.csv", "38"): "assigned as a check shot by P. Chief, 2026-05-16: field book p. 12",
    }
    (structure,) = [each for each in sheet.structures if each.number == "3/5"]
    assert structure.verdict == "pass"
    assert structure.decided_by == "P. Chief, 2026-05-16"
    assert structure.decision == "shots set aside accepted: rod on the wrong pole"


def loaded(database: Database, path: Path) -> JobView:
    load_files(database, LoadRequest(paths=(path,), kind="shots"), now=AT)
    return viewed(database)


def test_a_crews_own_words_are_read_by_pattern_in_files_that_come_later_too(
    own: Database, tmp_path: Path
) -> None:
    before = viewed(own)
    bare = not_surveyed(before)[:8]
    view = loaded(own, crew_file(before, tmp_path, "crew_1.csv", bare[:4]))
    mine = [each for each in open_shots_answer(view).shots if each.file == "crew_1.csv"]
    assert {each.state for each in mine} == {"unread"}
    assert [(each.near[0].structure, each.near[0].pole) for each in mine] == [
        (number, pole) for number in bare[:4] for pole in "AB"
    ]
    for row, pole in ((2, "A"), (3, "B")):
        example = ChosenShot(file="crew_1.csv", row=row, structure=bare[0], pole=pole)
        pattern = pattern_like(view, example)
        assert str(pattern) == f"{'FOX' if pole == 'A' else 'OWL'} <structure> = pole {pole}"
        alike = alike_answer(view, pattern)
        assert alike.words == "4 shots would be read as a pole each, at most 0.02 ft off the design"
        assert [(each.structure, each.pole) for each in alike.shots] == [
            (number, pole) for number in bare[:4]
        ]
        decisions, _ = decide_shots(own, view, asked(pattern=str(pattern)), at=AT)
        view = viewed(own)
        assert decisions[0].subject == pattern.text
    assert all(str(view.checks.verdict[view.row("", number)]) != "not surveyed" for number in bare[:4])
    assert on_bench(view, "crew_1.csv", 2).decision is not None
    later = loaded(own, crew_file(before, tmp_path, "crew_2.csv", bare[4:]))
    assert all(str(later.checks.verdict[later.row("", number)]) != "not surveyed" for number in bare[4:])
    assert on_bench(later, "crew_2.csv", 2).state == "assigned"
    assert {shot.item for shot in later.observed_shots if shot.file.startswith("crew")} == {"other"}
    back = asked(what="take back", decisions=(decisions[0].id,))
    decide_shots(own, later, back, at=AT + dt.timedelta(minutes=1))
    again = viewed(own)
    assert on_bench(again, "crew_2.csv", 3).state == "unread"
    assert on_bench(again, "crew_2.csv", 2).state == "assigned"


@pytest.mark.parametrize(
    ("pattern", "words"),
    [
        ("FOX", "names no structure"),
        ("FOX <structure> = tree", "nothing a shot can be of"),
        ("FOX <structure> = pole A", "reads no shot that nothing else reads"),
    ],
)
def test_a_pattern_that_says_nothing_is_refused(own: Database, pattern: str, words: str) -> None:
    with pytest.raises(InputRefused, match=words):
        decide_shots(own, viewed(own), asked(pattern=pattern), at=AT)
    assert viewed(own).decisions == ()


def test_a_description_that_does_not_show_the_structure_is_like_no_other(own: Database) -> None:
    example = ChosenShot(file="shots_2026-05-13.csv", row=38, structure="9/3", pole="B")
    with pytest.raises(InputRefused, match="does not show structure 9/3"):
        pattern_like(viewed(own), example)


def test_of_two_files_of_one_name_the_point_tells_which_shot_is_meant(own: Database, tmp_path: Path) -> None:
    view = viewed(own)
    first, second = not_surveyed(view)[:2]
    for number in (first, second):
        folder = tmp_path / number.replace("/", "-")
        folder.mkdir()
        path = crew_file(view, folder, "crew.csv", [number])
        if number == second:
            path.write_text(
                path.read_text("utf-8").replace("\n1,", "\n11,").replace("\n2,", "\n12,"), "utf-8"
            )
        view = loaded(own, path)
    mine = [each for each in open_shots_answer(view).shots if each.file == "crew.csv"]
    assert [(each.row, each.point, each.near[0].structure) for each in mine] == [
        (2, "1", first), (3, "2", first), (2, "11", second), (3, "12", second),
    ]  # fmt: skip
    aside = asked(ChosenShot(file="crew.csv", row=2), what="set aside")
    with pytest.raises(
        InputRefused, match="is the row of 2 shots, of files of one name; name the point: 1, 11"
    ):
        decide_shots(own, view, aside, at=AT)
    shots = [ChosenShot(file="crew.csv", row=2, point=point) for point in ("1", "11")]
    decisions, _ = decide_shots(own, view, replace(aside, shots=tuple(shots[:1])), at=AT)
    assert decisions[0].subject == "row 2 of crew.csv, point 1"
    view = viewed(own)
    assert not decide_shots(own, view, replace(aside, shots=tuple(shots[:1])), at=AT)[1]
    named = replace(shots[1], structure=second, pole="A")
    decide_shots(own, view, asked(named), at=AT + dt.timedelta(minutes=1))
    states = {
        each.point: each.state for each in open_shots_answer(viewed(own)).shots if each.file == "crew.csv"
    }
    assert states == {"1": "set aside", "2": "unread", "11": "assigned", "12": "unread"}
