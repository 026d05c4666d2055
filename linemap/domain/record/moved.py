"""Records that belong to another place than they name: a list renumbered it, or a person moves them.

What is written in the record stays as it was sent. A list that gives a structure another number takes its
records along (`linemap.domain.design.renumbered`); a person who finds that a record was made at the wrong
structure or pole moves it, with photos and readings, by an event of its own, and takes that back by
withdrawing the event.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from linemap.domain.design.naming import Naming, respelled
from linemap.domain.finding.phrase import Called, pole_names
from linemap.domain.record.event import Event
from linemap.domain.record.replay import corrected_ids


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """Where a record belongs: the content of an event of the kind "moved", recorded where it was.

    Raises
    ------
    ValueError
        If it names no record, or no structure.
    """

    #: Identifier of the record.
    event: str
    #: Where it belongs; "" = the line of the event that moves it.
    line: str = ""
    structure: str
    #: Pole it is of there, "" = the whole structure; None = the same as before.
    pole: str | None = None
    #: Where it was recorded, as the lists name it now; ("", "") = not looked up.
    source: tuple[str, str] = ("", "")

    def __post_init__(self) -> None:
        if not self.event.strip():
            raise ValueError("which record moves is not said; give its identifier as event")
        if not self.structure.strip():
            raise ValueError("where the record belongs is not said; give its structure")
        if self.pole not in {None, "", "A", "B", "C"}:
            raise ValueError(f"a record belongs to no pole {self.pole!r}; give A, B, C, or leave it out")

    @property
    def key(self) -> tuple[str, str]:
        """Line and structure it belongs to."""
        return (self.line, self.structure)


def read_moved(event: Event) -> Moved:
    """Read which record an event moves, and where to.

    Raises
    ------
    ValueError
        If its content says something else.
    """
    said = json.loads(event.content or "{}")
    unknown = said.keys() - {"event", "line", "structure", "pole"}
    texts = {name: value for name, value in said.items() if value is not None}
    if unknown or not all(isinstance(value, str) for value in texts.values()):
        raise ValueError("a move says event, line, structure and pole, each as a text, and nothing else")
    return Moved(
        event=texts.get("event", "").lower(),
        line=texts.get("line", "") or event.line,
        structure=texts.get("structure", ""),
        pole=texts.get("pole"),
        source=event.key,
    )


def moved_words(event: Event, called: Called) -> str:
    """Say it in a history: 'record moved to 2/5, pole A'."""
    if not event.content:  # taken out for who may not read it
        return "record moved"
    moved = read_moved(event)
    line = f"{moved.line} " if moved.line != event.line else ""
    pole = f", {pole_names(moved.pole, called)}" if moved.pole else ""
    return f"record {moved.event[:8]} moved to {line}{moved.structure}{pole}"


def as_listed(event: Event, naming: Naming) -> Event:
    """Return an event that names its structure as the lists do now, whichever of them its recorder saw."""
    number = naming.numbers.now(
        event.line,
        event.structure,
        seen=event.revision_seen,
        at=event.moment,
        received_at=event.received_at,
    )
    if number != event.structure:
        event = replace(event, structure=number)
    return event if naming.listed.has(number, event.line) else respelled(event, naming.listed)


def moves_of(events: Iterable[Event], naming: Naming) -> dict[str, Moved]:
    """Return record -> where it belongs, by the moves that stand; of several of one record the last.

    The events name their structures as the lists do now.
    """
    moving = [event for event in events if event.what == "moved"]
    taken_back = corrected_ids(moving)
    found: dict[str, Moved] = {}
    for event in sorted(moving, key=lambda each: each.order_key):
        if event.result == "done" and event.id not in taken_back:
            moved = read_moved(event)
            target = replace(event, line=moved.line, structure=moved.structure)
            found[moved.event] = replace(moved, structure=as_listed(target, naming).structure)
    return found


def in_place(event: Event, moved: Mapping[str, Moved]) -> Event:
    """Return an event where it belongs, its readings with it."""
    to = moved.get(event.id)
    if to is None:
        return event
    readings, pole = event.readings, event.pole
    if to.pole is not None and to.pole != pole:
        readings = tuple(
            replace(each, pole=to.pole) if each.pole and each.pole == pole else each for each in readings
        )
        pole = to.pole
    return replace(event, line=to.line, structure=to.structure, pole=pole, readings=readings)
