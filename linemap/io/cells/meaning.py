"""What a column heading means: the field, and the unit written in the heading.

Headings differ by owner ("Str No", "STRUCTURE", "struct #"), so they are compared without case, blanks and
punctuation against the words the trade uses for each field, as declared. Common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from linemap.domain.kind.kind import Code, Kind, columns_of, extra_of
from linemap.kinds.registry import DECLARED
from linemap.units import LengthUnit

#: Sets of alternatives; at least one alternative of every set must be there in full.
Needs = tuple[tuple[tuple[str, ...], ...], ...]


def words_of(kind: Kind[Any]) -> dict[str, tuple[str, ...]]:
    """Return field -> headings of a declared kind, squeezed, the surest first."""
    columns = (*columns_of(kind), *extra_of(kind))
    return {column.named: tuple(column.cell.words.split()) for column in columns if column.cell.words}


def columns_in_words(kind: Kind[Any]) -> str:
    """Return the columns of a declared kind, each with its unit and the surest of its headings."""
    columns = (*columns_of(kind), *extra_of(kind))
    return "; ".join(
        f"{column.named}{f' in {column.cell.unit}' if column.cell.unit else ''} "
        f"({', '.join(column.cell.words.split()[:3])})"
        for column in columns
        if column.cell.words
    )


def needs_of(kind: Kind[Any]) -> Needs:
    """Return the sets of alternatives of a declared kind, by the names of its columns."""
    named = {column.name: column.named for column in columns_of(kind)}
    return tuple(
        tuple(
            tuple(named.get(each.strip(), each.strip()) for each in choice.split("+"))
            for choice in need.split("|")
        )
        for need in kind.needs
    )


#: Kind -> field -> headings that mean it, squeezed, the surest first.
VOCABULARY: Mapping[Code, Mapping[str, tuple[str, ...]]] = {
    kind: words_of(declared) for kind, declared in DECLARED.items()
}
#: For each kind: sets of alternatives; at least one alternative of every set must be there in full.
NEEDS: Mapping[Code, Needs] = {kind: needs_of(declared) for kind, declared in DECLARED.items()}
#: Fields that say a table is another kind.
FORBIDS: Mapping[Code, tuple[str, ...]] = {kind: declared.forbids for kind, declared in DECLARED.items()}
#: Fields that only help to know a table and its headings; what they hold is computed, not read.
UNREAD: Mapping[Code, tuple[str, ...]] = {
    kind: tuple(column.named for column in extra_of(declared) if column.cell.compared)
    for kind, declared in DECLARED.items()
}

_UNIT_WORDS = {
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "ft": "ft", "feet": "ft", "foot": "ft", "'": "ft",
    "ift": "ift", "intft": "ift", "intlft": "ift", "internationalft": "ift", "internationalfeet": "ift",
    "internationalfoot": "ift",
    "usft": "ftUS", "ftus": "ftUS", "sft": "ftUS", "usfeet": "ftUS", "usfoot": "ftUS", "ussft": "ftUS",
    "ussurveyft": "ftUS", "ussurveyfeet": "ftUS", "ussurveyfoot": "ftUS", "surveyft": "ftUS",
    "surveyfeet": "ftUS", "surveyfoot": "ftUS", "usurveyfoot": "ftUS", "usurveyft": "ftUS",
    "deg": "deg", "degree": "deg", "degrees": "deg", "dms": "deg", "dd": "deg", "°": "deg",
    "kv": "kV", "in": "in", "inch": "in", "inches": "in", "mm": "mm", "cm": "cm", "km": "km", "mi": "mi",
    "mph": "mph", "kmh": "km/h", "kph": "km/h", "kn": "kn", "knots": "kn",
    "inft": "in/10 ft", "inperft": "in/10 ft", "ω": "ohms",
}  # fmt: skip
#: Signs of `Heading.unit` that are lengths of a survey.
LENGTH_UNITS = frozenset({"m", "ft", "ift", "ftUS"})
#: Kind -> all headings that mean anything in it.
_KNOWN: Mapping[Code, frozenset[str]] = {
    kind: frozenset(word for words in fields.values() for word in words)
    for kind, fields in VOCABULARY.items()
}
_BRACKETS = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")
_WORD = re.compile(r"[^\W_]+|#|°")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading taken apart."""

    #: Letters and digits only, lower case, without the unit: "polespacing".
    word: str
    #: "m", "ft" (no word of which foot), "ift", "ftUS", "deg", "kV", ...; "" = none written.
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """A column whose meaning is known."""

    index: int
    #: Heading as written.
    heading: str
    #: Unit written in the heading, as in `Heading.unit`.
    unit: str = ""


def length_unit(sign: str, own: LengthUnit) -> LengthUnit:
    """Return the unit of a length by the sign that is written, as in `Heading.unit`; `own` for none.

    A bare "ft" means the foot of the coordinate reference where that is a foot, else the international.
    """
    if sign == "m":
        return LengthUnit.METRE
    if sign == "ftUS" or (sign == "ft" and own is LengthUnit.US_SURVEY_FOOT):
        return LengthUnit.US_SURVEY_FOOT
    return LengthUnit.FOOT if sign in {"ft", "ift"} else own


def unit_word(text: str) -> str:
    """Return the short sign of a unit as people write it, "" when the text is none.

    >>> unit_word("US Survey Feet"), unit_word("north")
    ('ftUS', '')
    """
    return _UNIT_WORDS.get("".join(ch for ch in text.casefold() if ch.isalpha() or ch in "'°"), "")


@lru_cache(maxsize=4096)
def parse_heading(text: str) -> Heading:
    """Take a heading apart into its meaning and its unit.

    >>> parse_heading("Pole Spacing (ft)"), parse_heading("X_US_ft").unit, parse_heading("Str #").word
    (Heading(word='polespacing', unit='ft'), 'ftUS', 'strno')
    """
    unit = ""
    plain = text
    for bracket in _BRACKETS.finditer(text):
        found = unit_word(bracket[1])
        if found:
            unit = found
            plain = plain.replace(bracket[0], " ")
    words = ["no" if word == "#" else word.casefold() for word in _WORD.findall(_CAMEL.sub(" ", plain))]
    for length in (3, 2, 1):
        found = unit_word("".join(words[-length:])) if len(words) > length else ""
        if found and not unit:
            unit, words = found, words[:-length]
    return Heading(word="".join(words), unit=unit)


def match_headings(headings: Sequence[str], kind: Code) -> dict[str, Match]:
    """Give the columns of a table the meanings its kind knows; the surest heading of each field wins.

    >>> sorted(match_headings(["Str No", "X (ft)", "Northing"], "structures"))
    ['easting', 'northing', 'number']
    """
    return match_parsed(parse_headings(headings), kind)


def parse_headings(headings: Sequence[str]) -> dict[str, Match]:
    """Take the headings of a table apart: squeezed word -> its first column.

    >>> parse_headings(["Str No", "X (ft)"])["x"]
    Match(index=1, heading='X (ft)', unit='ft')
    """
    first: dict[str, Match] = {}
    for index, heading in enumerate(headings):
        parsed = parse_heading(heading) if heading else None
        if parsed and parsed.word and parsed.word not in first:
            first[parsed.word] = Match(index=index, heading=heading.strip(), unit=parsed.unit)
    return first


def match_parsed(first: Mapping[str, Match], kind: Code) -> dict[str, Match]:
    """Give columns already taken apart by `parse_headings` the meanings of a kind."""
    if first.keys().isdisjoint(_KNOWN[kind]):
        return {}
    matches: dict[str, Match] = {}
    for name, words in VOCABULARY[kind].items():
        word = next((word for word in words if word in first), "")
        if word:
            matches[name] = first[word]
    return matches


def satisfies(fields: Collection[str], kind: Code) -> bool:
    """Say whether the fields are enough to read a table as `kind`.

    >>> satisfies(["number", "longitude", "latitude"], "structures"), satisfies(["number"], "structures")
    (True, False)
    """
    return not unmet_needs(fields, kind) and set(fields).isdisjoint(FORBIDS.get(kind, ()))


def unmet_needs(fields: Collection[str], kind: Code) -> Needs:
    """Return the sets of alternatives of a kind of which the fields hold none in full.

    Where they hold a part of one, what is missing of it stands alone.

    >>> unmet_needs(["number", "easting"], "structures")
    ((('northing',),),)
    """
    held = set(fields)
    unmet = []
    for need in NEEDS[kind]:
        if not any(held.issuperset(choice) for choice in need):
            begun = (choice for choice in need if held.intersection(choice))
            unmet.append(
                tuple(tuple(each for each in choice if each not in held) for choice in begun) or need
            )
    return tuple(unmet)


def describe_need(kind: Code) -> str:
    """Say in words which columns a kind needs.

    >>> describe_need("structures")
    'number; easting, northing or longitude, latitude or geometry'
    """
    return "; ".join(map(need_words, NEEDS[kind]))


def need_words(need: tuple[tuple[str, ...], ...]) -> str:
    """Say in words which columns one set of alternatives asks for."""
    return " or ".join(", ".join(choice) for choice in need)
