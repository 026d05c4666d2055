"""Which surveyed anchor belongs to which scheduled guy of a structure."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from linemap.domain.design.guy import label_of_text
from linemap.domain.guying.anchor import RequiredAnchor
from linemap.domain.survey.shot import Shot

__all__ = ["distinct_anchors", "match_anchors"]


def distinct_anchors(shots: Sequence[Shot], *, within: float) -> list[Shot]:
    """Return the shots of different anchors: of several within a grid distance of each other, the first.

    >>> one = Shot(point="1", easting=0.0, northing=0.0)
    >>> again = Shot(point="2", easting=0.0, northing=0.05)
    >>> [shot.point for shot in distinct_anchors([one, again], within=0.1)]
    ['1']
    """
    kept: list[Shot] = []
    for shot in shots:
        if all(_apart(shot, (other.easting, other.northing)) > within for other in kept):
            kept.append(shot)
    return kept


def match_anchors(required: Sequence[RequiredAnchor], shots: Sequence[Shot]) -> dict[int, int]:
    """Give each surveyed anchor of a structure to a guy by what its description says, then by nearness.

    A shot that names another direction, or another guy, is not taken for a guy. A side named wrong does
    not keep it away: an anchor on the wrong side is what is looked for.

    Parameters
    ----------
    required : sequence of RequiredAnchor
        Guys of one structure.
    shots : sequence of Shot
        Anchor shots of the same structure.

    Returns
    -------
    dict of int to int
        Position in `required` -> position in `shots`; each is used once.
    """
    names = {anchor.guy.id.upper() for anchor in required}
    pairs = sorted(
        (-agreement, _apart(shot, anchor.position), i, j)
        for i, anchor in enumerate(required)
        for j, shot in enumerate(shots)
        for agreement in [_agreement(anchor, shot, names)]
        if agreement >= 0
    )
    matched: dict[int, int] = {}
    for _, _, i, j in pairs:
        if i not in matched and j not in matched.values():
            matched[i] = j
    return matched


def _agreement(anchor: RequiredAnchor, shot: Shot, names: set[str]) -> int:
    """Count what description and guy have in common, the name most; -1 when they exclude each other."""
    said = {word for word in re.findall(r"[A-Z0-9]+", shot.description.upper()) if word in names}
    kind, side, ordinal = label_of_text(shot.description)
    if (said and anchor.guy.id.upper() not in said) or (kind is not None and kind != anchor.guy.kind):
        return -1
    if shot.pole and anchor.guy.pole and shot.pole != anchor.guy.pole:
        return -1
    same_number = bool(ordinal) and anchor.label.endswith(str(ordinal))
    same_pole = bool(shot.pole) and shot.pole == anchor.pole
    same_side = bool(side) and side == anchor.side
    return 16 * bool(said) + 8 * (kind is not None) + 4 * same_pole + 2 * same_side + same_number


def _apart(shot: Shot, place: tuple[float, float]) -> float:
    """Grid distance; infinite from a place that is not known."""
    distance = math.hypot(shot.easting - place[0], shot.northing - place[1])
    return math.inf if math.isnan(distance) else distance
