"""That a job briefing was held: who led it and what it covered. The record approves nothing.

The five subjects are those of 29 CFR 1926.952(b): hazards, work procedures, special precautions, energy
source controls and personal protective equipment.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

__all__ = ["SUBJECTS", "Briefed"]

#: Fields of `Briefed` that hold the five subjects.
SUBJECTS = ("hazards", "procedures", "precautions", "energy_sources", "ppe")


@dataclass(frozen=True, slots=True, kw_only=True)
class Briefed:
    """One briefing at one structure.

    Raises
    ------
    ValueError
        If the identifier, structure or person in charge is blank, or a time has no time zone.
    """

    #: UUID made where it was recorded; sending it twice is still one briefing.
    id: str
    line: str
    #: Structure number in its one spelling.
    structure: str
    #: When it was held, by the device's clock, with its time zone.
    at: datetime
    received_at: datetime
    person_in_charge: str
    #: What was said of each subject; "" = nothing written down.
    hazards: str = ""
    procedures: str = ""
    precautions: str = ""
    energy_sources: str = ""
    ppe: str = ""

    def __post_init__(self) -> None:
        for name in ("id", "structure", "person_in_charge"):
            if not getattr(self, name).strip():
                raise ValueError(f"a briefing has a blank {name}; give it one")
        if self.at.utcoffset() is None or self.received_at.utcoffset() is None:
            raise ValueError(f"briefing {self.id} has a time without a zone; write it with its offset")

    @property
    def key(self) -> tuple[str, str]:
        """Line and structure."""
        return (self.line, self.structure)

    @property
    def not_covered(self) -> tuple[str, ...]:
        """Subjects of which nothing was written down, in their order."""
        return tuple(name for name in SUBJECTS if not getattr(self, name).strip())
