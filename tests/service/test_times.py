"""Every list and declaration as of a day and as known by a day: what was known stays what was known."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from linemap.domain.kind.kind import Code
from linemap.domain.kind.when import When
from linemap.domain.record.person import Audience
from linemap.domain.record.workflow import WORKFLOWS
from linemap.errors import InputRefused, Severity
from linemap.service.files.edit import Signed, apply_undo, keep_change
from linemap.service.files.load_report import LoadRequest
from linemap.service.files.review import load_files
from linemap.service.job.job import create_job, declare
from linemap.service.people.redact import redact_view
from linemap.service.progress.progress import Progress, progress_of
from linemap.service.progress.progress_words import plan_sentence
from linemap.service.view.build import build_view
from linemap.service.view.view import JobView
from linemap.store.changes import list_changes
from linemap.store.database import Database, open_job
from linemap.store.files import standing_problems

CENTRELINE = "PI,Northing,Easting\nPOB,900000,2250000\nPOE,905000,2250000\n"
STRUCTURES = (
    "Structure,Northing,Easting,Pole Spacing,Type\n1/1,900000,2250000,12.5,T\n1/2,901000,2250000,12.5,T\n"
)
#: The zone in which the job is worked: in UTC every evening is the next day.
ZONE = dt.timezone(dt.timedelta(hours=-7))
Give = Callable[[Database, Path, dt.datetime, dt.date | None], None]


def day(number: int) -> dt.date:
    return dt.date(2026, 5, number)


def evening(number: int) -> dt.datetime:
    return dt.datetime(2026, 5, number, 22, tzinfo=ZONE)


def given(kind: Code, text: str, **more: object) -> Give:
    """Load a file of a list."""

    def give(database: Database, folder: Path, now: dt.datetime, true_from: dt.date | None) -> None:
        path = folder / f"{kind}.csv"
        path.write_text(text, encoding="utf-8")
        request = LoadRequest(paths=(path,), kind=kind, true_from=true_from, **more)  # type: ignore[arg-type]
        removes = ["holds", "structures", "types", "framing", "centreline"]
        load_files(database, request, now=now, removes=removes)

    return give


def declared(**texts: str | list[str]) -> Give:
    """Declare something of the job."""

    def give(database: Database, folder: Path, now: dt.datetime, true_from: dt.date | None) -> None:
        declare(database, texts, now=now, true_from=true_from)

    return give


HOLD = "Hold,Activities,Structures,Reason\n{0},dig,1/1,wet\n"
TICKET = "Ticket,Structures,Expires\n{0},1/1,2026-06-30\n"
RECEIPT = "Item,Received,Received On\n{0},4,2026-05-02\n"
TOLERANCE = "name,value,unit,source\nspacing,{0},ft,4.3\n"
TYPE = "Type,Description,Weight\nT,{0},1\n"
FEATURE = "Layer,Name,Easting,Northing\nroad,{0},2250100,900100\n"
CONTROL = "Control Point,Northing,Easting,Elev\n{0},900100,2250100,3900\n"
CROSSING = "What,Back Structure,Ahead Structure,True Distance\n{0},1/1,1/2,500\n"
PLAN = "Step,Revision,Frozen on,Week,Planned\nset,{0},2026-05-02,2026-05-04,{1}\n"


def spacing(view: JobView) -> object:
    return view.tolerances.spacing.value


#: Name -> what is given first, second, third, what shows it, and what that shows before and after each.
CASES: Mapping[str, tuple[Give, Give, Give, Callable[[JobView], object], tuple[object, ...]]] = {
    "holds": (
        given("holds", HOLD.format("H-1")),
        given("holds", HOLD.format("H-2")),
        given("holds", HOLD.format("H-3"), ends=frozenset({"holds"})),
        lambda view: [hold.id for hold in view.holds],
        ([], ["H-1"], ["H-1", "H-2"], ["H-3"]),
    ),
    "tickets": (
        given("tickets", TICKET.format("L-1")),
        given("tickets", TICKET.format("L-2")),
        given("tickets", TICKET.format("L-3")),
        lambda view: [ticket.number for ticket in view.tickets],
        ([], ["L-1"], ["L-1", "L-2"], ["L-1", "L-2", "L-3"]),
    ),
    "receipts": (
        given("receipts", RECEIPT.format("pole")),
        given("receipts", RECEIPT.format("brace")),
        given("receipts", RECEIPT.format("arm")),
        lambda view: [receipt.item for receipt in view.receipts],
        ([], ["pole"], ["pole", "brace"], ["pole", "brace", "arm"]),
    ),
    "tolerances": (
        given("tolerances", TOLERANCE.format("0.1")),
        given("tolerances", TOLERANCE.format("0.2")),
        given("tolerances", TOLERANCE.format("0.3")),
        spacing,
        (0.2, 0.1, 0.2, 0.3),
    ),
    "types": (
        given("types", TYPE.format("one")),
        given("types", TYPE.format("two")),
        given("types", TYPE.format("three")),
        lambda view: [each.words for each in view.types.values()],
        ([], ["one"], ["two"], ["three"]),
    ),
    "context": (
        given("context", FEATURE.format("A road")),
        given("context", FEATURE.format("B road")),
        given("context", FEATURE.format("C road")),
        lambda view: [each.name for each in view.context],
        ([], ["A road"], ["B road"], ["C road"]),
    ),
    "control": (
        given("control", CONTROL.format("CP-1")),
        given("control", CONTROL.format("CP-2")),
        given("control", CONTROL.format("CP-3")),
        lambda view: [each.name for each in view.control],
        ([], ["CP-1"], ["CP-1", "CP-2"], ["CP-1", "CP-2", "CP-3"]),
    ),
    "crossings": (
        given("crossings", CROSSING.format("road")),
        given("crossings", CROSSING.format("river")),
        given("crossings", CROSSING.format("rail")),
        lambda view: [each.what for each in view.crossings],
        ([], ["road"], ["river"], ["rail"]),
    ),
    "structures": (
        given("structures", STRUCTURES + "1/3,902000,2250000,12.5,T\n"),
        given("structures", STRUCTURES + "1/4,903000,2250000,12.5,T\n"),
        given("structures", STRUCTURES + "1/5,904000,2250000,12.5,T\n"),
        lambda view: [number for _, number in view.row_of],
        (["1/1", "1/2"], ["1/1", "1/2", "1/3"], ["1/1", "1/2", "1/4"], ["1/1", "1/2", "1/5"]),
    ),
    "centreline": (
        given("centreline", CENTRELINE.replace("POE,905000", "POE,906000")),
        given("centreline", CENTRELINE.replace("POE,905000", "POE,907000")),
        given("centreline", CENTRELINE.replace("POE,905000", "POE,908000")),
        lambda view: float(view.figures.lines[0].centreline.northing[-1]),
        (905000.0, 906000.0, 907000.0, 908000.0),
    ),
    "factor": (
        declared(combined_factor="0.9991"),
        declared(combined_factor="0.9992"),
        declared(combined_factor="0.9993"),
        lambda view: float(view.figures.combined_factor[0]),
        (0.9995, 0.9991, 0.9992, 0.9993),
    ),
    "workflow": (
        declared(workflow="framed aloft"),
        declared(workflow="framed on ground"),
        declared(workflow="framed aloft"),
        lambda view: "aloft" if view.workflow == WORKFLOWS["framed aloft"] else "ground",
        ("ground", "aloft", "ground", "aloft"),
    ),
    "evidence": (
        declared(evidence=["set=photo: spec 1"]),
        declared(evidence=["set=level: spec 2"]),
        declared(evidence=["set=depth: spec 3"]),
        lambda view: view.evidence_rules["set"].source[:6],
        ("common", "spec 1", "spec 2", "spec 3"),
    ),
    "declared tolerance": (
        declared(tolerance=["spacing=0.1 ft: spec 1"]),
        declared(tolerance=["spacing=0.2 ft: spec 2"]),
        declared(tolerance=["spacing=0.3 ft: spec 3"]),
        spacing,
        (0.2, 0.1, 0.2, 0.3),
    ),
}


@pytest.fixture
def job(target: str, tmp_path: Path) -> Database:
    """A job that began on 1 May with one line of two structures."""
    create_job(target, {"crs": "EPSG:6515", "line": "North", "combined_factor": "0.9995"}, now=evening(1))
    database = open_job(target)
    for kind, text in (("centreline", CENTRELINE), ("structures", STRUCTURES)):
        given(kind, text)(database, tmp_path, evening(1), None)  # type: ignore[arg-type]
    return database


#: Both give the same list.
APART = {"declared tolerance"}


@pytest.mark.parametrize("names", [CASES.keys() - APART, APART], ids=["all", "declared tolerance"])
def test_what_was_true_and_known_on_a_day_stays_so(job: Database, tmp_path: Path, names: set[str]) -> None:
    """The first comes on the 5th, the second on the 10th, the third on the 15th, true from the 7th."""
    cases = {name: case for name, case in CASES.items() if name in names}

    def give(place: int, now: dt.datetime, true_from: dt.date | None = None) -> None:
        for case in cases.values():
            case[place](job, tmp_path, now, true_from)  # type: ignore[operator]

    def at(**days: dt.date) -> dict[str, object]:
        view = build_view(job, today=day(20), when=When(**days))
        return {name: shown(view) for name, (_, _, _, shown, _) in cases.items()}

    before, one, two, three = ({name: case[4][place] for name, case in cases.items()} for place in range(4))
    give(0, evening(5))
    give(1, evening(10))
    for ask in ("as_of", "known_by"):
        for number, stood in zip((3, 4, 5, 9, 10, 19), (before, before, one, one, two, two), strict=True):
            assert at(**{ask: day(number)}) == stood, (ask, number)
    give(2, evening(15), day(7))
    assert at() == three
    for number, stood in zip((3, 6, 7, 12), (before, one, three, three), strict=True):
        assert at(as_of=day(number)) == stood, number
    for number, stood in zip((3, 5, 14, 15), (before, one, two, three), strict=True):
        assert at(known_by=day(number)) == stood, number
    assert at(as_of=day(8), known_by=day(14)) == one
    assert at(as_of=day(8), known_by=day(15)) == three
    job.close()


def test_a_plan_counts_as_known_from_the_day_it_came(job: Database, tmp_path: Path) -> None:
    """One that says it was frozen earlier takes no slip away, then or now: the first stays named."""
    given("plan", PLAN.format("0", 2))(job, tmp_path, evening(2), None)
    given("plan", PLAN.format("1", 1))(job, tmp_path, evening(10), None)
    slip = "0 of 2 set, 2 planned by Sat 9 May 2026: 2 behind the baseline plan (revision 0"
    beside = "; 1 behind revision 1, frozen 2026-05-02"

    def at(**days: dt.date) -> Progress:
        return progress_of(build_view(job, today=day(9), when=When(**days)))

    assert slip in plan_sentence(at(known_by=day(9)))
    assert beside not in plan_sentence(at(known_by=day(9)))
    assert not any("came in" in words for words in at(known_by=day(9)).taken)
    now = at()
    assert slip in plan_sentence(now)
    assert beside in plan_sentence(now)
    (words,) = [each for each in now.taken if "came in" in each]
    assert words.startswith("the plan of set, revision 1, frozen 2026-05-02, came in 2026-05-10")
    with job.reading() as connection:
        (noted,) = [each for kind, each in standing_problems(connection) if kind == "plan"]
    assert (noted.column, noted.value, noted.severity) == ("frozen on", "2026-05-02", Severity.NOTED)
    assert "revision 1 of set comes in on 2026-05-10" in noted.reason
    declare(job, {"baseline": "1"}, now=evening(11))
    assert "1 behind the baseline plan (revision 1" in plan_sentence(at())
    assert slip in plan_sentence(at(known_by=day(10)))
    job.close()


def test_days_before_the_job_began_have_its_first_lists(job: Database, tmp_path: Path) -> None:
    """Lists of a job that is older than its database: nothing older is known than what came first."""
    view = build_view(job, today=day(20), when=When(as_of=dt.date(2026, 3, 1), known_by=dt.date(2026, 3, 2)))
    assert len(view.figures) == 2
    assert (view.as_of, view.when.words) == (dt.date(2026, 3, 1), "as of 2026-03-01, as known by 2026-03-02")
    job.close()


def test_what_is_true_only_from_a_later_day_is_refused(job: Database, tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match=r"2026-05-06.*lies ahead"):
        given("holds", HOLD.format("H-1"))(job, tmp_path, evening(5), day(6))
    with pytest.raises(InputRefused, match="is over"):
        declare(job, {"source": "A"}, now=evening(5), when=When(as_of=day(2)))
    job.close()


def test_what_is_restricted_stays_so_at_another_time(job: Database, tmp_path: Path) -> None:
    secret = "Hold,Activities,Structures,Reason,Restricted\nH-1,dig,1/1,osprey,yes\n"
    given("holds", secret)(job, tmp_path, evening(5), None)
    given("holds", HOLD.format("H-1"))(job, tmp_path, evening(10), None)
    then = build_view(job, today=day(20), when=When(known_by=day(6)))
    assert then.holds[0].reason == "osprey"
    crew = redact_view(then, Audience.CREW)
    assert (crew.when, [hold.id for hold in crew.holds]) == (then.when, ["H-1"])
    assert "osprey" not in crew.holds[0].reason
    job.close()


def test_of_days_before_the_job_the_first_of_each_list_answers(job: Database, tmp_path: Path) -> None:
    """What came later on its first day was not known before it, nor true: a hold, a plan, a factor."""
    morning = evening(1) + dt.timedelta(minutes=5)
    for number, minute in enumerate((morning, morning + dt.timedelta(minutes=5))):
        given("holds", HOLD.format(f"H-{number}"))(job, tmp_path, minute, None)
        given("plan", PLAN.format(number, 2 - number).replace("05-02", "04-02"))(job, tmp_path, minute, None)
    declare(job, {"combined_factor": "0.9991", "workflow": "framed aloft"}, now=morning)
    before = dt.date(2026, 4, 20)
    for when in (When(as_of=before), When(known_by=before)):
        view = build_view(job, today=day(9), when=when)
        assert [hold.id for hold in view.holds] == ["H-0"]
        assert view.figures.combined_factor[0] == 0.9995
        assert view.workflow == WORKFLOWS["framed aloft"], "the first that was declared of it"
    assert [plan.revision for plan in view.baselines] == ["0"]
    now = build_view(job, today=day(9), when=When(known_by=day(1)))
    assert [hold.id for hold in now.holds] == ["H-0", "H-1"]
    assert now.figures.combined_factor[0] == 0.9991
    with job.reading() as connection:
        noted = [each.reason for kind, each in standing_problems(connection) if kind == "plan"]
    assert [words.split(" of ")[0] for words in noted] == ["revision 1"]
    (late,) = [words for words in progress_of(now).taken if "came in" in words]
    assert "revision 1" in late
    job.close()


SHOTS = "1,900000.1,2249993.8,100,STR 1/1 A\n2,900000.1,2250006.2,100,STR 1/1 B\n"


def undo_last(database: Database, now: dt.datetime) -> None:
    with database.writing() as connection:
        last = list_changes(connection)[-1].change
        applied = apply_undo(connection, last.id, now=now)
        keep_change(connection, "undo", applied, Signed(who="Otter"), now=now, undoes=last.id)


def test_what_an_undone_load_brought_was_known_until_then(job: Database, tmp_path: Path) -> None:
    """It was a mistake: it was never true, as is known now, and it was believed until it was undone."""
    given("holds", HOLD.format("H-1"))(job, tmp_path, evening(5), None)
    given("holds", HOLD.format("H-2"))(job, tmp_path, evening(10), None)
    undo_last(job, evening(12))
    given("shots", SHOTS)(job, tmp_path, evening(14), None)
    undo_last(job, evening(16))

    def at(**days: dt.date) -> tuple[list[str], int]:
        view = build_view(job, today=day(20), when=When(**days))
        return [hold.id for hold in view.holds], len(view.observed_shots)

    assert at() == (["H-1"], 0)
    assert [at(as_of=day(number)) for number in (5, 11, 15)] == [(["H-1"], 0)] * 3
    assert at(known_by=day(11)) == (["H-1", "H-2"], 0)
    assert at(known_by=day(13)) == (["H-1"], 0)
    assert at(known_by=day(15)) == (["H-1"], 2)
    assert at(known_by=day(16)) == (["H-1"], 0)
    job.close()
