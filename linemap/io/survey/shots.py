"""Survey shots: point files with or without headings become shots of the line."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache

import numpy as np

from linemap.domain.design.naming import UNNAMED, Naming
from linemap.domain.design.number import same_number
from linemap.domain.design.structure import FloatArray
from linemap.domain.survey.description import parse_description
from linemap.domain.survey.description_words import item_named
from linemap.domain.survey.pattern import Pattern, read_by
from linemap.domain.survey.shot import ITEM_WORDS, ParsedDescription, Shot, ShotItem
from linemap.errors import InputRefused
from linemap.geometry.projection import Projection
from linemap.io.cells.dates import parse_moments
from linemap.io.cells.ledger import Ledger
from linemap.io.cells.meaning import Match
from linemap.io.cells.numbers import known_values
from linemap.io.cells.position import Positions, drop_zero_heights, read_positions
from linemap.io.cells.shape import with_named
from linemap.io.cells.sheet import Sheet, sheet_of
from linemap.io.cells.table import Loaded, RawTable, cell_text, is_blank

#: Fields of the columns of a point file without headings, in their order; "" = a column that is not read.
PointOrder = tuple[str, ...]
#: Point, northing, easting, elevation, description: the commonest order. Common practice, no source.
PNEZD: PointOrder = ("point", "northing", "easting", "elevation", "description")

_LETTERS: Mapping[str, str] = {
    "p": "point",
    "n": "northing",
    "e": "easting",
    "z": "elevation",
    "d": "description",
    "h": "hrms",
    "s": "sigma",
    "x": "",
}
_DATE = re.compile(r"(?<!\d)(20\d\d)[-_.]?(\d\d)[-_.]?(\d\d)(?!\d)")
#: A stated precision larger than this is no precision of a survey shot, metres.
_LARGEST_SIGMA_M = 5.0


def date_in_name(name: str) -> str:
    """Return the date written in a file name as ISO text, "" when there is none.

    >>> date_in_name("shots_2026-04-29.csv"), date_in_name("day3.csv")
    ('2026-04-29', '')
    """
    for match in _DATE.finditer(name):
        try:
            return date(int(match[1]), int(match[2]), int(match[3])).isoformat()
        except ValueError:
            continue
    return ""


def read_shot_order(text: str) -> PointOrder:
    """Read the column order of point files without headings, a letter a column.

    p point, n northing, e easting, z elevation, d description, h horizontal RMS, s sigma per axis, x a column
    that is not read; for example "pnezd", "penzd", "pnezdh".

    Raises
    ------
    InputRefused
        If a letter is unknown or stands twice, or northing, easting or description is missing.

    >>> read_shot_order("penzd")
    ('point', 'easting', 'northing', 'elevation', 'description')
    """
    letters = text.strip().casefold()
    fields = tuple(_LETTERS.get(letter, "?") for letter in letters)
    named = [name for name in fields if name]
    if (
        "?" in fields
        or len(set(named)) < len(named)
        or not {"northing", "easting", "description"} <= set(named)
    ):
        remedy = "write a letter a column, like pnezd or penzd (h horizontal RMS, s sigma, x not read)"
        raise InputRefused.at("--shot-order", text, "is no order of columns", remedy)
    return fields


def read_shots(
    table: RawTable,
    *,
    projection: Projection,
    line_default: str = "",
    order: PointOrder = PNEZD,
    naming: Naming = UNNAMED,
    patterns: Sequence[Pattern] = (),
) -> Loaded[tuple[Shot, ...]]:
    """Read survey shots.

    With headings, columns are matched by meaning; columns for structure, pole and item go before what the
    description says. One that is written as a pattern of `patterns` says what that says. Without headings the
    columns are those of `order`; further columns are kept as a note. Nothing is guessed about exchanged
    northings and eastings: that shows when the shots are compared with the line.

    A row whose coordinates cannot be used is listed as left out; shots of anything but a pole, and
    descriptions that cannot be read, are kept and each is noted for a person. A horizontal RMS is radial, so
    the sigma per axis is it / sqrt 2. Elevation 0 among real elevations is none. `line_default` "" = the only
    line that has the structure.

    Raises
    ------
    InputRefused
        If no row can be used.
    """
    sheet = _headless(table, order) if not table.headers else sheet_of(table, "shots")
    ledger = Ledger(sheet, naming=naming)
    places = read_positions(ledger, projection)
    said = _said(sheet, sheet.texts("description"), naming, patterns)
    for index in np.flatnonzero(places.blank).tolist():
        if said[index].structure and not ledger.is_heading(index):
            ledger.leave_out(
                index, places.field, "a shot without coordinates", "see the raw file, or shoot it"
            )
    places.leave_out_unplaced(ledger)
    ledger.check_some_left(places.field)
    parts = _Parts(
        line=sheet.texts("line", missing=line_default),
        elevation=_elevations(ledger, projection),
        sigma=_sigmas(ledger, projection),
        observed_on=_dates(ledger),
        note=_notes(ledger),
    )
    shots = tuple(_shots(ledger, places, parts, said))
    list_shots(ledger, zip(ledger.kept(), shots, strict=True))
    return ledger.finish(shots)


def _headless(table: RawTable, order: PointOrder) -> Sheet:
    matches = {
        name: Match(index=index, heading=f"column {index + 1}") for index, name in enumerate(order) if name
    }
    return Sheet(table=table, kind="shots", matches=with_named(matches, table))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Parts:
    line: list[str]
    elevation: FloatArray
    sigma: FloatArray
    observed_on: list[str]
    note: list[str]


def _elevations(ledger: Ledger, projection: Projection) -> FloatArray:
    values = ledger.known_lengths("elevation", projection.unit, otherwise="not measured")
    drop_zero_heights(ledger, values, projection.unit)
    return values


def _sigmas(ledger: Ledger, projection: Projection) -> FloatArray:
    name = "sigma" if "sigma" in ledger.sheet.matches else "hrms"
    values = ledger.known_lengths(name, projection.unit) / (1.0 if name == "sigma" else math.sqrt(2.0))
    with np.errstate(invalid="ignore"):
        odd = np.flatnonzero((values <= 0.0) | (values * projection.unit.metres > _LARGEST_SIGMA_M)).tolist()
    for index in odd:
        reason = "no precision a shot can have; taken as not given"
        ledger.note(index, name, reason, "correct the cell")
        values[index] = np.nan
    return values


def _dates(ledger: Ledger) -> list[str]:
    """Return the ISO date of each shot: its own cell, else the date in the file name."""
    sheet, of_file = ledger.sheet, date_in_name(ledger.sheet.table.file)
    if "date" not in sheet.matches:
        return [of_file] * len(sheet)
    moments = parse_moments(sheet.cells("date"))
    for index, reason in moments.faults.items():
        ledger.note(
            index,
            "date",
            f"{reason}; {'the date in the file name is taken' if of_file else 'taken as not known'}",
        )
    return [of_file if moment is None else moment.isoformat()[:10] for moment in moments.values]


def _notes(ledger: Ledger) -> list[str]:
    sheet = ledger.sheet
    if sheet.table.headers:
        return sheet.texts("note")
    width = 1 + max(match.index for match in sheet.matches.values())
    extra = [[cell_text(cell) for cell in row[width:] if not is_blank(cell)] for row in sheet.table.rows]
    first = next((index for index, texts in enumerate(extra) if texts), None)
    if first is not None:
        reason = f"columns after column {width} have no headings; they are kept as a note and not used"
        ledger.note(first, "description", reason, "say what they are with --shot-order, like pnezdh")
    return [" ".join(texts) for texts in extra]


def _shots(ledger: Ledger, places: Positions, parts: _Parts, said: Sequence[ParsedDescription]) -> list[Shot]:
    sheet, file = ledger.sheet, ledger.sheet.table.file
    rows = sheet.table.row_numbers
    points, descriptions = sheet.texts("point"), sheet.texts("description")
    easting, northing = places.easting.tolist(), places.northing.tolist()
    elevation, sigma = known_values(parts.elevation), known_values(parts.sigma)
    return [
        Shot(
            point=points[i],
            easting=easting[i],
            northing=northing[i],
            elevation=elevation[i],
            description=descriptions[i],
            structure=said[i].structure,
            pole=said[i].pole,
            item=said[i].item,
            line=parts.line[i],
            sigma=sigma[i],
            observed_on=parts.observed_on[i],
            file=file,
            row=rows[i],
            note=parts.note[i],
        )
        for i in ledger.kept()
    ]


def _said(
    sheet: Sheet, descriptions: Sequence[str], naming: Naming, patterns: Sequence[Pattern]
) -> list[ParsedDescription]:
    """Join what descriptions and the columns for structure, pole and item say; the columns go before."""
    columns = zip(*(sheet.texts(name) for name in ("structure", "pole", "item")), strict=True)

    @cache
    def read(text: str, structure: str = "") -> ParsedDescription:
        by_pattern = None if structure else read_by(patterns, text, naming)
        return by_pattern or parse_description(text, naming, structure=structure)

    return [_row_said(read, text, cells, naming) for text, cells in zip(descriptions, columns, strict=True)]


def _row_said(
    read: Callable[..., ParsedDescription], text: str, cells: tuple[str, str, str], naming: Naming
) -> ParsedDescription:
    structure, pole, item = cells
    number = naming.listed.shown(same_number(structure)) if structure else ""
    said = read(text, structure=number) if number else read(text)
    if pole and not said.structure:
        # a number alone is one of a structure where its pole has a column
        said = read(f"{text.split(';')[0]} POLE {pole}")
    letter = naming.letters(pole, said.structure) if pole else ""
    known = letter if len(letter) == 1 else said.pole
    named: ShotItem = item_named(item) if item else "other"
    if named == "other":
        named = "pole" if known and said.structure and said.item == "other" else said.item
    return replace(said, pole=known if said.structure else "", item=named)


_KEPT = "kept, not compared with the poles"


def list_shots(ledger: Ledger, shots: Iterable[tuple[int, Shot]]) -> None:
    """Note every shot that is no shot of a pole, and every second pole at exactly the place of another.

    `shots` are given by row index, of all rows used.
    """
    first: dict[tuple[float, float], Shot] = {}
    for index, shot in shots:
        if shot.item != "pole":
            ledger.note(index, "description", _reason(shot, ledger.naming))
            continue
        earlier = first.setdefault((shot.easting, shot.northing), shot)
        if (earlier.structure, earlier.pole) != (shot.structure, shot.pole):
            one, other = (_pole_of(each, ledger.naming) for each in (shot, earlier))
            reason = f"{one} stands exactly where row {earlier.row} has {other}; two poles cannot"
            ledger.note(index, "description", reason, "find out which pole was shot")


def _pole_of(shot: Shot, naming: Naming) -> str:
    return f"{shot.structure} {naming.called((shot.line, shot.structure))[shot.pole]}"


def _reason(shot: Shot, naming: Naming) -> str:
    if shot.item != "other":
        of = f" of {shot.structure}" if shot.structure else ""
        no_pole = "" if shot.item in {"top", "tip", "face"} else ", no pole"
        return f"{ITEM_WORDS[shot.item]}{of}{no_pole}; {_KEPT}"
    if shot.structure:
        return f"names structure {shot.structure} but no pole; {_KEPT}"
    if readings := parse_description(shot.description, naming).readings:
        return f"may be {' or '.join(readings)}; {_KEPT}"
    return f"names no structure and pole that can be read; {_KEPT}"
