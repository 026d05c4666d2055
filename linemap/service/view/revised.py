"""What revisions of the lists changed, and what records are held against."""

from __future__ import annotations

from linemap.domain.crew.recorded_against import InForce, Move
from linemap.domain.record.status import Key
from linemap.service.job.stored import Stored
from linemap.store.revisions import RecordedChange

__all__ = ["changes_of", "in_force_of"]


def changes_of(stored: Stored) -> dict[Key, list[str]]:
    """Return what revisions changed at each structure, in words, oldest first."""
    gathered: dict[Key, list[str]] = {}
    for line, recorded in stored.changed:
        gathered.setdefault((line, recorded.change.number), []).append(
            f"{_label(recorded)}: {recorded.change.words}"
        )
    return gathered


def in_force_of(stored: Stored) -> InForce:
    """Return what records are held against: holds, tickets, moves of the structure list."""
    moves: dict[Key, list[Move]] = {}
    for line, recorded in stored.changed:
        if recorded.change.change == "moved":
            move = Move(at=recorded.loaded_at, revision=_label(recorded), words=recorded.change.words)
            moves.setdefault((line, recorded.change.number), []).append(move)
    return InForce(
        holds=stored.holds,
        tickets=stored.tickets_ever,
        tickets_since=stored.tickets_since,
        moves=moves,
    )


def _label(recorded: RecordedChange) -> str:
    return f"Rev {recorded.label}" if recorded.label else recorded.loaded_at.date().isoformat()
