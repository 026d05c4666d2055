"""What the free-text descriptions of shots say: which structure, which pole, which item.

Crews write descriptions by hand on a controller, so the grammar is tolerant about blanks, dashes, case and
words around the number, and strict about digits: 2/14 is never read out of 21/4.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.design.number import same_number
from linemap.domain.survey.shot import ShotItem

# The number, and the letters written against it (12/3A) or after a blank or dash (12/3 A, 12/3A-A).
# A date (5-12-26), a decimal and a longer number are kept out by what may stand before and after.
_NUMBERED = re.compile(
    r"""(?<![A-Z0-9./\-])
        (?:STR(?:UCTURE|UCT)?[.\s#\-]*|S[.\s]*|P(?:OLE)?[.\s]*|\#)?
        (?P<number>\d{1,5}\s*[/\-]\s*\d{1,6}(?:\.\d{1,2})?)
        (?P<letters>[A-Z]{0,2})
        (?![A-Z0-9]|[/.\-]\d)""",
    re.VERBOSE,
)
# A plain sequence needs the word for a structure in front, or a pole letter straight behind it.
_SEQUENCE = re.compile(
    r"""(?<![A-Z0-9./\-])
        (?:STR(?:UCTURE|UCT)?[.\s#\-]*|S(?=\d)|\#)
        (?P<number>\d{1,6}(?:\.\d{1,2})?)
        (?P<letters>[A-Z]{0,2})
        (?![A-Z0-9]|[/.\-]\d)
    | ^(?P<bare>\d{1,6})(?=[\s\-]*[ABC](?![A-Z0-9/]))(?P<bare_letters>[ABC]?)""",
    re.VERBOSE,
)
_LETTER_AFTER = re.compile(r"^[\s\-_,:.]*(?:(?:POLE|LEG|P)[\s\-_.#]*)?(?P<letter>[ABC])(?![A-Z0-9/])")
_LETTER_ANYWHERE = re.compile(r"(?<![A-Z0-9])(?:POLE|LEG)[\s\-_.#]*(?P<letter>[ABC])(?![A-Z0-9/])")
# The centre and an anchor hub stand where a pole letter would: the letter before them is the structure's own.
_POINT_AFTER = re.compile(r"^\s*(?:C/?L|ANC\s+HUB)(?![A-Z0-9])")
# Offset stakes however they are abbreviated: O/S 25, OFF25BK, 25' BK.
_OFFSET = re.compile(
    r"""(?<![A-Z0-9])(?:O/S|OFFS?(?=[\s\d.]))
    | (?<![A-Z0-9./\-])\d{1,3}(?:\.\d+)?\s*(?:'|FT|M)?\s*(?:BK|BACK|AH|AHD|AHEAD)(?![A-Z0-9])""",
    re.VERBOSE,
)

_ANCHOR_WORDS = frozenset({"ANC", "ANCH", "ANCHOR", "ANCHORS", "GUY"})
_HUB_WORDS = frozenset({"HUB", "HUBS", "LATH", "STAKE", "STAKES", "STK", "OFFSET", "OS"})
_CROSSING_WORDS = frozenset({"XING", "CROSSING"})
_CHECK_WORDS = frozenset({"CHECK", "CHK", "CP", "CONTROL", "BM", "REBAR", "MON", "MONUMENT"})
_GROUND_WORDS = frozenset({"GL", "GND", "GROUND", "NG", "GS"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ParsedDescription:
    """What a shot description says."""

    #: Structure number in its one spelling; "" = none found.
    structure: str
    #: "A", "B" or "C"; "" = none found.
    pole: str
    item: ShotItem
    #: What it may mean, where it may mean several things; empty where it says one thing, or nothing.
    readings: tuple[str, ...] = ()


def parse_description(text: str, naming: Naming = UNNAMED) -> ParsedDescription:
    """Read the structure, the pole and the item out of a shot description.

    A letter A to C behind the number is the pole (12-3A is pole A of 12/3), unless another pole letter
    follows: then the first belongs to an inserted structure (12/3A-A is pole A of 12/3A). Other letters
    written against the number always do, and so does a letter before CL (12/3A CL HUB is the centre of
    12/3A). A hub, lath or offset stake is a hub whatever it marks, so that it can never pass for the pole
    or the anchor itself. Text behind ";" is a comment and is not read. Check shots and crossings belong to no
    structure. What cannot be read comes back as item "other", never as an error. Numbers of the job's list
    that are not in the one spelling are sought first, as it writes them; poles by the owner's words too.

    Parameters
    ----------
    text : str
        As written on the controller: "STR 12/3 A", "12-3A", "S12/3 POLE B", "ANC 12/3 AH L", "?".

    >>> parse_description("S6/4 pole B (re-shot)")
    ParsedDescription(structure='6/4', pole='B', item='pole', readings=())
    >>> parse_description("12/3A-A").structure, parse_description("CL HUB 5/5").item
    ('12/3A', 'hub')
    """
    plain = text.split(";", 1)[0].upper().strip()
    structure, pole, rest = _structure_and_pole(plain, naming)
    words = frozenset(re.findall(r"[A-Z]+", plain))
    item = (
        "hub" if words & _HUB_WORDS or _OFFSET.search(rest) else _item(words, named=bool(structure and pole))
    )
    if item in {"check", "crossing"}:
        return ParsedDescription(structure="", pole="", item=item)
    return ParsedDescription(structure=structure, pole=pole, item=item)


def inserted_reading(text: str) -> str:
    """Return the inserted structure a description may mean instead of a pole, "" when it cannot.

    A letter A to C against the number is taken for the pole. On a line that has an inserted structure of
    that name it may be the structure: then a person has to say which.

    >>> inserted_reading("STR 12/3A"), inserted_reading("12/3 A"), inserted_reading("12/3A-B")
    ('12/3A', '', '')
    """
    plain = text.split(";", 1)[0].upper().strip()
    _, number, letters, after = _numbered(plain)
    named = _LETTER_AFTER.match(after) or _LETTER_ANYWHERE.search(plain) or _POINT_AFTER.match(after)
    return "" if named or not letters or letters[-1] not in "ABC" else same_number(number + letters)


def _numbered(plain: str) -> tuple[str, str, str, str]:
    """Return what stands before a number, the number, the letters against it and the rest; none is ""."""
    match = _NUMBERED.search(plain) or _SEQUENCE.search(plain)
    if match is None:
        return plain, "", "", ""
    named = match.groupdict()
    number = named.get("number") or named.get("bare") or ""
    letters = named.get("letters") or named.get("bare_letters") or ""
    return plain[: match.start()], number, letters, plain[match.end() :]


def _structure_and_pole(plain: str, naming: Naming) -> tuple[str, str, str]:
    """Return the structure, the pole, and what is written around the number."""
    own = naming.listed.found_in(plain)
    if own is None:
        structure, pole, before, after = _by_grammar(plain)
        structure = naming.listed.shown(structure) if structure else ""
    else:
        before, structure, after = own
        behind = _LETTER_AFTER.match(after) or _LETTER_ANYWHERE.search(before)
        pole = "" if behind is None else behind["letter"]
    if naming.poles.is_plain:
        return structure, pole, f"{before} {after}"
    if not structure and (bare := re.match(r"(\d{1,6})[\s\-_]", plain)):
        # a plain sequence with a word for a pole straight behind it
        after = plain[len(bare[1]) :]
        known = naming.poles.known(naming.listed.poles(found := naming.listed.shown(same_number(bare[1]))))
        pole = _pole_by_words("", after, known)
        return (found, pole, after) if pole else ("", "", plain)
    known = naming.poles.known(naming.listed.poles(structure))
    return structure, _pole_by_words(before, after, known) or pole, f"{before} {after}"


def _pole_by_words(before: str, after: str, known: Mapping[str, str]) -> str:
    """Return the pole that a word of the owner's names behind a number, or after the word for a pole."""
    words = "|".join(sorted(map(re.escape, known), key=len, reverse=True))
    word, pole = rf"(?P<word>{words})(?![A-Z0-9/.])", r"(?<![A-Z0-9])(?:POLE|LEG)[\s\-_.#]*"
    found = (
        re.match(rf"[\s\-_,:.]*(?:(?:POLE|LEG|P)[\s\-_.#]*)?{word}", after)
        or re.search(pole + word, before)
        or re.search(pole + word, after)
    )
    return "" if found is None else known[found["word"]]


def _by_grammar(plain: str) -> tuple[str, str, str, str]:
    """Return the structure, the pole, and what is written before and behind the number."""
    before, number, letters, after = _numbered(plain)
    if not number:
        return "", "", plain, ""
    behind = _LETTER_AFTER.match(after) or _LETTER_ANYWHERE.search(plain)
    if behind is not None:
        return same_number(number + letters), behind["letter"], before, after
    if letters and letters[-1] in "ABC" and not _POINT_AFTER.match(after):
        return same_number(number + letters[:-1]), letters[-1], before, after
    return same_number(number + letters), "", before, after


def _item(words: frozenset[str], *, named: bool) -> ShotItem:
    """Choose the item by its words; `named` tells that a structure and a pole letter were found."""
    if words & _ANCHOR_WORDS:
        return "anchor"
    if words & _CROSSING_WORDS:
        return "crossing"
    if named:
        return "pole"
    if words & _CHECK_WORDS:
        return "check"
    return "ground" if words & _GROUND_WORDS else "other"
