"""How a job names its structures and poles: the numbers of its list as written, and the owner's pole words.

A number has one home, the structure list, and is shown as it stands there. Records, other lists, phones and
people may write it in any way (`ListedNumbers`); what was kept under another spelling follows when a new list
writes the same structures another way (`respelled`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cache, cached_property
from itertools import chain
from typing import Any, TypeVar

from linemap.domain.design.list_numbers import NumbersOfLists
from linemap.domain.design.number import Run, in_one_spelling, number_form, runs_of, same_number, spelled
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.finding.phrase import Called

R = TypeVar("R")


class AmbiguousNumber(ValueError):  # noqa: N818 - named by what it is
    """A text by which several listed structures may be meant; `numbers` are they, as listed."""

    def __init__(self, text: str, numbers: Iterable[str]) -> None:
        self.numbers = tuple(numbers)
        super().__init__(
            f"{text!r} may be structure {' or '.join(self.numbers)}, which the structure list tells apart; "
            "write it exactly as listed"
        )


class ListedNumbers:
    """The structure numbers of a job as its lists write them, and what else is read as one of them.

    Parameters
    ----------
    numbers : mapping
        Line name -> number -> how many poles it has. Without any, every number has its one spelling
        (`same_number`).
    """

    def __init__(self, numbers: Mapping[str, Mapping[str, int]] | None = None) -> None:
        #: What it was made of.
        self.numbers = {} if numbers is None else numbers
        self._forms: dict[str, dict[str, list[str]]] = {}
        #: (line, number as listed) -> other spellings it was kept under.
        self._kept_as: dict[tuple[str, str], set[str]] = {}

    def __bool__(self) -> bool:
        return any(self.numbers.values())

    @cached_property
    def is_plain(self) -> bool:
        """True when every number stands in its one spelling, so that none needs to be looked for."""
        return all(map(in_one_spelling, chain.from_iterable(self.numbers.values())))

    def has(self, text: str, line: str = "") -> bool:
        """Say whether a number is listed exactly so, on a line, or on any."""
        if line:
            return text in self.numbers.get(line, ())
        return any(text in listed for listed in self.numbers.values())

    def poles(self, number: str, line: str = "") -> int:
        """Return how many poles a listed structure has; 2 where it is in no list."""
        return next((self.numbers[name].get(number, 2) for name in self._lines(line)), 2)

    def meant(self, text: str, line: str = "") -> tuple[str, ...]:
        """Return the listed numbers that may be meant: the one written so, else all that differ in writing.

        >>> listed = ListedNumbers({"N": {"45": 2, "045": 2, "12-3": 3}})
        >>> listed.meant("STR 045"), listed.meant("0045"), listed.meant("12/03"), listed.meant("46")
        (('045',), ('45', '045'), ('12-3',), ())
        """
        if not self or self.has(text, line):
            return (text,) if self else ()
        bare = spelled(text)
        if bare and self.has(bare, line):
            return (bare,)
        form = number_form(bare)
        if self.is_plain:
            return (form,) if self.has(form, line) else ()
        found = {each: None for name in self._lines(line) for each in self._of_form(name).get(form, ())}
        exact = [each for each in found if each.casefold() == bare.casefold()]
        return tuple(exact if len(exact) == 1 else found)

    def find(self, text: str, line: str = "") -> str:
        """Return a number as the list writes it; one that is in no list in its one spelling.

        Raises
        ------
        AmbiguousNumber
            If it may be several of the list.
        """
        found = self.meant(text, line)
        if len(found) > 1:
            raise AmbiguousNumber(text, found)
        return found[0] if found else same_number(text)

    def shown(self, text: str, line: str = "") -> str:
        """Return a kept number as the list writes it now; one that may be several, or none, as it stands."""
        if self.has(text, line):
            return text
        found = self.meant(text, line)
        if len(found) != 1:
            return text
        self._kept_as.setdefault((line, found[0]), set()).add(text)
        return found[0]

    def kept_as(self, line: str, number: str) -> set[str]:
        """Return the spellings under which records of a structure may be kept."""
        return {number, same_number(number), *self._kept_as.get((line, number), ())}

    @cached_property
    def by_runs(self) -> Mapping[tuple[str, ...], Mapping[str, Sequence[Run]]]:
        """The letters and digits of a number, without leading zeros -> the listed numbers made of them."""
        found: dict[tuple[str, ...], dict[str, Sequence[Run]]] = {}
        for number in dict.fromkeys(chain.from_iterable(self.numbers.values())):
            if runs := runs_of(number.upper()):
                found.setdefault(tuple(run.bare for run in runs), {})[number] = runs
        return found

    @cached_property
    def series(self) -> frozenset[str]:
        """The words that numbers begin with: DE of DE-1."""
        return frozenset(runs[0] for runs in self.by_runs if len(runs) > 1 and not runs[0].isdigit())

    @cached_property
    def longest(self) -> int:
        """How many runs of letters or digits the longest number has."""
        return max(map(len, self.by_runs), default=0)

    def form(self, text: str) -> str:
        """Return what stays of a number however it is written; the number itself where the list needs it."""
        form = number_form(text)
        if self.is_plain:
            return form
        alike = (self._of_form(line).get(form, ()) for line in self._lines(""))
        return text if any(len(numbers) > 1 for numbers in alike) else form

    def alike(self) -> list[tuple[str, tuple[str, ...]]]:
        """Return (line, numbers) of those a list tells apart by their writing alone."""
        return [
            (line, tuple(numbers))
            for line in (() if self.is_plain else self.numbers)
            for numbers in self._of_form(line).values()
            if len(numbers) > 1
        ]

    def _lines(self, line: str) -> Iterable[str]:
        return self.numbers if not line else (line,) if line in self.numbers else ()

    def _of_form(self, line: str) -> Mapping[str, list[str]]:
        if line not in self._forms:
            forms = self._forms[line] = {}
            for number in self.numbers[line]:
                forms.setdefault(number_form(number), []).append(number)
        return self._forms[line]


#: Fields of records that name structures.
_NAMING_FIELDS = frozenset(
    {"structure", "structures", "from_structure", "to_structure", "back_structure", "ahead_structure"}
)


@cache
def naming_fields(record: Any) -> tuple[str, ...]:
    """Return the fields of a class of records that name structures."""
    return tuple(each.name for each in fields(record) if each.name in _NAMING_FIELDS)


def respelled(record: R, listed: ListedNumbers) -> R:
    """Return a record with its structures as the list writes them now; itself where it names them so."""
    line = getattr(record, "line", "")
    changed: dict[str, Any] = {}
    kind: Any = type(record)
    for name in naming_fields(kind):
        value = getattr(record, name)
        if isinstance(value, str):
            now: Any = listed.shown(value, line) if value else value
        else:
            now = tuple(listed.shown(each, line) for each in value)
        if now != value:
            changed[name] = now
    return replace(record, **changed) if changed else record  # type: ignore[type-var]


#: How a number without an insertion is built, by the style of numbering.
_STYLES = {
    "any": r".+",
    "mile/number": r"(?P<mile>\d{1,5})\s*[/\-]\s*(?P<number>\d{1,6})",
    "kilometre/number": r"(?P<kilometre>\d{1,5})\s*[/\-]\s*(?P<number>\d{1,6})",
    "plain": r"(?P<number>\d{1,6})",
    "letters": r"(?P<series>[A-Z]{1,6})[\s.\-]*(?P<number>\d{1,6})",
}
_INSERTED = {"letter": r"[A-Z]{1,2}", "decimal": r"\.\d{1,2}", "dash": r"-\d{1,2}"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbering:
    """How an owner numbers structures; names without a digit (END, POB) are in every numbering."""

    #: "any", "mile/number", "kilometre/number", "plain" or "letters".
    style: str = "any"
    #: What tells an inserted structure: "letter" (12/3A), "decimal" (12/3.5), "dash" (45-1); "" = any.
    inserted: str = ""

    @classmethod
    def parse(cls, text: str) -> Numbering:
        """Read a style and what tells an inserted structure.

        Raises
        ------
        ValueError
            If it is none linemap knows.

        >>> Numbering.parse("Mile / Number, inserted letter")
        Numbering(style='mile/number', inserted='letter')
        """
        style, _, inserted = (" ".join(part.casefold().split()) for part in text.partition(","))
        style = style.replace(" / ", "/").replace("km/", "kilometre/") or "any"
        inserted = inserted.removeprefix("inserted").strip()
        if style not in _STYLES or inserted not in {"", *_INSERTED}:
            raise ValueError(
                f"no numbering linemap knows; use one of {', '.join(_STYLES)}, and behind a comma inserted "
                f"{' or '.join(_INSERTED)}"
            )
        return cls(style=style, inserted=inserted)

    def parts(self, number: str) -> dict[str, str] | None:
        """Return the parts of a number by their names; None when it is not built so.

        >>> numbering = Numbering(style="mile/number")
        >>> numbering.parts("12-03A"), numbering.parts("T-45"), numbering.parts("END")
        ({'mile': '12', 'number': '03', 'inserted': 'A'}, None, {'name': 'END'})
        """
        text = number.upper()
        if not any(sign.isdigit() for sign in text):
            return {"name": number}
        styles = [self.style] if self.style != "any" else [style for style in _STYLES if style != "any"]
        inserted = _INSERTED[self.inserted] if self.inserted else "|".join(_INSERTED.values())
        for style in styles:
            found = re.fullmatch(rf"{_STYLES[style]}(?P<inserted>{inserted})?", text)
            if found:
                return {name: part for name, part in found.groupdict().items() if part}
        return None

    def beside(self, number: str) -> str:
        """Return the number that an inserted one stands beside; "" when it is no inserted one."""
        inserted = (self.parts(number) or {}).get("inserted", "")
        return number[: -len(inserted)] if inserted else ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Naming:
    """How a job names its structures and their poles; the default is that of a job without a list."""

    listed: ListedNumbers = field(default_factory=ListedNumbers)
    poles: PoleWords = field(default_factory=PoleWords)
    numbering: Numbering = field(default_factory=Numbering)
    #: The numbers that earlier lists gave, under which records are kept.
    numbers: NumbersOfLists = field(default_factory=NumbersOfLists)

    def letters(self, text: str, number: str, line: str = "") -> str:
        """Read which poles of a structure a text names; "" when it names none."""
        return self.poles.letters(text, self.listed.poles(number, line))

    def called(self, key: tuple[str, str]) -> Called:
        """Return what the owner calls the poles of the structure of (line, number), by their letters."""
        line, number = key
        return self.poles.called(self.listed.poles(number, line))


#: Of what is read without a job.
UNNAMED = Naming()
