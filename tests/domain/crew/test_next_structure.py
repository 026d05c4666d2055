"""Every structure is workable, refused with one sentence, or done; and holds only ever take away."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.crew.hold import Hold
from linemap.domain.crew.material import Shortage
from linemap.domain.crew.next_structure import Next, next_structures, step_of_crew
from linemap.domain.crew.refusal import Asked, Site, stop_words, stopped_steps
from linemap.domain.crew.ticket import Ticket
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.record.claim import Claim
from linemap.domain.record.punch import PunchEntry, punch_items
from linemap.domain.record.status import StepState, StructureStatus
from linemap.domain.record.workflow import FRAMED_ALOFT, FRAMED_ON_GROUND, Step, Workflow

DAY = date(2026, 5, 15)
NOW = datetime(2026, 5, 15, 12, tzinfo=UTC)
STATE = StepState(NOW - timedelta(days=3), "Otter", "e", "")


def claimed(crew: str, hours: float, *, received_at: datetime = NOW - timedelta(hours=1)) -> Claim:
    return Claim(
        id=f"{crew}{hours}",
        line="N",
        structure="13/5",
        crew=crew,
        made_at=NOW - timedelta(hours=1),
        expires_at=NOW + timedelta(hours=hours),
        received_at=received_at,
    )


def status(*done: str, begun: dict[str, str] | None = None) -> StructureStatus:
    return StructureStatus(
        done=dict.fromkeys(done, STATE),
        begun={code: STATE._replace(poles=poles) for code, poles in (begun or {}).items()},
        stage="",
        findings=(),
    )


SPOTTED = status("staked", "spotted")


def site(number: str = "13/5", **changes: object) -> Site:
    values = {"line": "N", "number": number, "status": SPOTTED, "travel_m": 100.0, **changes}
    return Site(**values)  # type: ignore[arg-type]


def ask(step: str = "framed", *, workflow: Workflow = FRAMED_ON_GROUND, crew: str = "Heron") -> Asked:
    return Asked(
        crew=crew,
        step=step,
        workflow=workflow,
        on=DAY,
        now=NOW,
        tickets_kept=True,
        recorded_by={"spotted": "Otter"},
    )


def sentence(one: Site, asked: Asked | None = None) -> str:
    found = next_structures([one], asked or ask())
    assert not found.workable
    return found.refused[0].sentence


def test_missing_poles_are_told_with_their_day_and_who_releases_them() -> None:
    short = Shortage(
        item="H1-75 pole", needed=3, received=1, due=date(2026, 6, 12), released_by="material yard"
    )
    held = Hold(id="HM-1", structures=("13/2",), activities=("framed", "set"))
    assert sentence(site("13/2", shortages=(short,), holds=(held,))) == (
        "13/2: two H1-75 poles missing, due 12 June 2026; released by material yard; also hold HM-1"
    )


def test_work_on_a_stake_from_before_a_move_waits_until_it_is_staked_anew() -> None:
    values = {
        "step": "spotted", "on": date(2026, 5, 6), "revision": "Rev C", "distance": 8.0, "unit": "ft",
        "limit": None, "placed": ("staked", "spotted"),
    }  # fmt: skip
    moved = Finding(line="N", structure="15/2", code="moved since", values=values)
    assert sentence(site("15/2", stops=(moved,))) == (
        "15/2: hub is from before the move of 8.00 ft: restake (spotted recorded 6 May 2026, then Rev C: "
        "moved 8.00 ft; "
        "what stands there is from before the move, stake it anew); to be recorded by the crew that stakes"
    )
    restaked = site("15/2", status=status(), stops=(moved,))
    assert next_structures([restaked], ask("staked")).workable


def test_an_anchor_on_the_wrong_side_stops_guys_and_what_is_built_on_them_alone() -> None:
    values = {
        "guy": "back guy G1", "value": 180.0, "sigma": 0.1, "side": "left", "origin": "the centre",
        "reason": "the line turns left, so the bisector guy belongs right", "limit": 5.0, "limit_unit": "deg",
    }  # fmt: skip
    wrong = Finding(line="N", structure="15/2", code="anchor wrong side", values=values)
    strung = Step(code="strung", words="strung", requires=("blocks hung", "Guys and anchors"))
    guys = Step(code="Guys and anchors", words="anchors and guys", requires=("set",))
    named = [step for step in FRAMED_ON_GROUND.steps if step.code != "guyed"]
    workflow = Workflow(steps=(*named, guys, strung))
    assert stopped_steps(wrong, FRAMED_ON_GROUND) == ("guyed",)
    assert stopped_steps(wrong, workflow) == ("Guys and anchors", "strung")
    assert stopped_steps(replace(wrong, weight=Severity.UNSURE), workflow) == ()
    done = status("staked", "spotted", "dug", "framed", "set")
    ticket = Ticket(number="LT-1", structures=("15/2",), valid_from=DAY, expires=DAY, covers_anchors=True)
    stand = site("15/2", stops=(wrong,), status=done, tickets=(ticket,))
    (refused,) = next_structures([stand], ask("guyed")).refused
    assert refused.reason == f"{stop_words(wrong)}; to be recorded by the crew that sets anchors"
    assert refused.reason.startswith("anchor on the wrong side: set it anew and have it shot (back guy G1: ")
    assert next_structures([stand], ask("inspected")).workable


def test_a_restricted_hold_is_told_without_its_reason() -> None:
    nest = Hold(
        id="HN-1", structures=("14/2",), to_date=date(2026, 8, 15), reason="nest within 660 ft",
        restricted=True, release_by="environmental lead",
    )  # fmt: skip
    assert sentence(site("14/2", holds=(nest,))) == (
        "14/2: held until 15 August 2026 (HN-1); released by environmental lead"
    )
    kind = replace(nest, restricted=False, reason="hold: environmental")
    assert "(HN-1: environmental)" in sentence(site("14/2", holds=(kind,)))
    assert "(HN-1: nest within 660 ft)" in sentence(site("14/2", holds=(replace(nest, restricted=False),)))


def test_a_condition_goes_with_a_workable_structure() -> None:
    monitor = Hold(
        id="HN-2", structures=("14/1",), condition="monitor on site", reason="nest", restricted=True,
        to_date=date(2026, 8, 15), release_by="environmental lead",
    )  # fmt: skip
    (found,) = next_structures([site("14/1", holds=(monitor,), material_known=True)], ask()).workable
    assert found.conditions == (
        "framed only with monitor on site, until 15 August 2026 (HN-2); released by environmental lead",
    )
    assert found.why[-1] == "workable by the records as of 15 May 2026"


EXPIRED = Ticket(
    number="LT-45",
    structures=("9/2",),
    expires=date(2026, 5, 1),
    covers_anchors=True,
    renewed_by="contractor",
)


@pytest.mark.parametrize(("step", "done"), [("dug", ("staked",)), ("guyed", ("set",))])
def test_a_ticket_that_expired_14_days_ago_stops_digging_and_anchors(
    step: str, done: tuple[str, ...]
) -> None:
    assert sentence(site("9/2", status=status(*done), tickets=(EXPIRED,)), ask(step)) == (
        "9/2: locate ticket LT-45 expired 1 May 2026, 14 days ago; released by contractor"
    )


def test_an_expired_ticket_does_not_stop_framing() -> None:
    assert next_structures([site("9/2", tickets=(EXPIRED,))], ask()).workable


@pytest.mark.parametrize(
    ("ticket", "words"),
    [
        (None, "no locate ticket covers it as of 15 May 2026"),
        (replace(EXPIRED, expires=None), "has no last day"),
        (replace(EXPIRED, expires=date(2026, 6, 12), valid_from=date(2026, 5, 18)), "begins 18 May 2026"),
        (replace(EXPIRED, expires=date(2026, 6, 12), responses="gas pending"), "waits for answers"),
        (replace(EXPIRED, expires=date(2026, 6, 12), covers_anchors=False), "does not cover the anchors"),
    ],
)
def test_why_a_ticket_serves_no_anchor(ticket: Ticket | None, words: str) -> None:
    tickets = () if ticket is None else (ticket,)
    assert words in sentence(site("9/2", status=status("set"), tickets=tickets), ask("guyed"))


def test_without_any_tickets_in_the_job_their_absence_is_a_condition() -> None:
    (found,) = next_structures(
        [site(status=status("staked"))], replace(ask("dug"), tickets_kept=False)
    ).workable
    assert "no locate tickets in the job: ask for the locate" in found.conditions[0]


def test_a_ticket_about_to_end_is_told() -> None:
    soon = replace(EXPIRED, expires=date(2026, 5, 17))
    (found,) = next_structures([site(status=status("staked"), tickets=(soon,))], ask("dug")).workable
    assert found.conditions == ("locate ticket LT-45 ends 17 May 2026",)


def test_a_missing_step_names_the_crew_that_records_it() -> None:
    assert sentence(site("17/2", status=status("staked"))) == (
        "17/2: spotted is not on record as of 15 May 2026; to be recorded by Otter"
    )
    half = status("staked", begun={"spotted": "A"})
    assert "not on record, only for pole A" in sentence(site("17/2", status=half))


def test_a_structure_with_one_pole_set_is_not_done_and_says_what_is_open() -> None:
    half = status("staked", "spotted", "dug", "framed", begun={"set": "A"})
    found = next_structures([site("8/4", status=half)], ask("set"))
    assert found.done == ()
    assert "set for pole A only: the rest is open" in found.workable[0].why


def test_the_order_of_the_work_is_a_setting() -> None:
    sites = [site("13/5"), site("12/4", status=status("staked", "spotted", "dug", "set"))]
    ground = next_structures(sites, ask())
    aloft = next_structures(sites, ask(workflow=FRAMED_ALOFT))
    assert [one.site.number for one in ground.workable] == ["12/4", "13/5"]
    assert [one.site.number for one in aloft.workable] == ["12/4"]
    assert aloft.refused[0].sentence.startswith("13/5: set is not on record")


def test_a_live_claim_of_another_crew_refuses_and_an_expired_one_does_not() -> None:
    assert sentence(site(claims=(claimed("Raven", 4.0),))) == (
        "13/5: claimed by Raven until 15 May 2026 16:00; released by Raven"
    )
    assert next_structures([site(claims=(claimed("Raven", -0.5),))], ask()).workable
    assert next_structures([site(claims=(claimed("heron", 4.0),))], ask()).workable


def test_a_claim_made_without_a_signal_says_so() -> None:
    late = claimed("Raven", 4.0, received_at=NOW)
    assert "until 15 May 2026 16:00, without a signal; released by Raven" in sentence(site(claims=(late,)))


def test_two_crews_that_claim_one_structure_are_both_told() -> None:
    claims = (claimed("Heron", 4.0), claimed("Raven", 2.0))
    for crew, other in (("Heron", "Raven until 14:00"), ("Raven", "Heron until 16:00")):
        (found,) = next_structures([site(claims=claims)], ask(crew=crew)).workable
        assert f"also claimed by {other}: settle it between you" in found.conditions


def test_the_newest_claim_of_a_crew_counts() -> None:
    short = replace(claimed("raven", 0.0), made_at=NOW - timedelta(minutes=30))
    found = next_structures([site(claims=(claimed("Raven", 1.0), claimed("Otter", -0.5)))], ask())
    assert found.refused[0].reason.startswith("claimed by Raven")
    ended = next_structures([site(claims=(claimed("Raven", 1.0), short))], ask())
    assert [one.site.number for one in ended.workable] == ["13/5"]


def test_a_rejection_and_open_punch_items_are_told() -> None:
    said = {"step": "framed", "poles": (), "on": date(2026, 5, 14), "who": "Four Tines"}
    found = Finding(line="N", structure="13/5", code="rejected", values=said)
    entry = PunchEntry(item="P-9", structure="13/5", action="opened", on=DAY, text="loose brace")
    one = site(status=replace(SPOTTED, findings=(found,)), punch=punch_items([entry]))
    (workable,) = next_structures([one], ask()).workable
    assert found.words in workable.why
    assert "punch item P-9 at 13/5: loose brace (open)" in workable.conditions


def test_what_has_no_known_way_comes_last_in_the_order_of_the_line() -> None:
    sites = [
        site("9/9", travel_m=math.inf, along_m=9.0),
        site("9/8", travel_m=math.inf, along_m=5.0),
        site("9/7"),
    ]
    assert [one.site.number for one in next_structures(sites, ask()).workable] == ["9/7", "9/8", "9/9"]


def test_an_unknown_step_is_refused() -> None:
    with pytest.raises(ValueError, match="'lunch' is no step"):
        next_structures([], ask("lunch"))


def test_a_crew_does_what_it_did_at_most_structures() -> None:
    done = [("blocks hung", "Heron"), ("framed", "Heron"), ("framed", "Heron"), ("dug", "Badger")]
    assert step_of_crew("heron", done, FRAMED_ON_GROUND) == "framed"
    assert step_of_crew("Heron", done[:2], FRAMED_ON_GROUND) == "framed"
    assert step_of_crew("Raven", done, FRAMED_ON_GROUND) is None
    assert step_of_crew("Heron", [("lunch", "Heron")], FRAMED_ON_GROUND) is None


CODES = [step.code for step in FRAMED_ON_GROUND.steps]
NUMBERS = [f"{mile}/{number}" for mile in range(1, 4) for number in range(1, 5)]
HOLDS = st.builds(
    Hold,
    id=st.sampled_from(["H1", "H2"]),
    activities=st.sampled_from([("all",), ("framed",), ("set", "dug"), ("entry",), ("wire",)]),
    condition=st.sampled_from(["", "monitor on site"]),
    to_date=st.none() | st.just(date(2026, 8, 15)),
    release_by=st.sampled_from(["", "environmental lead"]),
)
STATUSES = st.builds(
    lambda done, poles: status(*done, begun={code: "A" for code in poles if code not in done}),
    st.sets(st.sampled_from(CODES)),
    st.sets(st.sampled_from(["set", "dug"])),
)
SITES = st.builds(
    site,
    st.sampled_from(NUMBERS),
    line=st.sampled_from(["N", "S"]),
    status=STATUSES,
    holds=st.lists(HOLDS, max_size=2).map(tuple),
    tickets=st.sampled_from([(), (EXPIRED,), (replace(EXPIRED, expires=date(2026, 6, 12)),)]),
    shortages=st.sampled_from([(), (Shortage(item="75-2 pole", needed=2, received=0),)]),
    claims=st.sampled_from([(), (claimed("Raven", 2.0),), (claimed("Heron", 2.0), claimed("Raven", 1.0))]),
    travel_m=st.sampled_from([0.0, 50.0, math.inf]),
    along_m=st.floats(0.0, 99.0),
)
LISTS = st.lists(SITES, max_size=8, unique_by=lambda one: (one.line, one.number))
ASKED = st.builds(ask, st.sampled_from(CODES), workflow=st.sampled_from([FRAMED_ON_GROUND, FRAMED_ALOFT]))


def keys(found: Next) -> list[tuple[str, str]]:
    judged = [one.site for one in (*found.workable, *found.refused)]
    return [(one.line, one.number) for one in (*judged, *found.done)]


@settings(max_examples=examples(40))
@given(sites=LISTS, asked=ASKED)
def test_every_structure_is_workable_refused_or_done_exactly_once(
    sites: Sequence[Site], asked: Asked
) -> None:
    found = next_structures(sites, asked)
    assert sorted(keys(found)) == sorted((one.line, one.number) for one in sites)
    for one in found.refused:
        assert one.sentence.startswith(f"{one.site.number}: ")
        assert any(
            words in one.sentence for words in ("; released by ", "; to be recorded by ", "; who releases")
        )
        assert "\n" not in one.sentence


@settings(max_examples=examples(30))
@given(sites=LISTS, asked=ASKED, data=st.data())
def test_the_order_of_the_question_changes_nothing(
    sites: Sequence[Site], asked: Asked, data: st.DataObject
) -> None:
    mixed = data.draw(st.permutations(sites))
    assert next_structures(mixed, asked) == next_structures(sites, asked)


@settings(max_examples=examples(40))
@given(sites=LISTS, asked=ASKED, hold=HOLDS, place=st.integers(0, 7))
def test_a_hold_added_never_makes_a_structure_workable(
    sites: Sequence[Site], asked: Asked, hold: Hold, place: int
) -> None:
    more = [
        replace(one, holds=(*one.holds, hold)) if index == place else one for index, one in enumerate(sites)
    ]
    before = {(one.site.line, one.site.number) for one in next_structures(sites, asked).workable}
    after = {(one.site.line, one.site.number) for one in next_structures(more, asked).workable}
    assert after <= before
    done = [[(one.line, one.number) for one in next_structures(each, asked).done] for each in (more, sites)]
    assert done[0] == done[1]


@settings(max_examples=examples(30))
@given(sites=LISTS, asked=ASKED)
def test_no_sentence_reads_as_a_permission(sites: Sequence[Site], asked: Asked) -> None:
    text = str(next_structures(sites, asked)).casefold()
    for word in ("safe", "clear", "permitted", "allowed", " ok", "ready", "de-energized", "go ahead"):
        assert word not in text


def test_a_hold_that_is_to_come_is_told_and_keeps_nobody_from_the_work_now() -> None:
    nest = Hold(id="HN-1", from_date=date(2026, 5, 16))
    outage = Hold(id="HX-1", from_date=date(2026, 5, 18), from_time=time(6), condition="outage on")
    later = Hold(id="HL-1", from_date=date(2026, 6, 30))
    found = next_structures([site(holds=(nest, outage, later))], ask())
    conditions = [each for each in found.workable[0].conditions if "H" in each]
    assert conditions == [
        "hold HN-1 from tomorrow",
        "free until Mon 06:00 by the records, then only with outage on (HX-1)",
    ]


@pytest.mark.parametrize(("hour", "held"), [(6, False), (7, True), (14, True), (15, False)])
def test_a_hold_with_times_keeps_a_crew_from_the_work_between_them(hour: int, held: bool) -> None:
    outage = Hold(id="HX-1", from_date=DAY, from_time=time(7), to_date=DAY, to_time=time(15))
    found = next_structures([site(holds=(outage,))], replace(ask(), clock=time(hour)))
    assert bool(found.refused) is held
    if held:
        assert found.refused[0].reason.startswith("held until 15 May 2026 15:00 (HX-1)")
    # without a time of day the whole day counts
    assert next_structures([site(holds=(outage,))], ask()).refused


def test_what_stands_wrong_is_told_before_all_else() -> None:
    found = next_structures([site(wrong=("arm turned 9.4° clockwise",))], ask())
    assert found.workable[0].conditions[0] == "arm turned 9.4° clockwise"
