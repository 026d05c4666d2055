"""Roles, offices and how much is shown to whom."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.record.person import Audience, Person, Role, same_words


def test_only_a_manager_who_signed_in_is_shown_everything() -> None:
    shown = {role: Person(name="Ada", role=role).audience for role in Role}
    assert shown == {
        Role.CREW: Audience.CREW,
        Role.SURVEYOR: Audience.CREW,
        Role.INSPECTOR: Audience.CREW,
        Role.MANAGER: Audience.OWNER,
        Role.VIEWER: Audience.PUBLIC,
    }
    assert Person.at_the_machine().role is Role.MANAGER
    assert Person.at_the_machine().audience is Audience.CREW


@pytest.mark.parametrize(
    ("words", "holds"),
    [
        ("ADA  Marrow", True),
        ("inspector", True),
        ("environmental lead", True),
        ("Ada", False),
        ("manager", False),
        ("", False),
        ("  ", False),
    ],
)
def test_an_office_is_held_by_name_role_or_as_given(words: str, holds: bool) -> None:
    person = Person(name="Ada Marrow", role=Role.INSPECTOR, releases=("Environmental Lead", ""))
    assert person.holds_office(words) is holds


@given(st.text(max_size=30))
def test_words_have_one_spelling(words: str) -> None:
    assert same_words(same_words(words)) == same_words(words)
    assert same_words(f" {words}\t") == same_words(words)
