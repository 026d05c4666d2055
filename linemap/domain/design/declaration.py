"""What must be declared before distances and weight spans can be judged: reference, factor, catenary."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from linemap.units import LengthUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class Declaration:
    """The declared basis of a job's coordinates. Texts as a person gave them, "" = not declared."""

    #: Projected coordinate reference, like "EPSG:6515"; it also says which foot or metre.
    crs: str
    unit: LengthUnit
    #: "0.999217", or "auto" for the mean of scale times elevation factor.
    combined_factor: str = ""
    #: Point the coordinates were scaled about, or "none" when they are plain grid coordinates.
    base_point: str = ""
    #: Vertical datum of elevations, with the geoid model when known.
    vertical_datum: str = ""
    #: Document the declarations come from.
    source: str = ""

    @property
    def missing(self) -> tuple[str, ...]:
        """What is not declared and withholds verdicts, in words.

        Elevations do not enter a plan position, so a missing vertical datum withholds nothing, unless the
        factor is to be computed from elevations.

        >>> Declaration(crs="EPSG:6515", unit=LengthUnit.FOOT, combined_factor="0.9995").missing
        ('base point',)
        """
        needed = {"combined factor": self.combined_factor, "base point": self.base_point}
        if self.combined_factor.strip().casefold() == "auto":
            needed["vertical datum"] = self.vertical_datum
        return tuple(name for name, text in needed.items() if not text.strip())

    @property
    def words(self) -> str:
        """The declarations in one sentence, with what is not declared.

        >>> Declaration(crs="EPSG:6515", unit=LengthUnit.FOOT, base_point="none").words[:63]
        'EPSG:6515 in international feet, combined factor not declared, '
        """
        feet = {LengthUnit.METRE: "metres", LengthUnit.FOOT: "international feet"}
        texts = {
            "combined factor": self.combined_factor,
            "base point": self.base_point,
            "vertical datum": self.vertical_datum,
        }
        declared = [f"{name} {text or 'not declared'}" for name, text in texts.items()]
        unit = feet.get(self.unit, "US survey feet")
        return ", ".join([f"{self.crs} in {unit}", *declared]) + (
            f" (from {self.source})" if self.source else ""
        )


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
