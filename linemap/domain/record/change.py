"""Accepted changes of the job: files loaded, or such a change undone; the chain ties each to all before.

A change is never taken back by taking it out: undoing one is a change too, which brings the lists before it
back as new states. Each link of the chain is made like those of the record of the field
(`linemap.domain.record.chain`), of the link before and the change as canonical JSON; that names the newest
link of the record, so that the two chains cannot be exchanged against each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any, Literal, NamedTuple

from linemap.domain.kind.kind import Code as Kind

What = Literal["load", "undo"]


class FileTaken(NamedTuple):
    """A file that a change brought in."""

    id: int
    name: str
    kind: Kind
    rows: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What a change did, as far as undoing it needs to know, and in words."""

    files: Sequence[FileTaken] = ()
    #: (made, before) of each state of a list; before None = the list had none.
    states: Sequence[tuple[int, int | None]] = ()
    #: Files whose rows count no more, and those whose rows count again.
    aside: Sequence[int] = ()
    again: Sequence[int] = ()
    #: What it took away that needed a word of its own.
    removes: Sequence[str] = ()
    #: One sentence for each file or list.
    words: Sequence[str] = ()

    @property
    def has_effect(self) -> bool:
        """False when everything was there already."""
        return any((self.files, self.states, self.aside, self.again))

    @classmethod
    def from_dict(cls, kept: Mapping[str, Any]) -> Done:
        """Return what `dataclasses.asdict` made plain."""
        states = tuple((made, before) for made, before in kept["states"])
        files = tuple(FileTaken(*each) for each in kept["files"])
        return cls(
            **{**{name: tuple(value) for name, value in kept.items()}, "states": states, "files": files}
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class JobChange:
    """One accepted change: who, when, why, and what it did."""

    #: Random identifier.
    id: str
    what: What
    #: Identifier of the change it undoes; "" = none.
    undoes: str = ""
    who: str
    reason: str = ""
    #: With the time zone it was accepted in.
    at: datetime
    done: Done = field(default_factory=Done)
    #: Newest link of the record of the field at that time.
    event_hash: str = ""

    def values(self) -> dict[str, Any]:
        """Return it as JSON values, which its link is made of."""
        return {**asdict(self), "at": self.at.isoformat(timespec="seconds")}


class LinkedChange(NamedTuple):
    """A change with its place in the order they were accepted, from 1, and its link."""

    seq: int
    change: JobChange
    link: str


def undone_by(changes: Iterable[JobChange]) -> dict[str, str]:
    """Return change -> the change that undoes it, of those that are undone now.

    An undo that is itself undone undoes nothing.

    >>> made = [JobChange(id="a", what="load", who="Ada", at=datetime(2026, 5, 1))]
    >>> made += [JobChange(id="b", what="undo", undoes="a", who="Ada", at=datetime(2026, 5, 2))]
    >>> undone_by(made)
    {'a': 'b'}
    >>> undone_by([*made, JobChange(id="c", what="undo", undoes="b", who="Ada", at=datetime(2026, 5, 3))])
    {'b': 'c'}
    """
    undone: dict[str, str] = {}
    for change in changes:
        if change.undoes:
            undone[change.undoes] = change.id
            # what it had undone stands again
            for other in [each for each, by in undone.items() if by == change.undoes]:
                del undone[other]
    return undone
