"""What revisions of the lists changed, and what records are held against."""

from __future__ import annotations

from linemap.domain.crew.recorded_against import InForce, Move
from linemap.domain.design.revision import Revised
from linemap.domain.design.tolerance import Tolerances
from linemap.domain.record.status import Key
from linemap.service.job.stored import Stored
from linemap.store.revisions import RecordedChange

__all__ = ["changes_of", "in_force_of"]


def changes_of(stored: Stored) -> dict[Key, list[Revised]]:
    """Return what revisions changed at each structure, oldest first."""
    gathered: dict[Key, list[Revised]] = {}
    for line, recorded in stored.changed:
        gathered.setdefault((line, recorded.change.number), []).append(
            Revised(revision=_label(recorded), change=recorded.change)
        )
    return gathered


def in_force_of(stored: Stored, tolerances: Tolerances) -> InForce:
    """Return what records are held against: holds, tickets, moves of the structure list."""
    moves: dict[Key, list[Move]] = {}
    for line, recorded in stored.changed:
        if recorded.change.change == "moved" and "distance" in recorded.change.values:
            move = Move(at=recorded.loaded_at, revision=_label(recorded), **recorded.change.values)
            moves.setdefault((line, recorded.change.number), []).append(move)
    return InForce(
        holds=stored.holds,
        tickets=stored.tickets_ever,
        tickets_since=stored.tickets_since,
        moves=moves,
        move_limit=tolerances.across.value,
    )


def _label(recorded: RecordedChange) -> str:
    return f"Rev {recorded.label}" if recorded.label else recorded.loaded_at.date().isoformat()
