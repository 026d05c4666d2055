"""Shots in doubt are read by the list as it is now; those that stay unread are told with what they mean."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from linemap.domain.design.naming import UNNAMED, ListedNumbers, Naming
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.survey.description import parse_description
from linemap.domain.survey.shot import Shot, ShotItem
from linemap.domain.survey.unread import read_now, unread_findings


def named(*numbers: str, poles: str = "") -> Naming:
    return Naming(
        listed=ListedNumbers({"N": dict.fromkeys(numbers, 2)} if numbers else {}),
        poles=PoleWords.parse(poles),
    )


def shot(text: str, *, row: int = 1, naming: Naming = UNNAMED, file: str = "day.csv") -> Shot:
    """Return a shot as it is read by the list there is when it comes."""
    said = parse_description(text, naming)
    return Shot(
        point=str(row),
        easting=0.0,
        northing=0.0,
        description=text,
        structure=said.structure,
        pole=said.pole,
        item=said.item,
        file=file,
        row=row,
    )


def reading(shots: Iterable[Shot]) -> list[tuple[str, str, ShotItem]]:
    return [(each.structure, each.pole, each.item) for each in shots]


@pytest.mark.parametrize(
    ("before", "after", "text", "now"),
    [
        # a list that comes later makes shots readable
        (named(), named("T-45", "T-46"), "T45 A", ("T-45", "A", "pole")),
        (named(), named("12.3"), "12.3-B", ("12.3", "B", "pole")),
        (named("44"), named("44", "45"), "A POLE 45", ("45", "A", "pole")),
        (named(), named("12/3"), "12/3 CL", ("12/3", "", "centre")),
        # one that inserts 45A makes "45A" asked, and leaves all that is clear as it is
        (named("45"), named("45", "45A"), "45A", ("", "", "other")),
        (named("45"), named("45", "45A"), "45A HUB", ("", "", "other")),
        (named("45"), named("45", "45A"), "45 A", ("45", "A", "pole")),
        (named("45"), named("45", "45A"), "STR 45 POLE A", ("45", "A", "pole")),
        # a number that goes from the list stays what it was: an unknown structure
        (named("45"), named("46"), "STR 45 A", ("45", "A", "pole")),
        (named("12/3"), named("12/3"), "?", ("", "", "other")),
    ],
)
def test_shots_in_doubt_are_read_by_the_list_there_is_now(
    before: Naming, after: Naming, text: str, now: tuple[str, str, ShotItem]
) -> None:
    assert reading(read_now([shot(text, naming=before)], after)) == [now]


@pytest.mark.parametrize(
    ("text", "kept", "now"),
    [
        ("12/3 A TOP", ("12/3", "A", "pole"), ("12/3", "A", "top")),
        ("12/3 A FACE", ("12/3", "A", "pole"), ("12/3", "A", "face")),
        ("TOP", ("12/3", "A", "pole"), ("12/3", "A", "top")),
        ("STOPPED HERE", ("12/3", "A", "pole"), ("12/3", "A", "pole")),
        ("6", ("12/3", "B", "pole"), ("12/3", "B", "pole")),
    ],
)
def test_what_was_kept_as_a_pole_is_the_part_that_its_description_names(
    text: str, kept: tuple[str, str, ShotItem], now: tuple[str, str, ShotItem]
) -> None:
    structure, pole, item = kept
    stored = Shot(
        point="1", easting=0.0, northing=0.0, description=text, structure=structure, pole=pole, item=item
    )
    assert reading(read_now([stored], named("12/3"))) == [now]


def test_letters_are_those_of_the_owners_words() -> None:
    later = named("45", "45L", poles="L/R")
    before = named("45", poles="L/R")
    shots = [shot(text, naming=before) for text in ("45L", "45 L", "45R")]
    assert reading(read_now(shots, later)) == [("", "", "other"), ("45", "A", "pole"), ("45", "B", "pole")]


def test_what_reads_two_ways_is_told_once_for_all_written_alike() -> None:
    naming = named("45", "45A")
    shots = [shot("45A", row=3, naming=naming), shot("45a", row=7, naming=naming)]
    (found,) = unread_findings(shots, naming)
    assert found.code == "description reads two ways"
    assert set(found.values["readings"]) == {"structure 45A", "pole A of 45"}
    assert found.values["points"] == "points 3, 7 of day.csv"
    assert found.words.endswith("may be pole A of 45 or structure 45A; shot not used")


def test_what_is_not_read_is_told_once_a_file_the_commonest_first() -> None:
    naming = named("45")
    texts = ["TREE", *["FENCE"] * 3, *(f"ITEM {letter}X" for letter in "DEFGH"), "45 A", "CP 3"]
    shots = [shot(text, row=row, naming=naming) for row, text in enumerate(texts)]
    (found,) = unread_findings([*shots], naming)
    assert found.code == "description not read"
    first, rest = found.words.split(": ")
    assert first == "9 shots of day.csv not read and not used"
    assert rest == '"FENCE", "TREE", "ITEM DX", "ITEM EX", "ITEM FX" and 2 more'


def test_a_structure_without_a_pole_is_told_at_the_structure() -> None:
    naming = named("45")
    (found,) = unread_findings([shot("STR 45", naming=naming)], naming, only_line="N")
    assert (found.line, found.structure, found.code) == ("N", "45", "description not read")
    assert "names structure 45 but no pole" in found.words
