"""The shots a person should look at: those that are no pole, and poles that stand where another does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from linemap.domain.survey.shot import Shot, ShotItem
from linemap.io.cells.sheet import Ledger

_WORDS: Mapping[ShotItem, str] = {
    "hub": "a hub or an offset stake",
    "anchor": "an anchor or a guy",
    "check": "a check shot",
    "crossing": "a crossing",
    "ground": "a ground shot",
}
_KEPT = "kept, not compared with the poles"


def list_shots(ledger: Ledger, shots: Iterable[tuple[int, Shot]]) -> None:
    """Note every shot that is no shot of a pole, and every second pole at exactly the place of another.

    Parameters
    ----------
    ledger : Ledger
        Of the file.
    shots : iterable of (int, Shot)
        Row index and shot, of all rows used.
    """
    first: dict[tuple[float, float], Shot] = {}
    for index, shot in shots:
        if shot.item != "pole":
            ledger.note(index, "description", _reason(shot))
            continue
        earlier = first.setdefault((shot.easting, shot.northing), shot)
        if (earlier.structure, earlier.pole) != (shot.structure, shot.pole):
            reason = (
                f"{shot.structure} {shot.pole} stands exactly where row {earlier.row} has "
                f"{earlier.structure} {earlier.pole}; two poles cannot"
            )
            ledger.note(index, "description", reason, "find out which pole was shot")


def _reason(shot: Shot) -> str:
    if shot.item != "other":
        of = f" of {shot.structure}" if shot.structure else ""
        return f"{_WORDS[shot.item]}{of}, no pole; {_KEPT}"
    if shot.structure:
        return f"names structure {shot.structure} but no pole; {_KEPT}"
    return f"names no structure and pole that can be read; {_KEPT}"
