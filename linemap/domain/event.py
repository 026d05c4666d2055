"""One thing recorded of a structure or pole. Events are only ever added; a correction is an event too."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args

__all__ = ["Event", "Result"]

Result = Literal["done", "rejected", "withdrawn"]

_RESULTS = frozenset(get_args(Result))


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One record of the field: who says that a step was done, rejected or wrongly recorded, and when.

    "rejected" says that work was done and not accepted, so it must be done again. "withdrawn" says that
    the record itself was wrong (the other structure, the other pole).

    Raises
    ------
    ValueError
        If the identifier, structure or step is blank, the pole is more than one letter, the result is none of
        the three, or a time has no time zone.
    """

    #: UUID made where the event was recorded, lower case; sending it twice is still one event.
    id: str
    #: Line name.
    line: str
    #: Structure number in its one spelling.
    structure: str
    #: Pole letter "A" to "C"; "" = the whole structure.
    pole: str = ""
    #: Code of the step in the job's workflow.
    step: str
    result: Result = "done"
    #: When it happened by the recording device's clock, with its time zone.
    happened_at: datetime
    #: When the job first received it by the job's own clock, with its time zone.
    received_at: datetime
    crew: str = ""
    #: The person who recorded it.
    actor: str = ""
    device: str = ""
    note: str = ""
    #: File the event was read from, "" = recorded by a device.
    file: str = ""
    #: Row in that file, 0 = none.
    row: int = 0

    def __post_init__(self) -> None:
        # A million events are built when a job is opened: one test for the good ones.
        if not (
            self.id.strip()
            and self.structure.strip()
            and self.step.strip()
            and len(self.pole) < 2
            and self.result in _RESULTS
            and self.happened_at.utcoffset() is not None
            and self.received_at.utcoffset() is not None
        ):
            raise ValueError(f"event {self.id!r} {_fault(self)}")

    @property
    def key(self) -> tuple[str, str]:
        """Line and structure the event belongs to."""
        return (self.line, self.structure)

    @property
    def moment(self) -> datetime:
        """When it is taken to have happened: the device's time, but never later than its arrival.

        A device whose clock is fast stamps events in the future; they happened before they arrived.
        """
        return min(self.happened_at, self.received_at)

    @property
    def order_key(self) -> tuple[datetime, datetime, datetime, str, int, str]:
        """Sort key that puts the events of one structure in the order they happened.

        Events of a fast clock that arrive together share their moment; the device's own times then keep
        them in order. Rows of one file with one time keep the order of the file.
        """
        return (self.moment, self.happened_at, self.received_at, self.file, self.row, self.id)

    @property
    def who(self) -> str:
        """The crew; the person when no crew is named; "crew not named" when neither is."""
        return self.crew or self.actor or "crew not named"


def _fault(event: Event) -> str:
    for name in ("id", "structure", "step"):
        if not getattr(event, name).strip():
            return f"has a blank {name}; give it one"
    if len(event.pole) > 1:
        return f"has the pole {event.pole!r}; give one letter, or nothing for the whole structure"
    if event.result not in _RESULTS:
        return f"has the result {event.result!r}; use one of {', '.join(get_args(Result))}"
    name = "received_at" if event.happened_at.utcoffset() is not None else "happened_at"
    return f"has no time zone in {name}; write it with its offset"
