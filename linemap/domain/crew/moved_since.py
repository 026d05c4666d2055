"""Stakes and holes from before a move of the list: what was placed then stands where nothing belongs now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from linemap.domain.crew.in_force import InForce, net_move
from linemap.domain.finding.code import Severity
from linemap.domain.finding.finding import Finding
from linemap.domain.record.event import Event
from linemap.domain.record.status import Key, StructureStatus
from linemap.domain.record.workflow import Workflow

#: Steps that put something at the place of the list, in the order of the work.
_PLACED = ("staked", "spotted", "dug", "set")


def moved_since(
    key: Key, status: StructureStatus, events: Sequence[Event], workflow: Workflow, in_force: InForce
) -> Iterator[Finding]:
    """Give "moved since" where the last thing placed at a structure is from before its last move.

    A note when it moved less in all than a frame may be off; else it stops the steps built on what was
    placed. Recording any of these steps after the move ends it.
    """
    moves, limit = in_force.moves.get(key, ()), in_force.move_limit
    steps = {**status.begun, **status.done} if moves else {}
    last = moves[-1] if moves else None
    placed = [code for code in _PLACED if last and code in steps and steps[code].at < last.at]
    if last is None or not placed:
        return
    state = steps[placed[-1]]
    again = any(
        event.what == "step" and event.step in _PLACED and event.result == "done" and event.moment > last.at
        for event in events
    )
    if again:
        return
    within = net_move([move for move in moves if move.at > state.at]) <= limit
    values = {
        "step": workflow.words(placed[-1]),
        "on": state.at.date(),
        "who": state.crew,
        "revision": last.revision,
        "distance": last.distance,
        "unit": last.unit,
        "azimuth_deg": last.azimuth_deg,
        "limit": limit if within else None,
        "placed": tuple(placed),
        "moved_at": last.at,
    }
    line, structure = key
    yield Finding(
        line=line,
        structure=structure,
        code="moved since",
        part=placed[-1],
        values=values,
        weight=Severity.NOTE if within else None,
        since=state.at.date(),
    )
