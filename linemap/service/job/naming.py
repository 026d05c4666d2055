"""How a job names its structures and poles: what it declares of it, and what that comes to with its lists."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, TypeVar

from linemap.domain.design.list_numbers import ListOfLine, NumbersOfLists, numbers_of
from linemap.domain.design.naming import ListedNumbers, Naming, Numbering
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.design.structure import Structures, StructureType
from linemap.errors import InputRefused
from linemap.service.job.setting import Known, Setting
from linemap.store.states import ListState
from linemap.store.structures import RecordedChange

T = TypeVar("T")


def read_pole_words(text: str) -> PoleWords:
    """Read what an owner calls the poles, in the order of A, B and C; "" gives A, B and C.

    >>> read_pole_words("l/r").two
    ('L', 'R')
    """
    return _parsed(PoleWords.parse, text, "--pole-words")


def read_numbering(text: str) -> Numbering:
    """Read how an owner numbers structures; "" gives any way.

    >>> read_numbering("plain, inserted dash")
    Numbering(style='plain', inserted='dash')
    """
    return _parsed(Numbering.parse, text, "--numbering")


def _parsed(parse: Callable[[str], T], text: str, option: str) -> T:
    try:
        return parse(text)
    except ValueError as error:
        reason, _, remedy = str(error).partition("; ")
        raise InputRefused.at(option, text, reason, remedy) from None


def _pole_words(text: str, _known: Known) -> str:
    return "/".join(read_pole_words(text).three)


def _numbering(text: str, _known: Known) -> str:
    found = read_numbering(text)
    return found.style + (f", inserted {found.inserted}" if found.inserted else "")


#: What a job declares of its names; see `linemap.service.job.registry`.
NAMING = (
    Setting(
        "numbering",
        "numbering of structures",
        "line",
        means="how the owner numbers structures (mile/number, kilometre/number, plain, letters, any), and "
        "what tells an inserted one (letter, decimal, dash); no number of a list is changed",
        example="mile/number, inserted letter",
        read=_numbering,
        shows="structure lists, records beside inserted structures, preview",
    ),
    Setting(
        "pole_words",
        "words for the poles",
        "line",
        means="what the owner calls poles A and B, or A, B and C; whatever a person reads names them so, "
        "what is loaded from now on is read by them, and A, B, C stay understood; stakes keep A, B, C",
        example="L/R",
        read=_pole_words,
        shows="every page, phone card, paper and command, preview",
    ),
)


def declared_naming(settings: Mapping[str, Any], listed: ListedNumbers) -> Naming:
    """Return how a job names its structures and poles by what it declares."""
    return Naming(
        listed=listed,
        poles=read_pole_words(str(settings.get("pole_words") or "")),
        numbering=read_numbering(str(settings.get("numbering") or "")),
    )


def naming_of(
    structures: Structures,
    types: Iterable[StructureType] = (),
    settings: Mapping[str, Any] = MappingProxyType({}),
) -> Naming:
    """Return how structure lists name their structures; the type table may know of more poles."""
    poles = {each.code: each.pole_count for each in types}
    listed: dict[str, dict[str, int]] = {}
    columns = (structures.line, structures.number, structures.pole_count.tolist(), structures.type_code)
    for line, number, count, code in zip(*columns, strict=True):
        listed.setdefault(line, {})[number] = max(count, poles.get(code, 0))
    return declared_naming(settings, ListedNumbers(listed))


def numbers_given(
    states: Iterable[ListState], changed: Iterable[tuple[str, RecordedChange]]
) -> NumbersOfLists:
    """Return the numbers that the structure lists of each line gave, by what each changed.

    What a list leaves out, giving its number to another structure, goes on under a name of its own.
    """
    given: dict[tuple[str, dt.datetime], dict[str, str]] = {}
    gone: dict[tuple[str, dt.datetime], list[str]] = {}
    for line, each in changed:
        at, values = (line, each.loaded_at), each.change.values
        if each.kind == "structures" and values.get("field") == "number":
            given.setdefault(at, {})[str(values["old"])] = str(values["new"])
        elif each.kind == "structures" and each.change.change == "removed":
            gone.setdefault(at, []).append(each.change.number)
    lists = []
    for state in states:
        numbers = given.get((state.line, state.loaded_at), {})
        named = ListOfLine(at=state.loaded_at, label=state.label, renumbered=numbers)
        taken = {
            number: f"{number} before {named.revision}"
            for number in gone.get((state.line, state.loaded_at), ())
            if number in numbers.values()
        }
        lists.append((state.line, replace(named, renumbered={**numbers, **taken})))
    return numbers_of(lists)


def with_listed(naming: Naming, lists: Iterable[Structures]) -> Naming:
    """Return a naming of which lines have the numbers of new lists, as after these are stored."""
    listed: dict[str, Mapping[str, int]] = dict(naming.listed.numbers)
    for structures in lists:
        listed |= naming_of(structures).listed.numbers
    return replace(naming, listed=ListedNumbers(listed))
