"""What must be declared before distances can be judged: reference, foot, factor, base point, height."""

from __future__ import annotations

from dataclasses import dataclass

from linemap.units import LengthUnit

__all__ = ["Declaration"]


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
        told = [f"{name} {text or 'not declared'}" for name, text in texts.items()]
        unit = feet.get(self.unit, "US survey feet")
        return ", ".join([f"{self.crs} in {unit}", *told]) + (f" (from {self.source})" if self.source else "")
