"""What a shot description means once one of its numbers is taken for the structure."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, Literal

from linemap.domain.design.number import Run
from linemap.domain.survey.description_numbers import (
    SIZE,
    TIGHT,
    FoundNumber,
    chain_at,
    is_behind_direction,
    is_measured,
    roles_at,
)
from linemap.domain.survey.description_words import ITEMS, JOINING, NO_ROLE, PLACES, ROLES, Role
from linemap.domain.survey.shot import ParsedDescription, ShotItem

#: Items that are what they are beside any word, and others, in the order in which words name them: the hub of
#: an anchor is a hub.
_FIRM: Final[tuple[ShotItem, ...]] = ("crossing", "hub", "anchor")
_ITEMS: Final[tuple[ShotItem, ...]] = (*_FIRM, "top", "tip", "face", "centre", "ground")
#: Items of which the side, or the direction along the line, is told.
_SIDED: Final = frozenset({"hub", "anchor", "tip", "face"})
#: Items of which a description has one alone.
_ALONE: Final = frozenset({"anchor", "top", "tip", "face", "centre"})
#: Of a description with more words that may be two things nothing is made sense of.
_MOST_OPEN: Final = 5

#: What a run may be in the sentence: the pole, the item, a direction, understood, or not understood.
_Part = Literal["pole", "item", "side", "plain", "bad"]
_POLE: Final[tuple[_Part, ...]] = ("pole",)
_SIDE: Final[tuple[_Part, ...]] = ("side",)
_PLAIN: Final[tuple[_Part, ...]] = ("plain",)
_BAD: Final[tuple[_Part, ...]] = ("bad",)


class Sense:
    """A description of which one number is taken for the structure, and what the rest may then mean.

    Parameters
    ----------
    runs, number
        The description, and the number in it that is taken for the structure.
    others
        All numbers found in it.
    poles
        Word for a pole of this structure -> its letter.
    strict
        False where words that are not known, and other numbers, say nothing.
    """

    def __init__(
        self,
        runs: Sequence[Run],
        number: FoundNumber,
        others: Sequence[FoundNumber],
        poles: Mapping[str, str],
        *,
        strict: bool,
    ) -> None:
        self._runs, self._number, self._poles = runs, number, poles
        self._others = [each for each in others if each.end <= number.first or each.first >= number.end]
        self._rest = [at for at in range(len(runs)) if not number.first <= at < number.end]
        words = [runs[at].text for at in self._rest if runs[at].text not in poles]
        self._roles = frozenset[Role]().union(*(ROLES.get(word, NO_ROLE) for word in words))
        self._items = {ITEMS[word] for word in words if word in ITEMS}
        #: True where an anchor or its hub is named: these have a structure.
        self.names_anchor = "anchor" in self._items
        #: The item that the words name; "other" where they name none.
        self.item = self._named_item()
        #: What belongs to no structure is known by one word.
        self._strict = strict and self.item not in {"check", "crossing"}

    def _named_item(self) -> ShotItem:
        alone = self._number.number == ""
        if "control" in self._roles or (alone and "check" in self._roles):
            return "check"
        if not self._items & {"crossing", "anchor"} and any(map(self._is_offset, self._rest)):
            return "hub"
        known = _FIRM if alone and "foreign" in self._roles else _ITEMS
        return next((item for item in known if item in self._items), "other")

    def readings(self) -> Iterator[ParsedDescription]:
        """Yield what the description may mean."""
        choices = [self._parts(at) for at in self._rest]
        if _BAD in choices or sum(len(each) > 1 for each in choices) > _MOST_OPEN:
            return
        for parts in itertools.product(*choices):
            pole, item = self._pole_of(parts), self._item_of(parts)
            found = None if pole is None or item is None else self._judged(pole, item)
            if found is not None:
                yield found

    def guesses(self) -> Iterator[ParsedDescription]:
        """Yield what the description may be about, where it has no clear meaning."""
        number = self._number.number
        letters = [self._poles[word] for at in self._rest if (word := self._runs[at].text) in self._poles]
        for letter in letters:
            yield ParsedDescription(structure=number, pole=letter, item="pole")
        if self.item != "other" or not letters:
            yield ParsedDescription(structure=number, item=self.item)
        if self._number.needs_pole and number in PLACES:
            yield ParsedDescription(pole=PLACES[number], item="pole")

    def _pole_of(self, parts: Sequence[_Part]) -> str | None:
        """Return the letter named, "" where none is; None when poles are named that are not one."""
        named = [at for at, part in zip(self._rest, parts, strict=True) if part == "pole"]
        letters = {self._poles[self._runs[at].text] for at in named}
        if len(letters) > 1 or not all(itertools.starmap(self._has_digits, itertools.pairwise(named))):
            return None
        return next(iter(letters), "")

    def _has_digits(self, first: int, last: int) -> bool:
        """Say whether digits stand between two runs, those of the number itself left out."""
        return any(self._runs[at].text.isdigit() for at in self._rest if first < at < last)

    def _is_cut_off(self, at: int) -> bool:
        """Say whether other numbers, sides or words that are not known stand between a run and the number."""
        same = {where for each in self._others if each.number == self._number.number for where in each.span}
        first, last = sorted((self._number.first, at))
        between = (self._runs[near].text for near in {*self._rest} - same if first < near < last)
        return any(not ROLES.get(word, NO_ROLE) & JOINING for word in between if word not in self._poles)

    def _item_of(self, parts: Sequence[_Part]) -> ShotItem | None:
        """Return the item; None when several are named, or a side of one that has none."""
        item = self.item
        if "item" in parts and item == "other":
            item = "centre"
        elif "item" in parts or (item != "hub" and len(self._items & _ALONE) > 1):
            return None
        return None if "side" in parts and self._strict and item not in _SIDED else item

    def _judged(self, pole: str, item: ShotItem) -> ParsedDescription | None:
        """Return the reading; None when it makes no sense."""
        number = self._number
        if item == "other" and not pole and not self._strict and "check" in self._roles:
            item = "check"
        if item in {"check", "crossing"}:
            return None if pole and item == "check" else ParsedDescription(item=item)
        if pole and not self._may_have_pole(item):
            return None
        if not pole and (number.needs_pole or (item == "other" and not self._may_stand_alone())):
            return None
        named: ShotItem = "pole" if pole and item in {"other", "ground"} else item
        return ParsedDescription(structure=number.number, pole=pole, item=named)

    def _may_have_pole(self, item: ShotItem) -> bool:
        """Say whether a pole may be named: a centre has none, an anchor hub none against its number."""
        if item == "centre" or "centre" in self._items:
            return False
        glued = self._number.end < len(self._runs) and self._runs[self._number.end].gap == ""
        return not (glued and {"anchor", "hub"} <= self._items)

    def _may_stand_alone(self) -> bool:
        """Say whether a number may stand without pole and item: a lone count may be anything."""
        number = self._number
        lone = number.end - number.first == 1 and self._runs[number.first].text.isdigit()
        return not self._strict or not ("check" in self._roles or (lone and number.grade != "named"))

    def _parts(self, at: int) -> tuple[_Part, ...]:
        """Return what a run may be."""
        word, gap = self._runs[at]
        other = next((each for each in self._others if each.first <= at < each.end), None)
        if other is not None and other.number == self._number.number:
            return _PLAIN
        if word.isdigit():
            return self._digits(at, other)
        if word in self._poles:
            return self._pole_word(at)
        if other is not None and other.grade != "maybe":
            return _BAD
        glued = at == self._number.end and gap == "" and word not in {"#", "P"}
        roles = roles_at(self._runs, at, self._number)
        if glued and (roles is None or len(word) == 1):
            return _BAD
        if roles is None:
            return _BAD if self._strict else _PLAIN
        if "foreign" in roles:
            return _PLAIN if self.item in {"check", "crossing"} else _BAD
        before = at + 1 == self._number.first and "structure" in roles
        return _PLAIN if before or "side" not in roles else _SIDE

    def _pole_word(self, at: int) -> tuple[_Part, ...]:
        """Return what a word for a pole may be: that of the owner's may be a side or the centre too."""
        word, item = self._runs[at].text, self.item
        if self._is_beside_leg(at):
            return _POLE
        roles = ROLES.get(word, NO_ROLE)
        sided = "side" in roles and item in _SIDED
        if not sided and (self._is_of_another(at) or self._is_cut_off(at)):
            return _BAD if self._strict else _PLAIN
        if "structure" in roles and at + 1 == self._number.first:
            return ("pole", "plain")
        if sided:
            return self._side_word(at)
        if word in ITEMS:
            return ("pole", "item")
        if item == "anchor" and word in {"A", "B"} and "along" not in self._roles:
            return ("side", "pole")
        return _POLE

    def _is_of_another(self, at: int) -> bool:
        """Say whether a letter stands against digits that are not the number's."""
        behind = at + 1 in self._rest and self._runs[at + 1].gap == "" and self._runs[at + 1].text.isdigit()
        before = at - 1 in self._rest and self._runs[at].gap == "" and self._runs[at - 1].text.isdigit()
        return behind or before

    def _side_word(self, at: int) -> tuple[_Part, ...]:
        item, word = self.item, self._runs[at].text
        of_digits = at and self._runs[at - 1].text.isdigit() and at != self._number.end
        directions = sum("side" in ROLES.get(self._runs[near].text, NO_ROLE) for near in self._rest)
        if item == "tip" or (self.names_anchor and directions > 1):
            return _SIDE
        if of_digits and "along" in ROLES.get(word, NO_ROLE):
            return _SIDE
        beside = at == self._number.end or at + 1 == self._number.first
        return _POLE if item == "hub" and beside else ("pole", "side")

    def _is_beside_leg(self, at: int) -> bool:
        beside = [self._runs[near].text for near in (at - 1, at + 1) if near in self._rest and near >= 0]
        return any("leg" in ROLES.get(word, NO_ROLE) for word in beside)

    def _digits(self, at: int, other: FoundNumber | None) -> tuple[_Part, ...]:
        if self._continues(at):
            return _PLAIN
        if self._is_pole_digit(at):
            return _POLE if self._chain(at).isdigit() else _BAD
        if other is not None and self._names_another(other):
            return _BAD
        if not self._strict or is_measured(self._runs, at) or self._is_offset(at):
            return _PLAIN
        if other is None:
            return self._uncounted(at)
        if other.grade == "maybe":
            return _PLAIN
        settled = self._number.grade == "named" and other.grade != "named" and at >= self._number.end
        return _PLAIN if settled else _BAD

    def _names_another(self, other: FoundNumber) -> bool:
        """Say whether another number is clearly one of a structure: it has parts, or the letter of a pole."""
        if other.grade != "maybe" and other.end - other.first > 1:
            return True
        behind = self._runs[other.end].text if other.end < len(self._runs) else ""
        return behind in self._poles and "side" not in ROLES.get(behind, NO_ROLE)

    def _uncounted(self, at: int) -> tuple[_Part, ...]:
        """Return what digits are that no list has: a measure, the size of a pole, or a count nobody knows.

        Beside a number that is clearly one of a structure a count of two digits or more says nothing.
        """
        text = self._chain(at)
        if not text.isdigit():
            known = "." in text or "+" in text or SIZE.fullmatch(text)
            return _PLAIN if known else _BAD
        number = self._number
        clear = number.grade == "named" or number.end - number.first > 1
        return _PLAIN if clear and len(text) > 1 and "+" not in self._runs[at].gap else _BAD

    def _chain(self, at: int) -> str:
        return chain_at(self._runs, at, self._number.first if at < self._number.first else len(self._runs))

    def _continues(self, at: int) -> bool:
        """Say whether digits hang together with those before them."""
        before = self._runs[at - 1].text if at and at - 1 in self._rest else ""
        return before.isdigit() and self._runs[at].gap in TIGHT

    def _is_pole_digit(self, at: int) -> bool:
        word, gap = self._runs[at]
        if word not in self._poles:
            return False
        before = self._runs[at - 1].text if at else ""
        if before == "#" or "leg" in ROLES.get(before, NO_ROLE):
            return True
        number = self._number
        if at == number.end:
            return gap.strip() in {"-", "/", "_", "(", "["} or (number.end - number.first > 1 and gap == " ")
        return at + 1 == number.first and self._runs[number.first].gap in {"-", "/"}

    def _is_offset(self, at: int) -> bool:
        """Say whether digits are a distance along the line, or behind the word for an offset."""
        word = self._runs[at].text
        if not word.isdigit() or len(word) > 3 or self._continues(at):
            return False
        if is_behind_direction(self._runs, at, self._poles) and self._chain(at).isdigit():
            return True
        near = at + len(re.findall(r"\d+", self._chain(at)))
        if near < len(self._runs) and "unit" in ROLES.get(self._runs[near].text, NO_ROLE):
            near += 1
        return near in self._rest and "along" in ROLES.get(self._runs[near].text, NO_ROLE)
