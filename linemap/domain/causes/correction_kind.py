"""The kinds of correction: what each needs, and what it does to a shot.

- ``exchange``: northing and easting of a file's shots change places; "rows" limits it to some rows.
- ``foot``: coordinates of a file's shots times "factor"; about the point "about" (easting, northing) if one
  is given, about the origin of the grid otherwise.
- ``translate``: "east" and "north" are added to the coordinates of a file's shots, CRS unit.
- ``similarity``: the same, then they are scaled by "factor" and turned by "turn_deg", clockwise +, about the
  point "about".

  What concerns a whole session may be of the shots of one "day" only, and have the "covariance" of what was
  found: of east and north, and of scale and turn (radians) about the point.
- ``reproject``: coordinates of a file's shots are in the reference "crs", and are taken into "to".
- ``raise``: elevations of a file's shots times "times", plus "up", ground unit.
- ``relabel``: the shots of some "rows" of a file belong to "structure", on "line" if one is given.
- ``renumber``: shots of a file that have one of "numbers" have the number it says instead, all at once.
- ``line``: the shots of a file belong to "line", whatever line they name.
- ``swap_labels``: A and B (A and C of three poles) of the shots of some "structures" change places.
- ``permute``: poles of the shots of some "structures" have the letters "letters" says instead, all at once.
- ``drop``: the shots of some "rows" of a file are set aside: not used. Where several files have one name,
  "points" tells which shots of these rows are meant; so it does of those assigned.
- ``assign``: the shots of some "rows" of a file are of "item", of the "structure" and "pole" that are given,
  on "line" if one is given; whatever was read of them before counts no more.
- ``pattern``: the shots that nothing else reads, of all files or of "file", are of what "pattern" reads
  (`linemap.domain.survey.pattern`), on "line" if one is given; files that come later are read so too.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any, NamedTuple, get_args

import numpy as np

from linemap.domain.design.naming import Naming
from linemap.domain.design.structure import POLE_LETTERS
from linemap.domain.survey.pattern import Pattern
from linemap.domain.survey.shot import ITEM_WORDS, Shot, ShotItem

Change = Callable[[Shot], Shot | None]


def _exchange(_shots: Sequence[Shot], _correction: Mapping[str, Any]) -> tuple[Change, str]:
    return (
        lambda shot: replace(shot, easting=shot.northing, northing=shot.easting),
        "northing and easting exchanged",
    )


def _foot(_shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[Change, str]:
    factor = float(correction["factor"])
    east, north = (float(value) for value in correction.get("about", (0.0, 0.0)))

    def scale(shot: Shot) -> Shot:
        return replace(
            shot,
            easting=east + (shot.easting - east) * factor,
            northing=north + (shot.northing - north) * factor,
        )

    about = f" about {east:.1f} E, {north:.1f} N" if "about" in correction else ""
    return scale, f"coordinates times {factor:.12g}{about}"


def _translate(_shots: Sequence[Shot], correction: Mapping[str, Any], unit: str) -> tuple[Change, str]:
    east, north = float(correction["east"]), float(correction["north"])
    return (
        lambda shot: replace(shot, easting=shot.easting + east, northing=shot.northing + north),
        f"moved {east:+.3f}{_in(unit)} east, {north:+.3f}{_in(unit)} north",
    )


def _in(unit: str) -> str:
    return f" {unit}" if unit else ""


def _similarity(_shots: Sequence[Shot], correction: Mapping[str, Any], unit: str) -> tuple[Change, str]:
    move, about = complex(correction["east"], correction["north"]), complex(*correction["about"])
    factor, turn = float(correction["factor"]), float(correction["turn_deg"])
    grown = factor * cmath.exp(-1j * math.radians(turn))

    def change(shot: Shot) -> Shot:
        after = about + (complex(shot.easting, shot.northing) + move - about) * grown
        return replace(shot, easting=after.real, northing=after.imag)

    return change, (
        f"moved {move.real:+.3f}{_in(unit)} east, {move.imag:+.3f}{_in(unit)} north, "
        f"times {factor:.9g} and turned {turn:+.5f}° about {about.real:.1f} E, {about.imag:.1f} N"
    )


def _relabel(_shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[Change, str]:
    structure = correction["structure"]

    def relabel(shot: Shot) -> Shot:
        return replace(shot, structure=structure, line=correction.get("line", shot.line))

    return relabel, f"labelled {structure}"


def _swap_labels(shots: Sequence[Shot], _correction: Mapping[str, Any]) -> tuple[Change, str]:
    three = {shot.structure for shot in shots if shot.pole == "C"}

    def swap(shot: Shot) -> Shot:
        letters = {"A": "C", "C": "A"} if shot.structure in three else {"A": "B", "B": "A"}
        return replace(shot, pole=letters[shot.pole]) if shot.pole in letters else shot

    return swap, "first and last pole letter exchanged"


def _reproject(shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[Change, str]:
    # pyproj takes long to load, and commands that only name a correction need none of it
    from linemap.geometry.projection import Projection, other_crs_to

    source, target = correction["crs"], Projection.from_text(correction["to"])
    at = np.array([(shot.easting, shot.northing) for shot in shots], dtype=np.float64).reshape(-1, 2)
    there = np.column_stack(other_crs_to(target, source, at[:, 0], at[:, 1]))
    after = dict(zip(map(id, shots), there.tolist(), strict=True))

    def reproject(shot: Shot) -> Shot:
        east, north = after[id(shot)]
        return replace(shot, easting=east, northing=north) if math.isfinite(east + north) else shot

    return reproject, f"taken from {source} into {correction['to']}"


def _raise(_shots: Sequence[Shot], correction: Mapping[str, Any], unit: str) -> tuple[Change, str]:
    times, up = float(correction.get("times", 1.0)), float(correction["up"])

    def lift(shot: Shot) -> Shot:
        return shot if shot.elevation is None else replace(shot, elevation=shot.elevation * times + up)

    scaled = f"elevations times {times:.10g}, " if times != 1.0 else "elevations "
    return lift, f"{scaled}{up:+.2f}{_in(unit)}"


def _renumber(_shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[Change, str]:
    numbers = correction["numbers"]

    def renumber(shot: Shot) -> Shot:
        return replace(shot, structure=numbers[shot.structure]) if shot.structure in numbers else shot

    said = [f"{old} is {new}" for old, new in numbers.items()]
    return renumber, f"renumbered ({', '.join(said[:3])}{', ...' if len(said) > 3 else ''})"


def _line(_shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[Change, str]:
    line = correction["line"]
    return lambda shot: shot if shot.line == line else replace(shot, line=line), f"on line {line}"


def _permute(_shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[Change, str]:
    letters = correction["letters"]

    def permute(shot: Shot) -> Shot:
        return replace(shot, pole=letters[shot.pole]) if shot.pole in letters else shot

    return permute, "pole " + ", ".join(f"{old} is {new}" for old, new in letters.items())


def _drop(_shots: Sequence[Shot], _correction: Mapping[str, Any]) -> tuple[Change, str]:
    return lambda _shot: None, "set aside"


def _assign(_shots: Sequence[Shot], correction: Mapping[str, Any]) -> tuple[Change, str]:
    named = {name: correction.get(name, "") for name in ("structure", "pole")}

    def assign(shot: Shot) -> Shot:
        return replace(shot, item=correction["item"], line=correction.get("line", shot.line), **named)

    of = f" of {named['structure']}" if named["structure"] else ""
    return assign, f"assigned as {ITEM_WORDS[correction['item']]}{of}"


def _pattern(shots: Sequence[Shot], correction: Mapping[str, Any], naming: Naming) -> tuple[Change, str]:
    pattern = Pattern.parse(correction["pattern"])
    left = {shot.description for shot in shots if shot.item == "other"}
    read = {text: said for text in left if (said := pattern.read(text, naming)) is not None}

    def change(shot: Shot) -> Shot:
        if shot.item != "other" or shot.description not in read:
            return shot
        said = read[shot.description]
        line = correction.get("line", shot.line)
        return replace(shot, structure=said.structure, pole=said.pole, item=said.item, line=line)

    return change, f"read as {pattern.text}"


def _is_pattern(value: Any) -> bool:
    try:
        Pattern.parse(value)
    except (ValueError, AttributeError):
        return False
    return True


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _is_name(value: Any) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _is_list(value: Any, holds: Callable[[Any], bool]) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(map(holds, value))


def _is_map(value: Any, holds: Callable[[Any], bool]) -> bool:
    return isinstance(value, Mapping) and bool(value) and all(map(holds, (*value, *value.values())))


class CorrectionKind(NamedTuple):
    """One kind of correction: the names it needs and may have, and what makes it."""

    needs: tuple[str, ...]
    make: Callable[..., tuple[Change, str]]
    may_have: tuple[str, ...] = ()
    #: True where `make` reads descriptions, and needs to be told how the job names its structures.
    reads: bool = False
    #: True where `make` says lengths, and needs to be told their unit; "" = not known.
    says_lengths: bool = False


KINDS: Mapping[str, CorrectionKind] = MappingProxyType(
    {
        "exchange": CorrectionKind(("file",), _exchange, ("rows",)),
        "foot": CorrectionKind(("file", "factor"), _foot, ("about", "day", "covariance")),
        "translate": CorrectionKind(
            ("file", "east", "north"), _translate, ("day", "covariance"), says_lengths=True
        ),
        "similarity": CorrectionKind(
            ("file", "east", "north", "factor", "turn_deg", "about"),
            _similarity,
            ("day", "covariance"),
            says_lengths=True,
        ),
        "relabel": CorrectionKind(("file", "rows", "structure"), _relabel, ("line",)),
        "swap_labels": CorrectionKind(("structures",), _swap_labels),
        "drop": CorrectionKind(("file", "rows"), _drop, ("points",)),
        "assign": CorrectionKind(("file", "rows", "item"), _assign, ("structure", "pole", "line", "points")),
        "pattern": CorrectionKind(("pattern",), _pattern, ("file", "line"), reads=True),
        "reproject": CorrectionKind(("file", "crs", "to"), _reproject),
        "raise": CorrectionKind(("file", "up"), _raise, ("times", "rows"), says_lengths=True),
        "renumber": CorrectionKind(("file", "numbers"), _renumber, ("rows",)),
        "line": CorrectionKind(("file", "line"), _line, ("rows",)),
        "permute": CorrectionKind(("structures", "letters"), _permute),
    }
)
#: Name in a correction -> whether its value can be used.
USABLE: Mapping[str, Callable[[Any], bool]] = MappingProxyType(
    {
        "file": lambda value: isinstance(value, str),
        "factor": lambda value: _is_number(value) and value > 0.0,
        "about": lambda value: _is_list(value, _is_number) and len(value) == 2,
        "east": _is_number,
        "day": lambda value: isinstance(value, str),
        "turn_deg": _is_number,
        "covariance": lambda value: _is_list(value, lambda row: _is_list(row, _is_number)),
        "north": _is_number,
        "rows": lambda value: _is_list(value, lambda row: type(row) is int),
        "structure": _is_name,
        "structures": lambda value: _is_list(value, _is_name),
        "line": _is_name,
        "item": lambda value: value in get_args(ShotItem),
        "pole": lambda value: value in tuple(POLE_LETTERS),
        "pattern": _is_pattern,
        "points": lambda value: _is_list(value, lambda point: isinstance(point, str)),
        "crs": _is_name,
        "to": _is_name,
        "up": _is_number,
        "times": lambda value: _is_number(value) and value > 0.0,
        "numbers": lambda value: _is_map(value, _is_name),
        "letters": lambda value: _is_map(value, tuple(POLE_LETTERS).__contains__),
    }
)
