"""Find the headings of a table among title rows, and which kind of table they belong to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from linemap.domain.kind.kind import Code as Kind
from linemap.domain.kind.words import PLACE_WORDS
from linemap.io.cells.meaning import Match, match_headings, match_parsed, parse_headings, satisfies, unit_word
from linemap.io.cells.numbers import parse_number
from linemap.io.cells.shape import Answers, named_columns
from linemap.io.cells.table import KINDS, Cell, cell_text, is_blank
from linemap.kinds.registry import DECLARED

#: Headings are looked for within this many rows.
HEADER_ROWS = 30
#: Easting and northing at least.
_COORDINATES = 2
#: Point, northing, easting and elevation stand before it.
_DESCRIPTION = 4
#: What rows may be that only say where they are.
_PLACED: tuple[Kind, ...] = ("centreline", "structures", "shots")


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """Where the headings stand and what they mean."""

    #: Index of the (first) heading row.
    index: int
    #: Rows the headings take: 1, or 2 where a second row holds units or the lower half of the headings.
    height: int
    headings: tuple[str, ...]
    #: Kinds that fit best.
    kinds: tuple[Kind, ...]
    #: Columns understood.
    score: int


def find_header(
    rows: Sequence[Sequence[Cell]], *, kinds: Sequence[Kind] = KINDS, answers: Answers | None = None
) -> Header | None:
    """Return the row, or pair of rows, whose headings are understood best; None when no row will do.

    Headings a person named count as understood.

    >>> find_header([["LIST", ""], ["Str", "E", "N"], ["1/1", "5", "6"]]).index
    1
    """
    best: Header | None = None
    # columns named by number are understood in every row, so they find no headings
    numbered = sum(isinstance(column, int) for column in answers.fields.values()) if answers else 0
    shown = [[cell_text(cell) for cell in row] for row in rows[: HEADER_ROWS + 1]]
    for index, row in enumerate(shown[:HEADER_ROWS]):
        for height, headings in _candidates(row, shown[index + 1] if index + 1 < len(shown) else []):
            named = named_columns(headings, answers)
            fits, score = fitting_kinds(headings, kinds=kinds, extra=named)
            if answers and not fits and len(named) == len(answers.fields):
                fits, score = (answers.kind,), len(named)
            if fits and score > numbered:
                found = Header(index=index, height=height, headings=headings, kinds=fits, score=score)
                best = found if best is None else max(best, found, key=_preference)
    if best is None or answers or len(kinds) == 1:
        return best
    return replace(best, kinds=likely_kinds(best.headings, best.kinds))


def likely_kinds(headings: Sequence[str], fits: tuple[Kind, ...]) -> tuple[Kind, ...]:
    """Return the kinds a table may well be: more than its headings fit best, where they say hardly anything.

    A place and a column nobody understands are no centreline: they may as well be structures or shots.

    >>> likely_kinds(["PI", "N", "E"], ("centreline",)), likely_kinds(["Mast", "X", "Y"], ("centreline",))
    (('centreline',), ('centreline', 'structures', 'shots'))
    """
    if len(fits) != 1 or not (sure := DECLARED[fits[0]].known_by.split()):
        return fits
    parsed = parse_headings(headings)
    matches = match_parsed(parsed, fits[0])
    understood = len(parsed) == len({match.index for match in matches.values()})
    telling = matches.keys() - {*PLACE_WORDS, "name", "remarks"}
    return fits if not parsed.keys().isdisjoint(sure) or (understood and telling) else _PLACED


def _preference(header: Header) -> tuple[int, int, int]:
    """Most columns understood, then the topmost, then one row rather than two."""
    return (header.score, -(header.index + header.height), -header.height)


def _candidates(row: list[str], below: list[str]) -> list[tuple[int, tuple[str, ...]]]:
    width = max(len(row), len(below))
    upper, lower = row + [""] * (width - len(row)), below + [""] * (width - len(below))
    pair = tuple(f"{a} {b}".strip() for a, b in zip(upper, lower, strict=True))
    if any(lower) and all(not text or unit_word(text.strip("()[]")) for text in lower):
        return [(2, pair)]
    if not any(lower):
        return [(1, tuple(row))]
    parts = tuple(_below_group(upper, lower, index) for index in range(width))
    return [(1, tuple(row)), (2, pair), *([(2, parts)] if parts != pair else [])]


def _below_group(upper: Sequence[str], lower: Sequence[str], index: int) -> str:
    """Return the heading of a column under a cell merged over several: the words of the group are no part.

    >>> [_below_group(["Str", "Centre", ""], ["No", "Northing", "Easting"], index) for index in range(3)]
    ['Str No', 'Northing', 'Easting']
    """
    follows = index + 1 < len(upper) and not upper[index + 1] and bool(lower[index + 1])
    if lower[index] and upper[index] and follows:
        return lower[index]
    return f"{upper[index]} {lower[index]}".strip()


def likely_without_headings(rows: Sequence[Sequence[Cell]]) -> tuple[Kind, ...]:
    """Return what rows of numbers without headings may be: shots, when some of them say what was shot."""
    described = any(not is_blank(cell) for row in rows for cell in row[_DESCRIPTION:])
    return ("shots",) if described else ("shots", "structures", "centreline")


def fitting_kinds(
    headings: Sequence[str], *, kinds: Sequence[Kind] = KINDS, extra: Mapping[str, Match] | None = None
) -> tuple[tuple[Kind, ...], int]:
    """Return the kinds these headings fit best, and how many columns each understands.

    `extra` holds fields known from elsewhere, such as the geometry of a vector file. Where several fit as
    well, control points are meant only by a heading of their own: any list of shots has all else they need.
    """
    scores: dict[Kind, int] = {}
    first = parse_headings(headings)
    for kind in kinds:
        fields = {**match_parsed(first, kind), **(extra or {})}
        if fields and satisfies(fields, kind):
            scores[kind] = len(fields)
    top = max(scores.values(), default=0)
    fits = tuple(kind for kind, score in scores.items() if score == top)
    return tuple(kind for kind in fits if len(fits) == 1 or _is_named(kind, first)), top


def _is_named(kind: Kind, headings: Mapping[str, Match]) -> bool:
    """Say whether a table that may be several kinds may be this one."""
    return kind in _PLACED or not headings.keys().isdisjoint(
        DECLARED[kind].known_by.split() or headings.keys()
    )


def looks_like_shots(rows: Sequence[Sequence[Cell]], *, mark: str) -> bool:
    """Say whether rows without headings read as point, northing, easting, elevation, description.

    >>> looks_like_shots([["5001", "911423.7", "2273378.01", "3952.66", "STR 5/5 A"]], mark=".")
    True
    """
    sample = [row for row in rows[:HEADER_ROWS] if not all(is_blank(cell) for cell in row)]
    if heading_row(sample, mark=mark) is not None or any(_names_coordinates(row) for row in sample):
        return False
    hits = sum(_is_shot(row, mark) for row in sample)
    return hits > 0 and hits * 10 >= len(sample) * 6


def heading_row(rows: Sequence[Sequence[Cell]], *, mark: str) -> int | None:
    """Return the index of a row of words above rows of numbers that has a word for each of their columns.

    >>> heading_row([["Job 12"], ["Pkt", "Rechts", "Hoch", "Z"], ["1", "5.0", "6.0", "7.0"]], mark=".")
    1
    """
    first = next((index for index, row in enumerate(rows[:HEADER_ROWS]) if _is_shot(row, mark)), 0)
    numbers = [at for at, cell in enumerate(rows[first]) if at and _is_number(cell, mark)] if first else []
    for index in range(first - 1, -1, -1):
        cells = [cell_text(rows[index][at]) if at < len(rows[index]) else "" for at in numbers]
        if sum(any(map(str.isalpha, text)) for text in cells) >= _COORDINATES:
            return index
    return None


def _names_coordinates(row: Sequence[Cell]) -> bool:
    """Say whether a row is headings after all, so that its columns must not be read in a fixed order."""
    found = match_headings([cell_text(cell) for cell in row], "shots")
    return {"easting", "northing"} <= found.keys() or {"longitude", "latitude"} <= found.keys()


def _is_shot(row: Sequence[Cell], mark: str) -> bool:
    if len(row) < 4:
        return False
    filled = _is_number(row[1], mark) and _is_number(row[2], mark)
    return filled and (is_blank(row[3]) or _is_number(row[3], mark))


def _is_number(cell: Cell, mark: str) -> bool:
    try:
        parse_number(cell_text(cell), mark=mark)
    except ValueError:
        return False
    return True
