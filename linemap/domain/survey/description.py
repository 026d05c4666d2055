"""What the free-text descriptions of shots say: which structure, which pole, which item.

Crews write descriptions by hand on a controller, so blanks, dashes, case, order and the words around a number
say little. The numbers of the job's own list are looked for first and literally; then what stands around one
has to be words that are known: poles, items, measures, or words that say nothing. What reads two ways, or has
a word nobody knows, is asked and never decided. Without a list, or of numbers that are in none, a number is
known by its shape, and what stands around it need not be understood.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.design.number import Run
from linemap.domain.design.pole_words import PoleWords
from linemap.domain.survey.description_numbers import FoundNumber, listed_numbers, shaped_numbers
from linemap.domain.survey.description_sense import Sense
from linemap.domain.survey.description_words import runs_in
from linemap.domain.survey.shot import ParsedDescription

#: A longer text describes no shot.
LONGEST = 200


def parse_description(text: str, naming: Naming = UNNAMED, *, structure: str = "") -> ParsedDescription:
    """Read the structure, the pole and the item out of a shot description.

    A letter A to C against a number is the pole (12-3A is pole A of 12/3), unless the list has a structure
    of that name too: then it is asked, but for a second letter (12/3A-A is pole A of 12/3A) or the centre
    (12/3A CL). Poles are known by the owner's words as well. A hub, lath or offset stake is a hub whatever
    it marks, so that it can never pass for the pole or the anchor itself. Text behind ";" is a comment.
    Shots of control points and crossings belong to no structure. What cannot be read comes back as item
    "other" without a structure, never as an error.

    Parameters
    ----------
    text : str
        As written on the controller: "STR 12/3 A", "12-3A", "S12/3 POLE B", "ANC 12/3 AH L", "?".
    structure : str, optional
        The structure as a column of its own names it: then the description says pole and item alone.

    >>> found = parse_description("S6/4 pole B (re-shot)")
    >>> found.structure, found.pole, found.item
    ('6/4', 'B', 'pole')
    >>> parse_description("12/3A-A").structure, parse_description("CL HUB 5/5").item
    ('12/3A', 'hub')
    """
    if len(text) > LONGEST:
        return ParsedDescription(structure=structure)
    runs = runs_in(text)
    if structure:
        return _of_structure(runs, naming, structure)
    listed = listed_numbers(runs, naming.listed, _poles(naming.poles, 3)) if naming.listed else []
    if listed:
        return _of_numbers(runs, listed, naming, strict=True)
    found = _of_numbers(runs, shaped_numbers(runs, _poles(naming.poles, 3)), naming, strict=False)
    if naming.listed and found.structure and naming.listed.meant(found.structure):
        # listed, but here a part of something longer
        return ParsedDescription(readings=(_said(found, naming),))
    return found


def _of_numbers(
    runs: Sequence[Run], found: Sequence[FoundNumber], naming: Naming, *, strict: bool
) -> ParsedDescription:
    """Return what a description says by the numbers found in it, asked where several readings make sense."""
    if not found:
        return ParsedDescription(item=Sense(runs, FoundNumber("", 0, 0, "maybe"), (), {}, strict=False).item)
    grades = {each.grade for each in found}
    best = next(grade for grade in ("named", "stands", "maybe") if grade in grades)
    senses = [
        Sense(runs, each, found, pole_words(naming, each.number), strict=strict)
        for each in found
        if each.grade == best
    ]
    read: list[ParsedDescription] = []
    if best != "maybe" or (len(senses) == 1 and senses[0].names_anchor):
        read = [*dict.fromkeys(itertools.chain.from_iterable(map(Sense.readings, senses)))]
    if len(read) == 1 or (read and not strict):
        return read[0]
    asked = read or itertools.chain.from_iterable(map(Sense.guesses, senses))
    return ParsedDescription(readings=tuple(dict.fromkeys(_said(each, naming) for each in asked)))


def _of_structure(runs: Sequence[Run], naming: Naming, structure: str) -> ParsedDescription:
    poles = pole_words(naming, structure)
    others = listed_numbers(runs, naming.listed, poles) or shaped_numbers(runs, poles)
    sense = Sense(runs, FoundNumber(structure, 0, 0, "named"), others, poles, strict=False)
    read = [*dict.fromkeys(sense.readings())]
    return replace(read[0], structure=structure) if len(read) == 1 else ParsedDescription(structure=structure)


def _said(found: ParsedDescription, naming: Naming) -> str:
    """Say a reading in words: "pole A of 45", "hub of 45"."""
    pole = ""
    if found.pole:
        pole = f"pole {naming.poles.called(naming.listed.poles(found.structure))[found.pole] or found.pole}"
    item = "" if found.item in {"pole", "other"} else found.item
    what = " of ".join(filter(None, (item, pole)))
    of = found.structure or "a structure that is not named"
    return f"{what} of {of}" if what else f"structure {of}"


def pole_words(naming: Naming, structure: str) -> Mapping[str, str]:
    """Return every word for a pole of a structure -> its letter; A, B and C are understood."""
    return _poles(naming.poles, naming.listed.poles(structure))


@lru_cache(maxsize=32)
def _poles(words: PoleWords, count: int) -> Mapping[str, str]:
    """Return every word for a pole of a structure of so many -> its letter.

    A C is the third pole, or no pole where it may be short for the centre one.
    """
    known = words.known(3 if words.is_plain else count)
    centre = words.known(3).get("C") == "B"
    own = {word: pole for word, pole in known.items() if not (centre and word == "C")}
    return {"A": "A", "B": "B", **({} if centre else {"C": "C"}), **own}
