"""What headings that are not understood may mean: the fields and the kinds whose words are close to them."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping, Sequence
from functools import lru_cache

from linemap.domain.kind.kind import Code as Kind
from linemap.domain.kind.kind import columns_of, extra_of
from linemap.io.cells.meaning import (
    UNREAD,
    VOCABULARY,
    Match,
    match_headings,
    need_words,
    parse_heading,
    unmet_needs,
)
from linemap.io.cells.numbers import parse_numbers
from linemap.io.cells.table import Cell, RawTable, UnreadColumn, cell_text, is_blank
from linemap.kinds.registry import DECLARED

#: Words at least this alike are close; 1 = the same. Common spelling checks take 0.6 to 0.8.
_CLOSE = 0.7
#: Letters two words must begin with alike to be close by that.
_STEM = 4
_FIELDS = 3
_KINDS = 2
_VALUES = 2
#: Cells that tell whether a column holds numbers.
_LOOKED_AT = 100
_NUMBERS = {"count", "number"}


def unread_columns(
    table: RawTable, kind: Kind, matches: Mapping[str, Match], left_out: Collection[int]
) -> tuple[UnreadColumn, ...]:
    """Return the columns with a heading that no field takes though some row not left out holds something.

    `matches` are the columns that are taken. What is only compared with computed figures is no column to be
    read, and is not among them; a context feature keeps all that its file says of it.
    """
    if kind == "context":
        return ()
    taken = {match.index for match in matches.values()}
    found = []
    for index, heading in enumerate(table.headers):
        if index in taken or not heading.strip() or _is_computed(heading, kind, matches):
            continue
        cells = enumerate(table.column(index))
        filled = [cell for row, cell in cells if row not in left_out and not is_blank(cell)]
        if filled:
            found.append(_unread(heading.strip(), filled, kind, matches))
    return tuple(found)


def _unread(heading: str, filled: Sequence[Cell], kind: Kind, matches: Mapping[str, Match]) -> UnreadColumn:
    same = _field_of(parse_heading(heading).word, kind)
    shown = list(dict.fromkeys(map(cell_text, filled)))
    return UnreadColumn(
        heading=heading,
        rows=len(filled),
        values=tuple(shown[:_VALUES]),
        more=len(shown) > _VALUES,
        near=() if same in matches else near_fields(heading, kind, taken=matches, cells=filled),
        instead=matches[same].heading if same in matches else "",
    )


def _field_of(word: str, kind: Kind) -> str:
    return next((name for name, words in VOCABULARY[kind].items() if word in words), "")


def _is_computed(heading: str, kind: Kind, matches: Mapping[str, Match]) -> bool:
    """Say whether a column is compared or computed, or prints another that is taken: "station_text"."""
    word = parse_heading(heading).word
    if any(each.cell.compared and word in each.cell.words.split() for each in extra_of(DECLARED[kind])):
        return True
    stem = word.removesuffix("text")
    return stem != word and any(parse_heading(match.heading).word == stem for match in matches.values())


def near_fields(
    heading: str, kind: Kind, *, taken: Collection[str] = (), cells: Sequence[Cell] = ()
) -> tuple[str, ...]:
    """Return the fields of a kind whose headings are close to this one, the closest first, three at most.

    Fields that are `taken` already are no help. Where the column's cells are all numbers, fields that hold
    numbers go first.

    >>> near_fields("Pole Spaceing", "structures"), near_fields("Owner", "structures")
    (('spacing',), ())
    """
    word = parse_heading(heading).word
    numbers = bool(cells) and not parse_numbers(cells[:_LOOKED_AT]).faults
    close = {
        name: max(_alike(word, other) for other in words)
        for name, words in VOCABULARY[kind].items()
        if name not in taken and name not in UNREAD[kind]
    }
    found = sorted(
        (name for name, how in close.items() if how >= _CLOSE),
        key=lambda name: (numbers and name not in _number_fields(kind), -close[name]),
    )
    return tuple(found[:_FIELDS])


@lru_cache(maxsize=64)
def _number_fields(kind: Kind) -> frozenset[str]:
    return frozenset(each.named for each in columns_of(DECLARED[kind]) if each.way in _NUMBERS)


@lru_cache(maxsize=8192)
def _alike(word: str, other: str) -> float:
    """Return how alike two squeezed words are, 0 to 1: by their letters, or by a beginning they share.

    Words that begin otherwise are not alike: "owner" is no "tower".
    """
    if len(word) < 2 or len(other) < 2 or word[0] != other[0]:
        return 0.0
    stem = next(
        (at for at, (a, b) in enumerate(zip(word, other, strict=False)) if a != b), min(len(word), len(other))
    )
    begins = stem / len(word) if stem >= _STEM and len(other) >= len(word) else 0.0
    return max(0.95 * begins, difflib.SequenceMatcher(None, word, other).ratio())


def nearest_kinds(rows: Sequence[Sequence[Cell]], kinds: Sequence[Kind]) -> str:
    """Say in words which kinds the headings of a table are nearest to, and what each lacks; "" = to none.

    >>> print(nearest_kinds([["hold", "line", "from", "to", "why"]], ["holds", "shots"]))
    row 1 is nearest to holds (understood: id, line, from_date, to_date, reason; not there: activities, \
near "hold"; structures or from_structure, near "from")
    """
    texts = [[cell_text(cell) for cell in row] for row in rows]
    known = [max(len(match_headings(headings, kind)) for kind in kinds) for headings in texts]
    if not any(known):
        return ""
    index = known.index(max(known))
    fits = {kind: _fit(texts[index], kind) for kind in kinds}
    ranked = sorted(kinds, key=lambda kind: -fits[kind])
    near = [kind for kind in ranked[:_KINDS] if fits[kind] > fits[ranked[0]] - 1.0]
    return f"row {index + 1} is nearest to {' or '.join(_lacking(texts[index], kind) for kind in near)}"


def _fit(headings: Sequence[str], kind: Kind) -> float:
    """Return how well headings fit a kind: by what is understood, what is close, and what is not there."""
    matches = match_headings(headings, kind)
    read = {match.heading for match in matches.values()}
    close = sum(
        bool(near_fields(each, kind, taken=matches)) for each in headings if each and each not in read
    )
    short = sum(not _near(need, headings, kind) for need in unmet_needs(matches, kind))
    return len(matches) + 0.5 * close - 0.5 * short


def _lacking(headings: Sequence[str], kind: Kind) -> str:
    matches = match_headings(headings, kind)
    lacks = [_lack(need, headings, kind) for need in unmet_needs(matches, kind)]
    parts = [f"understood: {', '.join(matches)}" if matches else ""]
    parts += [f"not there: {'; '.join(lacks)}" if lacks else ""]
    return f"{kind} ({'; '.join(filter(None, parts))})"


def _lack(need: tuple[tuple[str, ...], ...], headings: Sequence[str], kind: Kind) -> str:
    """Return what one need asks for, with the headings that are close to it."""
    near = ", ".join(f'"{heading}"' for heading in _near(need, headings, kind))
    return f"{need_words(need)}, near {near}" if near else need_words(need)


def _near(need: tuple[tuple[str, ...], ...], headings: Sequence[str], kind: Kind) -> list[str]:
    fields = {name for choice in need for name in choice}
    known = [word for name in fields for word in VOCABULARY[kind].get(name, ())]
    parsed = [(heading, parse_heading(heading).word) for heading in headings]
    found = [heading for heading, word in parsed if any(_alike(word, other) >= _CLOSE for other in known)]
    return found[:_FIELDS]
