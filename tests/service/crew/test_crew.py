"""What a crew is told on the invented line: the next structures, the refusals, the ways, the places."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from linemap.answers.card import CardTicket
from linemap.answers.crew import NextAnswer, WhereAnswer
from linemap.domain.design.surroundings import ContextFeature
from linemap.domain.record.claim import Claim
from linemap.domain.record.workflow import FRAMED_ALOFT
from linemap.errors import NotFound
from linemap.service.crew.crew import Fix, NextRequest, next_answer, where_answer
from linemap.service.crew.crew_sites import access_network, ticket_cards
from linemap.service.view.view import JobView

NOW = dt.datetime(2026, 5, 15, 12, tzinfo=dt.timezone(dt.timedelta(hours=-6)))
FOOT = 0.3048


def ask(view: JobView, crew: str = "Heron", structure: str = "13/4", **more: Any) -> NextAnswer:
    return next_answer(view, NextRequest(crew=crew, structure=structure, **more), now=NOW)


def numbers(found: NextAnswer) -> list[str]:
    return [row.number for row in found.workable]


def refusal(found: NextAnswer, number: str) -> str:
    row = next(row for row in found.refused if row.number == number)
    assert row.sentence == f"{number}: {row.reason}"
    return row.sentence


def test_heron_done_at_13_4_goes_to_13_5_13_6_and_14_1_with_its_monitor(demo_view: JobView) -> None:
    found = ask(demo_view)
    assert (found.step, found.ordered_by, found.as_of) == ("framed", "access", "2026-05-15")
    assert numbers(found)[:3] == ["13/5", "13/6", "14/1"]
    assert "13/2" not in numbers(found)
    assert "14/2" not in numbers(found)
    assert found.workable[2].conditions == [
        "framed only with monitor on site, until 15 August 2026 (HN-2); released by environmental lead"
    ]
    assert found.workable[0].distance_text == "1,128 ft"
    assert found.workable[0].conditions == []


def test_refusals_name_structure_cause_date_and_who_releases(demo_view: JobView) -> None:
    found = ask(demo_view)
    assert refusal(found, "13/2") == (
        "13/2: two H1-75 poles missing, due 12 June 2026; released by material yard; also hold HM-1"
    )
    assert refusal(found, "14/2") == "14/2: held until 15 August 2026 (HN-1); released by environmental lead"
    assert refusal(found, "7/3").startswith("7/3: held until 29 May 2026 (HW-1")
    assert refusal(found, "17/2").endswith("to be recorded by Otter")
    assert "nest" not in str(found).casefold()


def test_every_structure_is_workable_refused_or_done(demo_view: JobView) -> None:
    for crew in ("Heron", "Raven", "Badger", "Otter", "Mole", "Lark"):
        found = ask(demo_view, crew)
        assert found.workable_count + len(found.refused) + found.done_count == 121


def test_the_counts_of_the_day_are_the_done_ones(demo_view: JobView) -> None:
    # what the invented line was made to have on that day
    assert {crew: ask(demo_view, crew).done_count for crew in ("Badger", "Heron", "Otter")} == {
        "Badger": 71, "Heron": 66, "Otter": 88,
    }  # fmt: skip
    assert ask(demo_view, "Otter", step="set").done_count == 59


def test_a_lapsed_ticket_stops_holes_and_anchors_at_9_2(demo_view: JobView) -> None:
    holes = ask(demo_view, "Badger")
    assert refusal(holes, "9/2") == (
        "9/2: locate ticket LT-0902 expired 1 May 2026, 14 days ago; released by contractor"
    )
    anchors = refusal(ask(demo_view, "Mole", step="guyed"), "9/2")
    assert anchors.startswith("9/2: held until 22 May 2026 (HE-1")
    assert "ticket LT-0902" in anchors
    assert "LT-0902" not in refusal(ask(demo_view), "9/2")


def test_from_11_6_to_12_1_goes_by_the_bridge(demo_view: JobView) -> None:
    found = ask(demo_view, "Mole", "11/6", step="grounded")
    row = next(row for row in found.workable if row.number == "12/1")
    assert row.travel_text.startswith(
        "no crossing on the right of way (river); 9.6 mi by Lantern Bridge Road"
    )
    assert row.distance_text == row.length_text == "9.8 mi"
    assert row.roads_text == row.travel_text.removesuffix(f", {row.in_all_text}")
    assert row.in_all_text == "9.8 mi in all with the right of way"


def test_framed_aloft_gives_another_next_of_the_same_records(demo_view: JobView) -> None:
    ground = ask(demo_view, "Otter", step="set")
    aloft = ask(demo_view, "Otter", step="set", workflow=FRAMED_ALOFT)
    assert "13/5" not in numbers(ground)
    assert "13/5" in numbers(aloft)
    assert refusal(ground, "13/5").startswith("13/5: framed is not on record")
    assert refusal(ask(demo_view, workflow=FRAMED_ALOFT), "13/5").startswith("13/5: set is not on record")


def test_a_pole_missing_is_not_set(demo_view: JobView) -> None:
    key = demo_view.key(demo_view.row("", "8/4"))
    status = demo_view.statuses[key]
    done = {code: state for code, state in status.done.items() if code not in {"set", "grounded"}}
    half = replace(status, done=done, begun={"set": status.done["set"]._replace(poles="A")})
    view = replace(demo_view, statuses={**demo_view.statuses, key: half})
    found = ask(view, "Otter", "8/3", step="set")
    assert numbers(found)[0] == "8/4"
    assert "set for pole A only: the rest is open" in found.workable[0].why
    assert refusal(ask(view, "Mole", step="grounded"), "8/4").startswith(
        "8/4: set is not on record, only for pole A"
    )


def test_a_claim_is_taken_into_account_until_it_ends(demo_view: JobView) -> None:
    key = demo_view.key(demo_view.row("", "13/5"))
    claim = Claim(
        id="c", line=key[0], structure=key[1], crew="Raven", made_at=NOW, received_at=NOW,
        expires_at=NOW + dt.timedelta(hours=4),
    )  # fmt: skip
    view = replace(demo_view, claims_by_structure={key: [claim]})
    assert refusal(ask(view), "13/5") == "13/5: claimed by Raven until 15 May 2026 16:00; released by Raven"
    assert "13/5" in numbers(ask(view, "Raven"))
    later = next_answer(view, NextRequest(crew="Heron", structure="13/4"), now=NOW + dt.timedelta(hours=5))
    assert "13/5" in numbers(later)


def test_the_last_record_of_a_crew_is_where_it_starts_by_default(demo_view: JobView) -> None:
    found = ask(demo_view, structure="")
    assert found.from_.startswith("from 13/4, the last record of Heron, 13 May 2026")


def test_without_roads_the_order_is_the_lines_and_says_so(demo_view: JobView) -> None:
    found = ask(replace(demo_view, context=()))
    assert found.ordered_by == "line"
    assert numbers(found)[:3] == ["13/5", "13/6", "14/1"]


def test_a_held_structure_is_not_driven_past(demo_view: JobView) -> None:
    row = next(row for row in ask(demo_view).workable if row.number == "14/3")
    assert "by Bench Road" in row.travel_text


def fix_at(view: JobView, true: float, right: float, accuracy_m: float | None) -> Fix:
    east, north, _ = view.network.point(
        [0], [true * view.figures.combined_factor[0]], [right * view.figures.combined_factor[0]]
    )
    longitude, latitude = view.projection.to_lonlat(east, north)
    return Fix(longitude=float(longitude[0]), latitude=float(latitude[0]), accuracy_m=accuracy_m)


def test_where_is_told_with_the_parcel_and_no_better_than_the_fix(demo_view: JobView) -> None:
    found = where_answer(demo_view, fix_at(demo_view, 43_420.0, -12.0, 16 * FOOT))
    assert found == WhereAnswer(
        sentence="between 9/2 and 9/3, 434+20, 12 L, ±16 ft, parcel T-08",
        between=["9/2", "9/3"],
        station_text="434+20",
        offset_text="12 L",
        accuracy_text="±16 ft",
    )


def test_from_a_fix_distances_carry_its_accuracy_and_near_ones_no_bearing(demo_view: JobView) -> None:
    fix = fix_at(demo_view, 67_500.0, 5.0, 40.0)
    found = next_answer(demo_view, NextRequest(crew="Heron", fix=fix), now=NOW)
    first, second = found.workable[:2]
    assert (first.number, first.bearing_text) == ("13/5", "")
    assert second.bearing_text.startswith("north-east, ")
    assert (first.compass, second.compass) == ("", "north-east")
    assert first.distance_text == f"{first.length_text}, ±132 ft"
    assert found.where.between == ["13/4", "13/5"]


def test_what_cannot_be_answered_is_refused_with_what_to_do(demo_view: JobView) -> None:
    with pytest.raises(NotFound, match="has no work on record"):
        ask(demo_view, "Magpie")
    with pytest.raises(NotFound, match="no step of the workflow"):
        ask(demo_view, step="lunch")
    with pytest.raises(NotFound, match="99/9"):
        ask(demo_view, structure="99/9")
    with pytest.raises(NotFound, match="no answer"):
        where_answer(demo_view, Fix(longitude=float("nan"), latitude=0.0))


def test_a_crew_that_is_new_may_name_its_step(demo_view: JobView) -> None:
    found = ask(demo_view, "Magpie", "", step="Framed")
    assert found.step == "framed"
    assert found.from_.startswith("from 1/1, where the line begins")


def test_the_network_is_the_same_whatever_the_order_of_the_features(demo_view: JobView) -> None:
    turned = replace(demo_view, context=demo_view.context[::-1])
    one = next_answer(demo_view, NextRequest(crew="Heron"), now=NOW)
    other = next_answer(turned, NextRequest(crew="Heron"), now=NOW)
    assert numbers(one) == numbers(other)


def test_a_barrier_more_only_lengthens_ways(demo_view: JobView) -> None:
    wall = ContextFeature(layer="canal", name="wall", geometry=shapely.box(-108.16, 46.0, -108.155, 47.5))
    before, after = (
        access_network(view) for view in (demo_view, replace(demo_view, context=(*demo_view.context, wall)))
    )
    assert len(after.breaks) == len(before.breaks) + 1
    assert after.length.sum() < before.length.sum()
    assert np.isfinite(after.length).all()


def test_cards_show_the_tickets_of_their_structure(demo_view: JobView) -> None:
    line = demo_view.figures.lines[0].name
    assert ticket_cards(demo_view, (line, "9/2")) == [
        CardTicket(
            number="LT-0902",
            valid_from="2026-04-04",
            valid_to="2026-05-01",
            covers="poles and anchors",
            anchors=True,
            waits="",
            sentence="covers poles and anchors, expired 1 May 2026, 14 days ago",
        )
    ]
    (other,) = ticket_cards(demo_view, (line, "9/3"))
    assert other.sentence == "covers poles and anchors, valid until 12 June 2026"
    assert all(ticket_cards(demo_view, key) for key in demo_view.row_of)


def test_guys_are_offered_only_where_there_are_guys(demo_view: JobView) -> None:
    """Thirteen structures of the invented line have guys; five are guyed on 15 May."""
    found = ask(demo_view, crew="Mole", structure="1/1", step="guyed")
    asked = {*numbers(found), *(row.number for row in found.refused)}
    assert len(asked) == 8
    assert "8/2" not in asked
    assert found.done_count == 5
