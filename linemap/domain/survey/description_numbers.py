"""Where a shot description has structure numbers: those of the list literally, others by their shape."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from typing import Final, Literal, NamedTuple

from linemap.domain.design.naming import ListedNumbers
from linemap.domain.design.number import Run, same_number
from linemap.domain.survey.description_words import NO_ROLE, PLACES, ROLES, Role

#: How well a number is known for one of a structure: "maybe" where it may be a distance along the line or the
#: number of a guy, "named" behind a word for structures.
Grade = Literal["maybe", "stands", "named"]
#: What may stand between two runs of digits of one number, blanks aside.
_BETWEEN_DIGITS = frozenset({"/", "-", ".", "\\", "_"})
#: What makes two runs of digits one number when it stands between them without blanks.
TIGHT = frozenset({"/", "-", ".", "\\", ":", "+"})


#: Length and class of a pole, 75-2.
SIZE: Final = re.compile(r"(?:[3-9][05]|1[0-3][05])[-/](?:10|[1-9])")
_PLAIN_POLES: Final = frozenset("ABC")
_UNIT: Final[frozenset[Role]] = frozenset({"unit"})


class FoundNumber(NamedTuple):
    """A structure number in a description, and the runs it is made of."""

    number: str
    first: int
    end: int
    grade: Grade
    #: True where it needs the letter of a pole beside it: POLE 1 may be a pole, A 12 pole A of 12.
    needs_pole: bool = False

    @property
    def span(self) -> range:
        """Where its runs are."""
        return range(self.first, self.end)


def listed_numbers(runs: Sequence[Run], listed: ListedNumbers, poles: Collection[str]) -> list[FoundNumber]:
    """Return all that may be numbers of the job's list, in every spelling, the longer and the shorter of two.

    `poles` are the words for poles: one may stand against a number. Numbers that a measure owns (EL 45,
    45 FT) and parts of longer numbers are none.
    """
    found: list[FoundNumber] = []
    for first in range(len(runs)):
        key: tuple[str, ...] = ()
        for end in range(first + 1, min(first + listed.longest, len(runs)) + 1):
            key += (runs[end - 1].bare,)
            numbers = listed.by_runs.get(key)
            if numbers and _stands_alone(runs, first, end, poles) and not _is_of_series(runs, first, listed):
                part = runs[first:end]
                meant = [each for each, own in numbers.items() if _is_written(part, own, listed, poles)]
                exact = [each for each in meant if len(meant) > 1 and _written(part) == each.upper()]
                grade = _grade(runs, first, end, poles) if meant else None
                if grade is not None:
                    unsure = _may_be_a_pole(runs, first, end, poles)
                    found += [FoundNumber(each, first, end, grade, unsure) for each in exact or meant]
    return found


def _is_of_series(runs: Sequence[Run], first: int, listed: ListedNumbers) -> bool:
    """Say whether the word before a number begins numbers of the list: DE-2 is no 2 where DE-1 is listed.

    Where the two are listed as one and a blank parts them, DE 1, it may be either.
    """
    if not first or not runs[first].text.isdigit():
        return False
    before, gap = runs[first - 1].text, runs[first].gap
    if before not in listed.series or "structure" in ROLES.get(before, NO_ROLE):
        return False
    return gap in {"", "-"} or (gap.isspace() and (before, runs[first].bare) not in listed.by_runs)


def _written(part: Sequence[Run]) -> str:
    """Return runs as they stand in the text."""
    return part[0].text + "".join(run.gap + run.text for run in part[1:])


def _is_written(
    part: Sequence[Run], own: Sequence[Run], listed: ListedNumbers, poles: Collection[str]
) -> bool:
    """Say whether what stands between the runs of a number may stand there.

    A letter A to C of the number may stand apart from its digits where the owner calls poles otherwise: 12 A
    need not be pole A there.
    """
    others = frozenset[str]() if _PLAIN_POLES.issuperset(poles) else _PLAIN_POLES
    return all(
        _joins(own, place, part, listed, apart=own[place].text in others) for place in range(1, len(own))
    )


def _joins(
    own: Sequence[Run], place: int, part: Sequence[Run], listed: ListedNumbers, *, apart: bool
) -> bool:
    gap = part[place].gap
    if not own[place].text.isdigit():
        loose = apart or bool(own[place].gap)
        return gap == own[place].gap or (loose and gap in {"", "-", "_", " ", "."})
    if not own[place - 1].text.isdigit():
        return len(gap) < 3 and not gap.strip(" -_./#")
    inserted = own[place].gap == "." and tuple(run.bare for run in own[:place]) in listed.by_runs
    if inserted:
        return gap.strip() == "."
    return gap.strip() in _BETWEEN_DIGITS or (gap == "," and own[place].gap == ".")


def _stands_alone(runs: Sequence[Run], first: int, end: int, poles: Collection[str]) -> bool:
    """Say whether runs are no part of a longer number or word."""
    if first:
        before, gap = runs[first - 1].text, runs[first].gap
        if before.isdigit() and gap in TIGHT and not (before in poles and gap in {"-", "/"}):
            return False
        if gap == "" and before not in poles and not ROLES.get(before, NO_ROLE) - {"side", "along"}:
            return False
    if end == len(runs):
        return True
    after, gap = runs[end]
    if after.isdigit():
        return gap not in TIGHT or (after in poles and gap in {"-", "/"})
    if not any(run.text.isdigit() for run in runs[first:end]) and after == "OF":
        return False  # END OF FENCE
    return gap != "" or after in poles or after in ROLES


def _grade(runs: Sequence[Run], first: int, end: int, poles: Collection[str]) -> Grade | None:
    """Return how well a number is known; None when a measure or a control point owns it."""
    ahead, behind = _roles_before(runs, first), NO_ROLE
    after = runs[end].text if end < len(runs) else ""
    if after not in poles:
        behind = ROLES.get(after, NO_ROLE)
    owned = "unit" in behind and runs[end - 1].text.isdigit()
    if ahead & {"measure", "control"} or owned or _is_ordinal(runs, end):
        return None
    lettered = after in poles and "side" not in ROLES.get(after, NO_ROLE)
    if end - first == 1 and runs[first].text.isdigit() and not lettered:
        by_direction = "along" in behind or is_behind_direction(runs, first, poles)
        counted = _is_counted(runs, first)
        if by_direction or counted or "distance" in ahead:
            return "maybe"
    named = ahead & {"structure", "leg"} and not _may_be_a_pole(runs, first, end, poles)
    return "named" if named else "stands"


def is_behind_direction(runs: Sequence[Run], at: int, poles: Collection[str]) -> bool:
    """Say whether digits stand behind a direction along the line, BK 25."""
    before = runs[at - 1].text if at else ""
    return "along" in ROLES.get(before, NO_ROLE) and before not in poles


def _roles_before(runs: Sequence[Run], first: int) -> frozenset[Role]:
    """Return what the word before a run does, beside a sign for numbers what the word before that does."""
    before = ROLES.get(runs[first - 1].text, NO_ROLE) if first else NO_ROLE
    if first > 1 and runs[first - 1].text == "#":
        before |= ROLES.get(runs[first - 2].text, NO_ROLE)
    return before


def _is_counted(runs: Sequence[Run], at: int) -> bool:
    """Say whether a digit may tell one guy or shot from another: ANC 2, BIS R2, SHOT 2."""
    ahead = _roles_before(runs, at)
    lettered = "side" in ahead and "structure" not in ahead and runs[at].gap == ""
    return len(runs[at].text) == 1 and ("counted" in ahead or lettered)


def _may_be_a_pole(runs: Sequence[Run], first: int, end: int, poles: Collection[str]) -> bool:
    if end - first == 1:
        before = runs[first - 1].text if first else ""
        named = before == "#" or "leg" in ROLES.get(before, NO_ROLE)
        return named and runs[first].text in PLACES
    return runs[first].text in poles and runs[first + 1].gap == " "


def shaped_numbers(runs: Sequence[Run], poles: Collection[str]) -> list[FoundNumber]:
    """Return what a number may be by its shape: a plain one with its pole, mile and number, or a plain one.

    A plain number needs the word for a structure or a pole in front, or stands first with the letter of a
    pole behind. What may be the size of a pole, 75-2, is one only where nothing else is. Of the numbers
    returned the first that leaves a sense is meant: letters against the digits may belong to it.
    """
    for end_of in (_end_with_pole, _end_of_parts, _end_of_plain, _end_of_size):
        for first, run in enumerate(runs):
            end = end_of(runs, first, poles) if run.text.isdigit() else 0
            if end and _is_apart(runs, first, end, poles):
                ends = (end, *_letters_against(runs, end))
                return [_shaped(runs, first, last) for last in ends]
    return []


def _shaped(runs: Sequence[Run], first: int, end: int) -> FoundNumber:
    return FoundNumber(same_number(_written(runs[first:end])), first, end, "named")


def _end_of_parts(runs: Sequence[Run], first: int, poles: Collection[str]) -> int:
    """Return where a number of two parts ends that is no size of a pole, 0 where there is none."""
    end = _end_of_size(runs, first, poles)
    return 0 if end and SIZE.fullmatch(_written(runs[first:end])) else end


def _end_of_size(runs: Sequence[Run], first: int, _poles: Collection[str]) -> int:
    if first + 1 == len(runs) or not runs[first + 1].text.isdigit():
        return 0
    if runs[first + 1].gap.strip() not in {"/", "-"} or len(runs[first].text) > 5:
        return 0
    return _with_decimals(runs, first + 2) if len(runs[first + 1].text) < 7 else 0


def _end_with_pole(runs: Sequence[Run], first: int, poles: Collection[str]) -> int:
    """Return where a plain number ends that has the word for a pole behind it."""
    end = _end_of_plain(runs, first, poles)
    return end if end and end < len(runs) and runs[end].text in poles else 0


def _end_of_plain(runs: Sequence[Run], first: int, poles: Collection[str]) -> int:
    end = _with_decimals(runs, first + 1)
    if len(runs[first].text) > 6 or _may_be_a_pole(runs, first, first + 1, poles):
        return 0
    named = _roles_before(runs, first) & {"structure", "leg"}
    bare = not first and end == 1 < len(runs) and runs[1].text in poles and not runs[1].gap.strip(" \t-_")
    return end if named or bare else 0


def _with_decimals(runs: Sequence[Run], end: int) -> int:
    more = end < len(runs) and runs[end].gap == "." and runs[end].text.isdigit() and len(runs[end].text) < 3
    return end + more


def _is_apart(runs: Sequence[Run], first: int, end: int, poles: Collection[str]) -> bool:
    """Say whether a shape is no part of a longer number or word; a letter or two may stand against it."""
    if first and runs[first].gap in {"", *TIGHT}:
        before = runs[first - 1].text
        if before not in poles and not ROLES.get(before, NO_ROLE) & {"structure", "leg"}:
            return False
    if end == len(runs):
        return True
    after, gap = runs[end]
    if after.isdigit():
        return gap not in TIGHT
    return gap != "" or after in ROLES or len(after) < 3


def _letters_against(runs: Sequence[Run], end: int) -> Iterator[int]:
    """Yield where a number ends with one letter, or two, that stand against it."""
    for last in (end, end + 1):
        if last == len(runs) or runs[last].gap or len(runs[last].text) > 2:
            return
        if runs[last].text in ROLES and (len(runs[last].text) > 1 or runs[last].text in {"#", "P"}):
            return
        yield last + 1


def chain_at(runs: Sequence[Run], at: int, end: int) -> str:
    """Return digits from a run on that hang together, before the run at `end`."""
    last = at + 1
    while last < end and runs[last].text.isdigit() and runs[last].gap in TIGHT:
        last += 1
    return _written(runs[at:last])


def is_measured(runs: Sequence[Run], at: int) -> bool:
    """Say whether digits belong to the word before or behind them: EL 45, ANC 2, BIS R2, 10 FT, 2ND."""
    if "measure" in _roles_before(runs, at) or _is_counted(runs, at):
        return True
    after = runs[at + 1].text if at + 1 < len(runs) else ""
    return _is_ordinal(runs, at + 1) or "unit" in ROLES.get(after, NO_ROLE)


def _is_ordinal(runs: Sequence[Run], at: int) -> bool:
    """Say whether a run makes the digits before it a place in an order: 2ND."""
    if at >= len(runs) or runs[at].gap:
        return False
    return runs[at - 1].text.isdigit() and runs[at].text in {"ST", "ND", "RD", "TH"}


def roles_at(runs: Sequence[Run], at: int, number: FoundNumber) -> frozenset[Role] | None:
    """Return what a word does where it stands beside a number; None for one that is not known there.

    A unit is one behind digits alone, a measure one beside digits that are not the number's; against the
    number M stands for the mile.
    """
    roles = ROLES.get(runs[at].text)
    if _is_ordinal(runs, at):
        return ROLES["SHOT"]
    if roles is None or not roles & {"unit", "measure"}:
        return roles
    if roles == _UNIT and at + 1 == number.first:
        return ROLES["MI"]
    near = [*runs[at + 1 : at + 3]] if "measure" in roles else []
    if at and (at != number.end or "unit" in roles):
        near.append(runs[at - 1])
    return roles if roles > _UNIT or any(run.text.isdigit() for run in near) else None
