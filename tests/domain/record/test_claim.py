from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from linemap.domain.record.claim import SUBJECTS, Briefed, Claim, standing_claims

MADE = datetime(2026, 5, 13, 9, 10, tzinfo=UTC)
NOW = MADE + timedelta(hours=6)


def claim(identifier: str = "c1", crew: str = "Heron", **changed: Any) -> Claim:
    given: dict[str, Any] = {
        "line": "North",
        "structure": "13/4",
        "made_at": MADE,
        "expires_at": MADE + timedelta(days=1),
        "received_at": MADE,
    }
    return Claim(id=identifier, crew=crew, **{**given, **changed})


def test_two_offline_claims_of_one_structure_both_stand_and_both_are_told() -> None:
    late = MADE + timedelta(hours=5)
    heron = claim("c1", received_at=late)
    raven = claim("c2", "Raven", made_at=MADE + timedelta(minutes=105), received_at=late)
    standing = standing_claims([raven, heron], now=NOW)
    assert [each.claim.id for each in standing] == ["c1", "c2"]
    assert [other.id for each in standing for other in each.others] == ["c2", "c1"]
    assert standing[0].sentence == (
        "13/4 is claimed by Heron (made without a signal 13 May 09:10) until 2026-05-14 09:10 UTC, and by "
        "Raven (made without a signal 13 May 10:55): talk to each other; both claims stand"
    )


def test_a_claim_alone_meets_nobody() -> None:
    (one,) = standing_claims([claim(), claim("c2", "Raven", structure="13/5", expires_at=NOW)], now=NOW)
    assert one.others == ()
    assert one.sentence == "13/4 is claimed by Heron (13 May 09:10) until 2026-05-14 09:10 UTC"


def test_a_claim_ends_by_itself_and_by_the_crew_s_own_new_one() -> None:
    assert standing_claims([claim()], now=MADE + timedelta(days=1)) == ()
    ended = claim("c2", crew="HERON", made_at=NOW, expires_at=NOW + timedelta(seconds=1), received_at=NOW)
    assert standing_claims([claim(), ended], now=NOW + timedelta(seconds=2)) == ()


def test_a_fast_clock_does_not_claim_for_longer() -> None:
    fast = claim(made_at=MADE + timedelta(hours=2), expires_at=MADE + timedelta(hours=3), received_at=MADE)
    assert fast.ends == MADE + timedelta(hours=1)
    assert not fast.made_offline


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"crew": " "}, "blank crew"),
        ({"structure": ""}, "blank structure"),
        ({"made_at": datetime(2026, 5, 13)}, "no time zone in made_at"),  # noqa: DTZ001
        ({"expires_at": MADE}, "end after it begins"),
        ({"expires_at": MADE + timedelta(days=15)}, "within 14 days"),
    ],
)
def test_what_is_refused_is_named(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        claim(**changed)


MORNING = datetime(2026, 5, 15, 13, 0, tzinfo=UTC)


def briefed(**changed: Any) -> Briefed:
    given: dict[str, Any] = {
        "id": "b1", "line": "North", "structure": "9/2", "at": MORNING, "received_at": MORNING,
        "person_in_charge": "J. Ode",
    }  # fmt: skip
    return Briefed(**{**given, **changed})


def test_subjects_without_words_are_named_in_their_order() -> None:
    assert briefed().not_covered == tuple(SUBJECTS)
    assert briefed(ppe="gloves", hazards="slope", procedures=" ").not_covered == (
        "procedures",
        "precautions",
        "energy_sources",
    )


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"person_in_charge": " "}, "blank person_in_charge"),
        ({"id": ""}, "blank id"),
        ({"at": datetime(2026, 5, 15)}, "no time zone in at"),  # noqa: DTZ001
    ],
)
def test_what_is_refused_of_a_briefing_is_named(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        briefed(**changed)
