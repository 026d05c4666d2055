"""Sections: ready or not, never a share; what keeps them is named."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from linemap.domain.crew.hold import Hold
from linemap.domain.record.status import StepState, StructureStatus
from linemap.domain.record.workflow import FRAMED_ON_GROUND, Step, Workflow
from linemap.domain.schedule.progress import Site
from linemap.domain.schedule.readiness import name_list, section_states, wire_sections, wire_windows

AT = dt.datetime(2026, 5, 13, 10, tzinfo=dt.UTC)


def line_of(count: int, *, breaks: tuple[int, ...] = (), guyed: tuple[int, ...] = ()) -> list[Site]:
    return [
        Site(
            line="North",
            number=f"1/{k}",
            distance=1000.0 * k,
            mile=1,
            section_break=k in breaks,
            guyed=k in guyed,
        )
        for k in range(1, count + 1)
    ]


def status(*steps: str) -> StructureStatus:
    state = StepState(AT, "Otter", "1", "AB")
    return StructureStatus(done=dict.fromkeys(steps, state), begun={}, stage="", findings=())


def all_with(sites: list[Site], *steps: str) -> list[Site]:
    return [replace(site, status=status(*steps)) for site in sites]


def test_sections_share_their_breaks() -> None:
    sections = wire_sections(line_of(7, breaks=(1, 3, 6, 7)))
    assert [section.words for section in sections] == [
        "section 1 (1/1-1/3)",
        "section 2 (1/3-1/6)",
        "section 3 (1/6-1/7)",
    ]


def test_lines_without_breaks_and_of_one_structure_are_one_section() -> None:
    assert [len(section.sites) for section in wire_sections(line_of(5))] == [5]
    assert [section.words for section in wire_sections(line_of(1, breaks=(1,)))] == ["section 1 (1/1-1/1)"]
    assert wire_sections([]) == ()


def test_two_lines_do_not_share_a_section() -> None:
    other = Site(line="South", number="1/1", distance=0.0, mile=1)
    assert [section.line for section in wire_sections([*line_of(3), other])] == ["North", "South"]


def test_35_of_37_is_not_ready_and_says_which_two() -> None:
    sites = all_with(line_of(37, guyed=(1, 37)), "set", "guyed", "blocks hung")
    sites[32:34] = all_with(sites[32:34], "staked")
    (state,) = section_states(wire_sections(sites), FRAMED_ON_GROUND, holds={})
    assert not state.complete
    assert state.sentence() == "section 1 (1/1-1/37): 35 of 37 set, not ready: 1/33, 1/34"


def test_a_missing_guy_keeps_a_section_and_no_guy_is_asked_where_there_is_none() -> None:
    sites = all_with(line_of(3, guyed=(1,)), "set", "blocks hung")
    (state,) = section_states(wire_sections(sites), FRAMED_ON_GROUND, holds={})
    assert [(blocker.structure, blocker.lacks) for blocker in state.blockers] == [("1/1", ("guyed",))]


def test_holds_stand_beside_what_they_stop() -> None:
    sites = line_of(2)
    hold = Hold(id="HE-1", structures=("1/2",), activities=("set",))
    wire = Hold(id="HX-1", structures=("1/1",), activities=("wire",), to_date=dt.date(2026, 9, 13))
    states = section_states(
        wire_sections([*all_with(sites[:1], "set", "blocks hung"), *sites[1:]]),
        FRAMED_ON_GROUND,
        holds={sites[0].key: (wire,), sites[1].key: (hold,)},
    )
    assert states[0].blockers[0].holds == ("HE-1",)
    assert states[0].sentence().endswith("not ready: 1/2; wire held by HX-1")


def test_window_asks_for_the_section_four_weeks_before_it_opens() -> None:
    """An outage from 14 September asks for 17 August."""
    sites = line_of(2)
    wire = Hold(id="HX-1", structures=("1/1",), activities=("wire",), to_date=dt.date(2026, 9, 13))
    states = section_states(wire_sections(sites), FRAMED_ON_GROUND, holds={sites[0].key: (wire,)})
    (window,) = wire_windows(states, lead=dt.timedelta(weeks=4))
    assert (window.opens, window.ready_by) == (dt.date(2026, 9, 14), dt.date(2026, 8, 17))


def test_a_workflow_without_blocks_asks_for_none() -> None:
    flow = Workflow(steps=(Step(code="set", words="stood"),))
    sites = line_of(2)
    (state,) = section_states(wire_sections(all_with(sites, "set")), flow, holds={})
    assert state.complete
    assert state.sentence() == "section 1 (1/1-1/2): 2 of 2 stood, every step recorded"


def test_long_lists_say_how_many_more() -> None:
    assert name_list([str(k) for k in range(10)], most=3) == "0, 1, 2 and 7 more"
    assert name_list([]) == ""
