"""Patterns of a crew's own way of describing shots: what a person said of one description reads others alike.

A pattern is a plain text with slots, `BRK <structure> N<pole> = top`: words as the crew writes them, a
structure number in any spelling the job's numbering allows, a word for a pole, any other number, the item.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, get_args

from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.design.number import StructureNumber, runs_of
from linemap.domain.survey.description import LONGEST, pole_words
from linemap.domain.survey.description_numbers import listed_numbers
from linemap.domain.survey.description_words import PLACES
from linemap.domain.survey.shot import ParsedDescription, ShotItem

_STRUCTURE, _POLE, _NUMBER = _SLOTS = ("<structure>", "<pole>", "<number>")
_SLOT: Final = re.compile(f"({'|'.join(_SLOTS)})")
_DIGITS: Final = re.compile(r"\d+(?:\.\d+)?")
#: No number and no word for a pole has more signs.
_LONGEST_SLOT: Final = 24
#: Where the word for a pole stands, the surest first: alone, against digits, behind one letter (N2).
_POLE_SHAPES: Final = (
    r"\0[\s\-_/.,:(\[]*(?P<pole>WORD)(?![A-Z0-9])",
    r"(?<![A-Z0-9])(?P<pole>WORD)(?![A-Z0-9])",
    r"(?<![A-Z0-9])[A-Z](?P<pole>WORD)(?![A-Z0-9])",
    r"(?<![A-Z0-9])(?P<pole>WORD)(?=\0)",
    r"(?P<pole>WORD)(?![A-Z0-9])",
)
_ITEMS: Final = get_args(ShotItem)


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """A way of describing shots.

    Raises
    ------
    ValueError
        If it has no word of its own and no slot for the structure, or a slot twice; says what to write.
    """

    #: What is written, with `<structure>`, `<pole>` and `<number>` for what changes from shot to shot.
    text: str
    item: ShotItem = "pole"
    #: "A", "B" or "C" where the words say the pole and no slot does; "" = the slot, or no pole.
    pole: str = ""

    def __post_init__(self) -> None:
        named = [slot for slot in _SLOT.findall(self.text) if slot != _NUMBER]
        if not self.text.strip() or len(set(named)) < len(named):
            raise ValueError(f"{self.text!r} is no pattern; write <structure> once, <pole> at most once")
        alone = self.item in {"check", "crossing"} and not self.pole and named == []
        if _STRUCTURE not in named and not alone:
            raise ValueError(f"{self.text!r} names no structure; write <structure> where its number stands")
        if bool(self.pole) + (_POLE in named) != 1 and (self.pole or self.item == "pole"):
            raise ValueError(f"{self.text!r} names {'two poles' if self.pole else 'no pole'}; name it once")

    @classmethod
    def parse(cls, text: str) -> Pattern:
        """Read a pattern: the text with its slots, behind " = " the item, and a pole where no slot has it.

        Raises
        ------
        ValueError
            If it is none; says what to write.

        >>> Pattern.parse("BRK <structure> N<pole> = top").item, Pattern.parse("<structure> E = pole B").pole
        ('top', 'B')
        """
        words, equals, said = text.rpartition("=")
        meaning = said.split() if equals else []
        item = meaning[0].casefold() if meaning else "pole"
        pole = meaning[1].upper() if len(meaning) > 1 else ""
        known = [each for each in _ITEMS if each == item]
        if not known or pole not in {"", "A", "B", "C"} or len(meaning) > 2:
            items = ", ".join(_ITEMS)
            raise ValueError(
                f"{said.strip()!r} is nothing a shot can be of; write one of {items}, and A, B or C"
            )
        plain = _plain(words if equals else text)
        for slot in _SLOTS:
            plain = plain.replace(slot.upper(), slot)
        return cls(text=plain, item=known[0], pole=pole)

    def __str__(self) -> str:
        """Return the text that `parse` reads."""
        return f"{self.text} = {self.item} {self.pole}".rstrip()

    @cached_property
    def _parts(self) -> tuple[str, ...]:
        return tuple(part for part in _SLOT.split(self.text) if part)

    def read(self, text: str, naming: Naming = UNNAMED) -> ParsedDescription | None:
        """Return what a description says that is written so; None when it is not, or names no listed number.

        >>> brk = Pattern.parse("BRK <structure> N<pole>")
        >>> found = brk.read("brk 12/3 n2")
        >>> found.structure, found.pole, brk.read("BRK 12/3")
        ('12/3', 'B', None)
        """
        plain = _plain(text) if len(text) <= LONGEST else ""
        read = dict.fromkeys(
            found
            for filled in _filled(self._parts, plain, 0)
            if (found := self._meaning(filled, naming)) is not None
        )
        return next(iter(read)) if len(read) == 1 else None

    def _meaning(self, filled: Mapping[str, str], naming: Naming) -> ParsedDescription | None:
        """Return what is said by what stands in the slots; None when that is no number or no pole."""
        structure, pole = "", self.pole
        if _STRUCTURE in filled:
            structure = _number(filled[_STRUCTURE], naming)
            if not structure:
                return None
        if _POLE in filled:
            pole = _words(naming, structure).get(filled[_POLE], "")
            if not pole:
                return None
        return ParsedDescription(structure=structure, pole=pole, item=self.item)


def read_by(patterns: Iterable[Pattern], text: str, naming: Naming) -> ParsedDescription | None:
    """Return what a description says by the first of the patterns that reads it; None when none does."""
    return next((found for each in patterns if (found := each.read(text, naming)) is not None), None)


def _plain(text: str) -> str:
    return " ".join(text.split(";", 1)[0].upper().split())


def _filled(parts: Sequence[str], text: str, at: int) -> Iterator[Mapping[str, str]]:
    """Yield what stands in the slots of a pattern when a text from a place on is written so."""
    if not parts:
        if at == len(text):
            yield {}
        return
    part = parts[0]
    for end in _ends(part, text, at):
        for rest in _filled(parts[1:], text, end):
            yield {part: text[at:end], **rest} if part in _SLOTS else rest


def _ends(part: str, text: str, at: int) -> Iterable[int]:
    """Return where what stands for a part may end; no slot begins or ends within digits or with a blank."""
    if part not in _SLOTS or part == _NUMBER:
        written = _DIGITS if part == _NUMBER else re.compile(re.escape(part))
        found = written.match(text, at)
        return [] if found is None or (_is_within(text, found.end()) and part == _NUMBER) else [found.end()]
    if at == len(text) or text[at] == " " or _is_within(text, at):
        return []
    ends = range(at + 1, min(len(text), at + _LONGEST_SLOT) + 1)
    return [end for end in ends if text[end - 1] != " " and not _is_within(text, end)]


def _is_within(text: str, at: int) -> bool:
    """Say whether a place is between two digits."""
    return text[max(at - 1, 0) : at].isdigit() and text[at : at + 1].isdigit()


def _number(written: str, naming: Naming) -> str:
    """Return the one number that is written so, "" when none or several are."""
    if not naming.listed:
        try:
            return str(StructureNumber.parse(written))
        except ValueError:
            return ""
    runs = runs_of(written)
    whole = bool(runs) and not runs[0].gap and written.endswith(runs[-1].text)
    found = listed_numbers(runs, naming.listed, ()) if whole else []
    numbers = {each.number for each in found if each.end - each.first == len(runs)}
    return numbers.pop() if len(numbers) == 1 else ""


def _words(naming: Naming, structure: str) -> Mapping[str, str]:
    """Return every word for a pole of a structure -> its letter; its place, 1 to 3, is one."""
    return {**PLACES, **pole_words(naming, structure)}


def pattern_of(description: str, *, structure: str, pole: str, item: ShotItem, naming: Naming) -> Pattern:
    """Return the pattern of a description by what a person says it means.

    Parameters
    ----------
    structure : str
        As the list has it; "" = it belongs to none (a control point, a crossing).
    pole : str
        "A", "B", "C", or "" = of no pole.

    Raises
    ------
    ValueError
        If the description does not show the structure, so that no other can be like it; says so.

    >>> str(pattern_of("Brk 12-03 N2", structure="12/3", pole="B", item="top", naming=UNNAMED))
    'BRK <structure> N<pole> = top'
    >>> str(pattern_of("HV 7", structure="", pole="", item="check", naming=UNNAMED))
    'HV <number> = check'
    """
    plain = _plain(description)
    meant = ParsedDescription(structure=structure, pole=pole, item=item)
    for text, said in _candidates(plain, meant, naming):
        counted = _DIGITS.sub(_NUMBER, text)
        try:
            found = Pattern(text=counted.replace("\0", _STRUCTURE).replace("\1", _POLE), item=item, pole=said)
        except ValueError:
            continue
        if found.read(plain, naming) == meant:
            return found
    where = f"structure {structure}" if structure else "what it is"
    raise ValueError(f"{description!r} does not show {where}, so no other description is known to be like it")


def _candidates(plain: str, meant: ParsedDescription, naming: Naming) -> Iterator[tuple[str, str]]:
    """Yield a description with marks for structure and pole, and the pole that no mark stands for."""
    if not meant.structure:
        yield plain, ""
        return
    for found in _written_as(meant.structure).finditer(plain):
        marked = f"{plain[: found.start()]}\0{plain[found.end() :]}"
        words = [word for word, pole in _words(naming, meant.structure).items() if pole == meant.pole]
        for shape in _POLE_SHAPES if words else ():
            named = shape.replace("WORD", "|".join(sorted(map(re.escape, words), key=len, reverse=True)))
            for word in re.finditer(named, marked):
                yield f"{marked[: word.start('pole')]}\1{marked[word.end('pole') :]}", ""
        yield marked, meant.pole


def _written_as(number: str) -> re.Pattern[str]:
    """Return what finds a number however it is written."""
    parts = [
        f"0*{run.bare}" if run.text.isdigit() else re.escape(run.text) for run in runs_of(number.upper())
    ]
    return re.compile(r"(?<!\d)" + r"[\s/\-._#\\]{0,3}".join(parts) + r"(?!\d)")
