"""What a line crosses: roads, rivers, pipelines, other wires, and what is asked for there."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Crossing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One thing crossed, placed by station, by true distance or by the span it lies in."""

    #: Line name.
    line: str
    #: What is crossed: "State Route 918".
    what: str
    owner: str = ""
    #: Station as written, "" = not given.
    station: str = ""
    #: Ground distance from the start of the route, ground unit; None = not given.
    true_distance: float | None = None
    #: Structures at both ends of the span, "" = not given.
    back_structure: str = ""
    ahead_structure: str = ""
    #: Voltage of a crossed line, kV; None = not given.
    voltage_kv: float | None = None
    #: What is asked for: "guard structures before stringing".
    rule: str = ""
    #: True when it must be treated as energized. Anything with a voltage is, unless the list says otherwise.
    energized: bool = False
    #: Row in its file.
    row: int = 0

    @property
    def place(self) -> str:
        """Where it lies, in the words of the list: the span, else the station.

        >>> Crossing(line="", what="gas", back_structure="9/2", ahead_structure="9/3").place
        'span 9/2-9/3'
        """
        if self.back_structure or self.ahead_structure:
            return f"span {self.back_structure}-{self.ahead_structure}"
        return f"station {self.station}" if self.station else ""
