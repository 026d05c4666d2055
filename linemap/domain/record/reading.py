"""What was measured or seen with a record: a value with its unit, held against what is declared of it.

A note is no reading, whatever stands in it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from math import isfinite
from types import MappingProxyType
from typing import Any

from linemap.domain.design.lengths import parse_feet_inches
from linemap.domain.finding.phrase import BY_LETTER, Called, listed_poles, pole_names
from linemap.domain.record.reading_type import READINGS, ReadingType

#: Characters of a reading that is a text.
_LONGEST = 200
#: Other ways people write the signs, without blanks, lower case.
_SPELLED: Mapping[str, str] = MappingProxyType(
    {
        "feet": "ft", "foot": "ft", "'": "ft", "ift": "ft", "ftus": "ft", "usft": "ft",
        "inch": "in", "inches": "in", '"': "in", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
        "kmh": "km/h", "kph": "km/h", "knots": "kn", "knot": "kn", "kt": "kn", "kts": "kn",
        "ohm": "ohms", "ω": "ohms", "in/10ft": "in/10 ft", "inper10ft": "in/10 ft", "inft": "in/10 ft",
        "percent": "%",
    }
)  # fmt: skip


_SIGNS = frozenset(unit for known in READINGS.values() for unit in known.units)
_RANK = MappingProxyType({name: place for place, name in enumerate(READINGS)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One thing measured or seen, as it was entered: nothing is converted, so nothing is lost."""

    #: Key in `READINGS`.
    name: str
    value: float | bool | str
    #: Sign of the unit the value is in; "" = it has none.
    unit: str = ""
    #: Pole letter; "" = what the record itself is about.
    pole: str = ""

    def to_values(self) -> dict[str, Any]:
        """Return what it is made of as JSON values; what is not given is left out."""
        return {
            name: value
            for name in ("name", "value", "unit", "pole")
            if (value := getattr(self, name)) != "" or name == "value"
        }

    def reworded(self, change: Callable[[str], str]) -> Reading:
        """Return it with what people wrote changed; what cannot hold a name or a place stays."""
        free = isinstance(self.value, str) and (known := READINGS.get(self.name)) is not None and known.free
        return replace(self, value=change(str(self.value))) if free else self

    def words(self, called: Called = BY_LETTER) -> str:
        """Say it for people; "" when its text was taken out.

        >>> Reading(name="depth", value=9.5, unit="ft", pole="A").words()
        'depth 9.5 ft at A'
        >>> Reading(name="level", value=False).words()
        'arm not level'
        """
        known = READINGS.get(self.name)
        at = f" at {listed_poles(self.pole, called)}" if self.pole else ""
        if isinstance(self.value, bool):
            yes, no = (known.says if known else f"{self.name}|no {self.name}").split("|")
            return (yes if self.value else no).format(at=at)
        if self.value == "":
            return ""
        value = self.value if isinstance(self.value, str) else f"{self.value:g} {self.unit}".strip()
        return (known.says if known else f"{self.name} {{value}}{{at}}").format(value=value, at=at)


def words_of(readings: Iterable[Reading], called: Called = BY_LETTER) -> str:
    """Say readings one after the other.

    >>> words_of([Reading(name="wind", value=18.0, unit="mph"), Reading(name="ohms", value=8.4, unit="ohms")])
    'wind 18 mph, 8.4 ohms'
    """
    return ", ".join(filter(None, (reading.words(called) for reading in readings)))


def unit_sign(text: str) -> str:
    """Return the sign of a unit as people write it; the text itself when it is none.

    >>> unit_sign("Feet"), unit_sign("Ohms"), unit_sign("furlongs")
    ('ft', 'ohms', 'furlongs')
    """
    word = "".join(text.split()).casefold().rstrip(".")
    return _SPELLED.get(word, word if word in _SIGNS else text.strip())


def make_reading(name: str, value: float | bool | str, *, unit: str = "", pole: str = "") -> Reading:
    r"""Return a reading, held against what is declared of it.

    Feet and inches may be given as text, like 9'-6", where the unit may be feet. `unit` is the sign as people
    write it, "" = the first one declared; `pole` its letter, "" = what the record is about.

    Raises
    ------
    ValueError
        One sentence that names the reading and the value, if there is no such reading, the value is of
        another kind or out of range, the unit is none of its units, or a pole is missing or out of place.

    >>> make_reading("depth", "9'-6\"", pole="B")
    Reading(name='depth', value=9.5, unit='ft', pole='B')
    """
    known = READINGS.get(name)
    if known is None:
        raise ValueError(f"{name!r} is no reading; use one of {', '.join(READINGS)}")
    if pole and (known.of == "structure" or pole not in {"A", "B", "C"}):
        why = "is of the whole structure" if known.of == "structure" else "names the pole A, B or C"
        raise ValueError(f"{name} {value!r} at {pole!r}: {name} {why}")
    if known.of == "one pole" and not pole and value:
        raise ValueError(f"{name} {value!r} names no pole; say which pole is low")
    sign = unit_sign(unit) if unit else next(iter(known.units), "")
    if sign and sign not in known.units:
        asked = f"use {', '.join(known.units)}" if known.units else "it has no unit"
        raise ValueError(f"{name} {value!r} is in {unit!r}; {asked}")
    return Reading(name=name, value=_CHECKS[known.kind](known, value, sign), unit=sign, pole=pole)


def put_in_order(
    readings: Iterable[Reading], *, pole: str, called: Called = BY_LETTER
) -> tuple[Reading, ...]:
    """Return the readings of one record in the order of `READINGS`, that of its own pole without its letter.

    Raises
    ------
    ValueError
        If one is given twice, or is of another pole than the record.
    """
    found: dict[tuple[str, str], Reading] = {}
    for reading in readings:
        known = READINGS[reading.name]
        if known.of == "pole" and pole and reading.pole not in {"", pole}:
            other = f"is in a record of {pole_names(pole, called)}; record it for its own pole"
            raise ValueError(f"{reading.words(called)} {other}")
        own = replace(reading, pole="") if known.of == "pole" and reading.pole == pole else reading
        if (own.name, own.pole) in found:
            twice = words_of((found[own.name, own.pole], own), called)
            raise ValueError(f"{own.name} is given twice: {twice}")
        found[own.name, own.pole] = own
    return tuple(found[key] for key in sorted(found, key=lambda key: (_RANK[key[0]], key[1])))


def _number(known: ReadingType, value: float | bool | str, unit: str) -> float:
    if isinstance(value, str) and "ft" in known.units and unit == "ft":
        try:
            value = parse_feet_inches(value)
        except ValueError as error:
            raise ValueError(f"{known.name}: {error}, or in decimals like 9.5") from None
    if isinstance(value, bool | str) or not isfinite(value):
        raise ValueError(f"{known.name} {value!r} is no number; give one in {' or '.join(known.units)}")
    first = known.units[0]
    measured = known.in_first(value, unit)
    if not known.least - 1e-9 <= measured <= known.most + 1e-9:
        raise ValueError(
            f"{known.name} {value:g} {unit} cannot be; it lies between {known.least:g} and "
            f"{known.most:g} {first}"
        )
    return float(value) + 0.0  # no negative zero


def _answer(known: ReadingType, value: float | bool | str, _unit: str) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"{known.name} {value!r} is neither yes nor no; say one of them")
    return value


def _text(known: ReadingType, value: float | bool | str, _unit: str) -> str:
    words = value.strip() if isinstance(value, str) else ""
    if not words or len(words) > _LONGEST or not words.isprintable():
        raise ValueError(
            f"{known.name} {value!r} is no line of text; write at most {_LONGEST} signs, or leave it out"
        )
    return words


_CHECKS: Mapping[str, Callable[[ReadingType, float | bool | str, str], float | bool | str]] = {
    "number": _number,
    "yes or no": _answer,
    "text": _text,
}
