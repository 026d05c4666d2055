"""What can be measured or seen with a record, each declared once: its name, units, range and words.

Everything that asks for readings, takes them in, proves a step by them or shows them goes by this list: the
form on a phone, the columns of a list of records, the API, history, reports and the rules of evidence.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

#: Sign of a unit -> how much of the first unit of its kind it is.
_SIZE: Mapping[str, float] = MappingProxyType(
    {
        "ft": 0.3048, "in": 0.0254, "m": 1.0, "cm": 0.01, "mm": 0.001,
        "mph": 0.44704, "km/h": 1.0 / 3.6, "m/s": 1.0, "kn": 1852.0 / 3600.0,
        "in/10 ft": 1.0 / 120.0, "mm/m": 0.001, "%": 0.01,
        "ohms": 1.0,
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingType:
    """One thing that can be read, and all that is declared of it."""

    #: Stable key, in records and rules of evidence.
    name: str
    #: What a form asks for.
    label: str
    kind: Literal["number", "yes or no", "text"] = "number"
    #: Words of column headings that mean it, squeezed, the surest first.
    headings: str
    #: Signs of the units it may be given in; the limits are in the first. () = it has none.
    units: tuple[str, ...] = ()
    #: Unit a form asks for it in on a metric line; "" = the first of `units` there too.
    metric: str = ""
    #: What lies outside is a slip of the pen.
    least: float = 0.0
    most: float = 0.0
    #: "pole" = of each pole by itself; "one pole" = of the structure, and names a pole; or of the structure.
    of: Literal["structure", "pole", "one pole"] = "structure"
    #: Codes of the steps whose record asks for it; () = every step.
    steps: tuple[str, ...] = ()
    #: How it is said, with {value} and {at}; of a yes or no the two words, parted by "|".
    says: str
    #: People write what they like: restricted words and names are taken out of it.
    free: bool = False
    #: It names a person.
    person: bool = False
    #: True when it is asked for where a hold lets the step go on under a condition.
    under_condition: bool = False

    def in_first(self, value: float, unit: str) -> float:
        """Return a value in one of the units in the first of them."""
        return value * _SIZE[unit] / _SIZE[self.units[0]]

    def asked_in(self, line_unit: str) -> tuple[str, float, float]:
        """Return the unit a form asks for it in on a line measured in "ft" or "m", and the limits in it."""
        first = next(iter(self.units), "")
        unit = (self.metric if line_unit == "m" else "") or first
        size = _SIZE[unit] / _SIZE[first] if unit else 1.0
        return unit, self.least / size, self.most / size


#: In the order in which they are asked for and shown. The limits say what can be, not what is right.
READINGS: Mapping[str, ReadingType] = MappingProxyType(
    {
        each.name: each
        for each in (
            ReadingType(
                name="depth",
                label="Depth",
                headings="depth settingdepth holedepth depthset digdepth embedment depthofhole",
                units=("ft", "in", "m", "cm"),
                metric="m",
                least=0.5,
                most=60.0,
                of="pole",
                steps=("dug", "set"),
                says="depth {value}{at}",
            ),
            ReadingType(
                name="level",
                label="Arm is level after the load was off",
                kind="yes or no",
                headings="level armlevel levelarm islevel armislevel leveled levelled",
                steps=("set",),
                says="arm level|arm not level",
            ),
            ReadingType(
                name="low",
                label="Arm is low",
                headings="low armlow lowby outoflevel armoutoflevel",
                units=("in", "ft", "mm", "cm"),
                metric="mm",
                most=120.0,
                of="one pole",
                steps=("set",),
                says="arm {value} low{at}",
            ),
            ReadingType(
                name="plumb",
                label="Plumb both ways",
                kind="yes or no",
                headings="plumb polesplumb poleplumb isplumb plumbed",
                of="pole",
                steps=("set",),
                says="plumb{at}|not plumb{at}",
            ),
            ReadingType(
                name="lean",
                label="Out of plumb",
                headings="lean outofplumb rake",
                units=("in/10 ft", "mm/m", "%"),
                metric="mm/m",
                most=60.0,
                of="pole",
                steps=("set",),
                says="{value} out of plumb{at}",
            ),
            ReadingType(
                name="spacing",
                label="Pole spacing",
                headings="spacing polespacing spacingmeasured measuredspacing spacingasset",
                units=("ft", "in", "m", "cm"),
                metric="m",
                least=2.0,
                most=200.0,
                steps=("dug", "set"),
                says="spacing {value}",
            ),
            ReadingType(
                name="ohms",
                label="Ground resistance",
                headings="ohms ohm groundohms groundresistance groundresistanceohms resistance "
                "resistanceohms ohmreading ohmsreading groundreading",
                units=("ohms",),
                most=100_000.0,
                steps=("grounded",),
                says="{value}",
            ),
            ReadingType(
                name="wind",
                label="Wind",
                headings="wind windspeed windspeedmph windmph",
                units=("mph", "km/h", "m/s", "kn"),
                metric="km/h",
                most=200.0,
                says="wind {value}",
            ),
            ReadingType(
                name="gust",
                label="Gust",
                headings="gust gusts windgust windgusts gustmph windgustmph",
                units=("mph", "km/h", "m/s", "kn"),
                metric="km/h",
                most=200.0,
                says="gusts {value}",
            ),
            ReadingType(
                name="brand",
                label="Brand seen",
                kind="text",
                headings="brand brandseen polebrand brandread",
                of="pole",
                says="brand {value}{at}",
                free=True,
            ),
            ReadingType(
                name="monitor",
                label="Monitor on site (name)",
                kind="text",
                headings="monitor monitoronsite monitorname nameofmonitor monitorpresent onsitemonitor",
                says="monitor {value} on site",
                free=True,
                person=True,
                under_condition=True,
            ),
        )
    }
)
