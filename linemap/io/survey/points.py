"""Point files for the controller: number, coordinates, elevation, description; no headings.

Coordinates are written to 0.001; what is written is read back by `linemap.io.survey.shots` to the last digit,
and every stake comes back as a hub.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from linemap.domain.staking.stakeout import StakePoint
from linemap.errors import InputRefused
from linemap.io.output.write import write_text
from linemap.io.survey.shots import PNEZD, PointOrder

#: Orders that controllers take and that are known again without headings.
POINT_ORDERS: tuple[PointOrder, ...] = (PNEZD, ("point", "easting", "northing", "elevation", "description"))


def point_text(numbered: Iterable[tuple[str, StakePoint]], *, order: PointOrder = PNEZD) -> str:
    """Return a point file: a line a stake, three decimals, commas, blank where no elevation is known.

    Stakes come with their point numbers, which must differ; `order` is one of `POINT_ORDERS`.

    Raises
    ------
    InputRefused
        If a number stands twice, or the order is another.
    """
    if order not in POINT_ORDERS:
        raise InputRefused.at(
            "--shot-order", ", ".join(order), "is no order of a point file", "use pnezd or penzd"
        )
    rows = list(numbered)
    _refuse_repeats([number for number, _ in rows])
    lines = []
    for number, stake in rows:
        cells = {
            "point": number,
            "northing": f"{stake.northing:.3f}",
            "easting": f"{stake.easting:.3f}",
            "elevation": "" if stake.elevation is None else f"{stake.elevation:.3f}",
            "description": stake.description,
        }
        lines.append(",".join(cells[name] for name in order))
    return "".join(f"{line}\r\n" for line in lines)


def write_points(
    numbered: Iterable[tuple[str, StakePoint]], path: Path, *, order: PointOrder = PNEZD
) -> None:
    """Write a point file, whole or not at all; see `point_text`.

    Raises
    ------
    InputRefused
        If a number stands twice, the order is none, or the file cannot be written.
    """
    write_text(point_text(numbered, order=order), path)


def _refuse_repeats(numbers: Sequence[str]) -> None:
    seen: set[str] = set()
    for number in numbers:
        if number in seen:
            raise InputRefused.at("point", number, "stands twice", "give each point its own number")
        seen.add(number)
