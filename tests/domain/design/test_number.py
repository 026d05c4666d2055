"""Structure numbers: every spelling of one number, their order, and what is no number."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from linemap.domain.design.number import StructureNumber, number_key, same_number, slug_of

NUMBERS = st.builds(
    StructureNumber,
    mile=st.one_of(st.none(), st.integers(0, 99_999)),
    sequence=st.integers(0, 999_999),
    inserted=st.one_of(
        st.just(""),
        st.text("ABCXYZ", min_size=1, max_size=2),
        st.integers(1, 99).map(str),
    ),
)


@pytest.mark.parametrize(
    ("text", "spelling"),
    [
        ("9/6", "9/6"),
        ("9-6", "9/6"),
        ("09/06", "9/6"),
        (" 9 / 6 ", "9/6"),
        ("STR 9/6", "9/6"),
        ("str. 9/6", "9/6"),
        ("Structure 9/6", "9/6"),
        ("S9/6", "9/6"),
        ("0/1", "0/1"),
        ("47", "47"),
        ("47.0", "47"),
        ("12/3.0", "12/3"),
        ("12/3A", "12/3A"),
        ("12-3a", "12/3A"),
        ("12/3.5", "12/3.5"),
        ("123456/1", "123456/1"),
        ("POT  1", "POT 1"),
        ("", ""),
    ],
)
def test_one_spelling(text: str, spelling: str) -> None:
    assert same_number(text) == spelling


@pytest.mark.parametrize(
    "text",
    ["", " ", "/", "9/", "/6", "9//6", "1/2/3", "-3", "12/3.5A", "12/3 A", "12/3-A", "12/3ABC", "A", "S",
     "1e5", "2-Jan", "45294.5.1", "123456/1", "9/6\n9/7"],
)  # fmt: skip
def test_what_is_no_number_is_refused_by_name(text: str) -> None:
    with pytest.raises(ValueError, match="is no structure number; write it like 9/6"):
        StructureNumber.parse(text)


def test_a_letter_after_a_blank_or_dash_is_a_pole_and_no_part_of_the_number() -> None:
    assert StructureNumber.parse("12/3A").inserted == "A"
    assert number_key("12/3 A")[0] == 1
    assert number_key("12/3-A")[0] == 1


def test_numbers_are_not_eaten_by_each_other() -> None:
    assert len({same_number(text) for text in ("2/14", "21/4", "2/1", "21/44", "2/144")}) == 5


def test_the_order_along_a_line() -> None:
    in_order = ["1/1", "1/2", "1/10", "2/1", "9/6", "10/1", "12/3", "12/3A", "12/3B", "12/4", "bay", "Slack"]
    assert sorted(set(in_order), key=number_key) == in_order


def test_decimals_stand_between_their_neighbours() -> None:
    in_order = ["12/3", "12/3.25", "12/3.5", "12/3.75", "12/4"]
    assert sorted(set(in_order), key=number_key) == in_order


@given(number=NUMBERS)
def test_printed_and_read_again_is_the_same_number(number: StructureNumber) -> None:
    assert StructureNumber.parse(str(number)) == number
    assert same_number(same_number(str(number))) == str(number)
    assert number_key(str(number)) == (0, *number.key)


@given(number=NUMBERS, head=st.sampled_from(["", "STR ", "s", " "]), zeros=st.integers(0, 1))
def test_how_it_is_written_does_not_matter(number: StructureNumber, head: str, zeros: int) -> None:
    if number.mile is None or number.mile > 9_999:
        text = str(number)
    else:
        text = "0" * zeros + str(number).replace("/", "-")
    assert same_number(head + text.lower()) == str(number)


@given(one=NUMBERS, other=NUMBERS)
def test_numbers_are_the_same_when_their_keys_are(one: StructureNumber, other: StructureNumber) -> None:
    assert (one.key == other.key) == (str(one) == str(other))


@given(number=NUMBERS)
def test_slugs_hold_nothing_a_file_name_may_not(number: StructureNumber) -> None:
    assert "/" not in slug_of(str(number))
    assert same_number(slug_of(str(number))) == str(number)


@given(text=st.text(max_size=12))
def test_any_text_has_a_key_and_a_spelling_that_stays(text: str) -> None:
    assert number_key(text)[0] in {0, 1}
    assert same_number(same_number(text)) == same_number(text)
