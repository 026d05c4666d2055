"""The catenary constant of a job's conductor, which weight spans take: tension over weight per length."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["NO_CATENARY", "Catenary", "saved_catenary"]

#: Why there is no weight span.
NO_CATENARY = "not available: no catenary constant declared"


@dataclass(frozen=True, slots=True, kw_only=True)
class Catenary:
    """A declared constant: horizontal tension over weight per length, at one loading and temperature.

    Raises
    ------
    ValueError
        If it is not above 0, or not finite.
    """

    #: Ground unit of the line.
    constant: float
    #: Sag and tension table, with loading and temperature; "" = given without a source.
    source: str = ""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.constant) and self.constant > 0.0):
            raise ValueError(f"catenary constant {self.constant:g} is not above 0")

    def words(self, unit: str) -> str:
        """Say what it is and where it comes from.

        >>> Catenary(constant=4500.0, source="sag table 3, 60 F, no load").words("ft")
        'catenary constant 4,500 ft (sag table 3, 60 F, no load)'
        """
        return f"catenary constant {self.constant:,.10g} {unit} ({self.source or 'given without a source'})"


def saved_catenary(saved: Mapping[str, Any] | None) -> Catenary | None:
    """Return the constant as a job keeps it; None when it keeps none.

    >>> saved_catenary({"value": 4500.0, "source": "sag table 3"}).constant, saved_catenary(None)
    (4500.0, None)
    """
    if not saved:
        return None
    return Catenary(constant=float(saved["value"]), source=str(saved.get("source") or ""))
