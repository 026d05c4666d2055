"""Consequences of a change: their codes and sentences, gathered with the gravest first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from linemap.answers.change import Consequence, Effect, LonLat, Weight
from linemap.service.view.view import JobView

#: Effects of one consequence that are told one by one.
_SHOWN = 200
#: Line name and structure number.
Key = tuple[str, str]


class _Code(NamedTuple):
    weight: Weight
    #: What happens, of one and of several: "{count}" is how many.
    one: str
    several: str


def _of(weight: Weight, noun: str, one: str, several: str = "") -> _Code:
    return _Code(weight, f"1 {noun} {one}", f"{{count}} {noun}s {several or one}")


#: Every consequence there is, the gravest first.
_CODES: Mapping[str, _Code] = {
    "record without structure": _of("harm", "structure", "with records is no longer where recorded",
                                    "with records are no longer where recorded"),
    "held back no more": _of("harm", "record", "that holds people back ends", "that hold people back end"),
    "place held no more": _of("harm", "place", "is held back no more", "are held back no more"),
    "centreline moved": _of("harm", "centreline", "takes another course", "take another course"),
    "becomes workable": _of("look", "step", "becomes workable by the records",
                            "become workable by the records"),
    "stops being workable": _of("look", "step", "stops being workable", "stop being workable"),
    "moved": _of("look", "structure", "moves", "move"),
    "renumbered": _of("look", "structure", "gets another number", "get other numbers"),
    "records follow": _of("look", "structure", "takes its records to another number",
                          "take their records to other numbers"),
    "written anew": _of("note", "structure", "is written another way", "are written another way"),
    "removed": _of("look", "structure", "is taken out", "are taken out"),
    "verdict": _of("look", "verdict", "changes", "change"),
    "finding": _of("look", "finding", "is new", "are new"),
    "marks": _of("look", "structure", "is marked otherwise", "are marked otherwise"),
    "taken out": _of("look", "listed record", "is taken out", "are taken out"),
    "changed": _of("note", "structure", "is described otherwise", "are described otherwise"),
    "list changed": _of("note", "listed record", "reads otherwise", "read otherwise"),
    "added": _of("note", "structure", "is added", "are added"),
    "list added": _of("note", "listed record", "is added", "are added"),
    "finding closed": _of("note", "finding", "is gone", "are gone"),
}  # fmt: skip
_ORDER = tuple(_CODES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One consequence at one place."""

    code: str
    words: str
    line: str = ""
    structure: str = ""
    before: LonLat | None = None
    after: LonLat | None = None
    #: The larger, the earlier it is told; with its unit, "" = no measure.
    size: float = 0.0
    size_text: str = ""


def gathered(found: Iterable[Found]) -> list[Consequence]:
    """Gather consequences by their codes, the gravest first, each with its largest effects first."""
    by_code: dict[str, list[Found]] = {}
    for each in found:
        by_code.setdefault(each.code, []).append(each)
    return [
        Consequence(
            code=code,
            weight=_CODES[code].weight,
            words=_words(code, by_code[code]),
            count=len(by_code[code]),
            effects=[
                Effect(
                    words=each.words,
                    line=each.line,
                    structure=each.structure,
                    before=each.before,
                    after=each.after,
                )
                for each in sorted(by_code[code], key=lambda one: -one.size)[:_SHOWN]
            ],
        )
        for code in _ORDER
        if code in by_code
    ]


def _words(code: str, found: Sequence[Found]) -> str:
    words = _CODES[code].one if len(found) == 1 else _CODES[code].several
    largest = max(found, key=lambda one: one.size).size_text
    return words.format(count=f"{len(found):,}") + (f", by up to {largest}" if largest else "")


def place_of(view: JobView, row: int) -> LonLat:
    """Return longitude and latitude of the design centre of a row, degrees."""
    return (round(float(view.figures.longitude[row]), 7), round(float(view.figures.latitude[row]), 7))


def placed(view: JobView, row: int, *, code: str, words: str) -> Found:
    """Return a consequence at the structure of a row."""
    line, number = view.key(row)
    return Found(code=code, words=words, line=line, structure=number, after=place_of(view, row))
