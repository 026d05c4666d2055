"""Patterns of descriptions: made of one that a person read, they read others written alike, nothing else."""

from __future__ import annotations

import pytest
from dose import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from linemap.domain.design.naming import UNNAMED, ListedNumbers, Naming
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.survey.pattern import Pattern, pattern_of, read_by
from linemap.domain.survey.shot import ParsedDescription, ShotItem

RUN = Naming(listed=ListedNumbers({"N": dict.fromkeys([*map(str, range(1, 61)), "45A"], 2)}))
MILE = Naming(listed=ListedNumbers({"N": {f"{m}/{k}": 2 for m in range(1, 20) for k in range(1, 9)}}))
SERIES = Naming(listed=ListedNumbers({"N": dict.fromkeys([*(f"T-{i}" for i in range(1, 61)), "END"], 2)}))
SIDES = Naming(listed=ListedNumbers({"N": {"12": 3, "13": 2}}), poles=PoleWords.parse("L/M/R"))


def said(structure: str, pole: str, item: ShotItem = "pole") -> ParsedDescription:
    return ParsedDescription(structure=structure, pole=pole, item=item)


@pytest.mark.parametrize(
    ("naming", "description", "meant", "text", "others"),
    [
        (MILE, "Brk 12-03 N2", said("12/3", "B", "top"), "BRK <structure> N<pole> = top",
         {"BRK 7/1 N1": said("7/1", "A", "top"), "brk 7.1  nB": said("7/1", "B", "top")}),
        (RUN, "45A", said("45", "A"), "<structure><pole> = pole",
         {"46B": said("46", "B"), "7C": said("7", "C")}),
        (RUN, "45A", said("45A", "", "hub"), "<structure> = hub", {"12": said("12", "", "hub")}),
        (RUN, "12 oak", said("12", "A"), "<structure> OAK = pole A", {"13 OAK": said("13", "A")}),
        (RUN, "JB7 set 12a", said("12", "A"), "JB<number> SET <structure><pole> = pole",
         {"JB12 SET 7B": said("7", "B")}),
        (RUN, "L 12 9", said("12", "", "anchor"), "L <structure> <number> = anchor",
         {"L 3 10": said("3", "", "anchor")}),
        (SERIES, "x T45 b-face", said("T-45", "B", "face"), "X <structure> <pole>-FACE = face",
         {"X T-7 A-FACE": said("T-7", "A", "face"), "X END B-FACE": said("END", "B", "face")}),
        (SIDES, "zz 12 r", said("12", "C"), "ZZ <structure> <pole> = pole",
         {"ZZ 13 R": said("13", "B"), "ZZ 12 M": said("12", "B"), "ZZ 13 L": said("13", "A")}),
        (UNNAMED, "qq 12/3 b", said("12/3", "B"), "QQ <structure> <pole> = pole",
         {"QQ 9-4 A": said("9/4", "A")}),
        (RUN, "HV 7", said("", "", "check"), "HV <number> = check", {"HV 12": said("", "", "check")}),
    ],
)  # fmt: skip
def test_what_is_said_of_one_description_reads_those_alike(
    naming: Naming,
    description: str,
    meant: ParsedDescription,
    text: str,
    others: dict[str, ParsedDescription],
) -> None:
    found = pattern_of(
        description, structure=meant.structure, pole=meant.pole, item=meant.item, naming=naming
    )
    assert str(found) == text
    assert Pattern.parse(str(found)) == found
    assert found.read(description, naming) == meant
    assert {other: found.read(other, naming) for other in others} == others


@pytest.mark.parametrize(
    "text",
    ["BRK 12/3", "BRK 12/3 NX", "BRK 99/9 N1", "X BRK 12/3 N1", "BRK 12/3 N1 X", "BRK 112/3N1", "", "BRK N1"],
)
def test_what_is_written_otherwise_or_is_not_listed_is_not_read(text: str) -> None:
    assert Pattern.parse("BRK <structure> N<pole>").read(text, MILE) is None


def test_slots_against_each_other_share_what_is_written() -> None:
    pattern = Pattern.parse("<structure><pole>")
    assert [pattern.read(text, RUN) for text in ("45A", "45AA", "455A", "45")] == [
        said("45", "A"),
        said("45A", "A"),
        None,
        None,
    ]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("BRK = top", "names no structure"),
        ("<structure> <pole> = pole A", "names two poles"),
        ("<structure> = pole", "names no pole"),
        ("<structure> <structure> A", "write <structure> once"),
        ("<structure> <pole> = banana", "is nothing a shot can be of"),
        ("", "is no pattern"),
    ],
)
def test_what_is_no_pattern_is_refused_with_what_to_write(text: str, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        Pattern.parse(text)


def test_a_description_without_the_structure_makes_no_pattern() -> None:
    with pytest.raises(ValueError, match="does not show structure 46"):
        pattern_of("45 A", structure="46", pole="A", item="pole", naming=RUN)


def test_the_first_pattern_that_reads_is_taken() -> None:
    both = [Pattern.parse("Q <structure> <pole> = top"), Pattern.parse("Q <structure> A = face A")]
    assert read_by(both, "Q 7 A", RUN) == said("7", "A", "top")
    assert read_by(both, "R 7 A", RUN) is None


@settings(max_examples=examples(100))
@given(
    before=st.text("RKXQ-_ .", max_size=6),
    between=st.sampled_from([" ", "-", " N", "/", "", " POLE ", "_"]),
    after=st.text("XYZ -.", max_size=5),
    number=st.sampled_from(["12/3", "7/1", "19/8"]),
    other=st.sampled_from(["12/3", "7/1", "1/1", "11/8"]),
    pole=st.sampled_from("AB"),
    another=st.sampled_from("AB"),
)
def test_a_pattern_reads_its_own_description_and_the_same_with_another_number(
    before: str, between: str, after: str, number: str, other: str, pole: str, another: str
) -> None:
    found = pattern_of(
        f"{before}{number}{between}{pole}{after}", structure=number, pole=pole, item="pole", naming=MILE
    )
    read = found.read(f"{before}{other}{between}{another}{after}", MILE)
    if found.pole:
        assert another != pole or read == said(other, pole)
    else:
        assert read == said(other, another)
