"""Job briefings as recorded."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from linemap.domain.record.briefed import SUBJECTS, Briefed

MORNING = datetime(2026, 5, 15, 13, 0, tzinfo=UTC)


def briefed(**changed: Any) -> Briefed:
    given: dict[str, Any] = {
        "id": "b1", "line": "North", "structure": "9/2", "at": MORNING, "received_at": MORNING,
        "person_in_charge": "J. Ode",
    }  # fmt: skip
    return Briefed(**{**given, **changed})


def test_subjects_without_words_are_named_in_their_order() -> None:
    assert briefed().not_covered == SUBJECTS
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
        ({"at": datetime(2026, 5, 15)}, "without a zone"),  # noqa: DTZ001
    ],
)
def test_what_is_refused_is_named(changed: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        briefed(**changed)
