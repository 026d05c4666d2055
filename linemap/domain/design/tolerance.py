"""What counts as set right: tolerances with their sources, and how good the survey is taken to be."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Annotated, Any

from linemap.domain.design.pole_words import PoleWords
from linemap.domain.finding.phrase import limit_text
from linemap.domain.kind.kind import Cell
from linemap.errors import InputRefused, Problem
from linemap.units import LengthUnit, convert_length

_NO_SOURCE = "common practice, no source; replace by the job's specification"
_FOOT_M = 0.3048
#: Unit of a starting value that is a length: feet here, the ground unit of the line there.
_LENGTH = "ft"
#: Starting values, their lengths in feet; none of them has a public source.
_DEFAULTS = {
    "rotation_deg": ("arm rotation", 1.0, "deg"),
    "along_tangent": ("frame centre along the line, tangent", 1.0, _LENGTH),
    "along_angle": ("frame centre along the line, angle or dead-end", 0.25, _LENGTH),
    "across": ("frame centre across the line", 0.25, _LENGTH),
    "spacing": ("pole spacing", 0.20, _LENGTH),
    "collinearity": ("pole B off the line A-C", 0.25, _LENGTH),
    "anchor_direction_deg": ("anchor, direction from its pole", 5.0, "deg"),
    "anchor_lead": ("anchor, lead", 1.0, _LENGTH),
    "plumb": ("pole out of plumb", 1.0, "in per 10 ft"),
    "arm_level": ("arm out of level, end to end", 2.0, "in"),
}
_SHOT_SIGMA_FT = 0.03
_COMMON_SIGMA_FT = 0.02
_CONTROL_SIGMA_FT = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """One two-sided tolerance, ± value, and where it comes from."""

    #: What it limits, in words.
    name: str
    #: Half width, in `unit`; above 0.
    value: float
    #: "deg", the sign of the line's ground unit ("ft" or "m"), "in", or "in per 10 ft".
    unit: str
    #: Specification, drawing or "common practice, no source"; shown beside every use.
    source: str

    def __str__(self) -> str:
        """Print the half width with its unit.

        >>> str(Tolerance(name="pole spacing", value=0.2, unit="ft", source="job specification 4.2"))
        '±0.20 ft'
        """
        return limit_text(self.value, self.unit)


#: Names of tolerances in lists, beside their keys.
_NAMES = {
    "rotation": "rotation_deg", "arm rotation": "rotation_deg", "rotation deg": "rotation_deg",
    "along": "along_tangent", "pole spacing": "spacing", "sigma": "shot_sigma",
}  # fmt: skip
#: What is no tolerance: a number in the ground unit, or a probability.
PLAIN = ("shot_sigma", "common_sigma", "control_sigma", "confidence")


def parse_name(text: str) -> str:
    """Return the key of a tolerance; what names none stays as it is written, and `Tolerances` refuses it.

    >>> parse_name("Pole spacing"), parse_name("along angle"), parse_name("lean")
    ('spacing', 'along_angle', 'lean')
    """
    words = " ".join(text.replace("_", " ").casefold().split())
    key = _NAMES.get(words, words.replace(" ", "_"))
    return key if key in _DEFAULTS or key in PLAIN else text.strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class ToleranceEntry:
    """One row of a job's list of tolerances, as it is kept."""

    #: Field of `Tolerances`.
    name: Annotated[str, Cell("name tolerance check item key", read=parse_name)]
    value: Annotated[float, Cell("value limit tolerancevalue plusminus", way="text")]
    #: "" = the tolerance's own.
    unit: Annotated[str, Cell("unit units")] = ""
    source: Annotated[str, Cell("source reference spec specification clause")] = ""
    source_row: Annotated[int, Cell(way="row")] = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """All tolerances of a line, and the uncertainty a survey has when its file states none."""

    rotation_deg: Tolerance
    #: Frame centre along the structure's ahead direction: on tangents, and at angles and dead-ends.
    along_tangent: Tolerance
    along_angle: Tolerance
    across: Tolerance
    spacing: Tolerance
    #: Pole B of a three-pole structure off the line A-C.
    collinearity: Tolerance
    #: Anchors: direction from the pole, and lead; together they say where an anchor may lie.
    anchor_direction_deg: Tolerance
    anchor_lead: Tolerance
    #: Lean of a pole, and rise of an arm from end to end.
    plumb: Tolerance
    arm_level: Tolerance
    #: Standard deviation of one shot by itself, per axis, centring on the pole included; ground unit.
    shot_sigma: float
    #: Error all shots of a survey share (base, localisation), per axis; ground unit, 0 = none.
    common_sigma: float
    #: Standard deviation of a control point whose list states none, per axis; ground unit.
    control_sigma: float
    #: Probability asked for before anything is called inside or outside a tolerance.
    confidence: float = 0.95

    @property
    def listed(self) -> tuple[Tolerance, ...]:
        """All tolerances, each with its source."""
        return tuple(self.by_key.values())

    @property
    def by_key(self) -> Mapping[str, Tolerance]:
        """All tolerances by the names they are declared by."""
        return {key: getattr(self, key) for key in _DEFAULTS}

    @property
    def unit(self) -> str:
        """The sign of the ground unit: "ft" or "m"."""
        return self.across.unit

    def in_words(self, words: PoleWords) -> Tolerances:
        """Return them with poles named as the owner names them."""
        first, middle, last = words.three
        name = f"pole {middle} off the line {first}-{last}"
        return replace(self, collinearity=replace(self.collinearity, name=name))

    @classmethod
    def default(cls, unit: LengthUnit) -> Tolerances:
        """Return the starting values, all common practice without a source, in a line's ground unit.

        Rotation 1.0°; centre along 1.0 ft on tangents, 0.25 ft at angles and dead-ends; across 0.25 ft;
        spacing 0.20 ft; collinearity 0.25 ft; anchors 5° and 1.0 ft; plumb 1 in per 10 ft; arm 2 in end to
        end; 0.03 ft a shot, 0.02 ft in common and 0.02 ft a control point. Metric lines get the same ground
        lengths in metres.

        >>> Tolerances.default(LengthUnit.METRE).spacing.value
        0.06096
        """
        scale = _FOOT_M if unit is LengthUnit.METRE else 1.0
        kinds: dict[str, Any] = {
            key: Tolerance(
                name=name,
                value=round(value * scale, 9) if sign == _LENGTH else value,
                unit=unit.symbol if sign == _LENGTH else sign,
                source=_NO_SOURCE,
            )
            for key, (name, value, sign) in _DEFAULTS.items()
        }
        return cls(
            **kinds,
            shot_sigma=round(_SHOT_SIGMA_FT * scale, 9),
            common_sigma=round(_COMMON_SIGMA_FT * scale, 9),
            control_sigma=round(_CONTROL_SIGMA_FT * scale, 9),
        )

    @classmethod
    def from_mapping(cls, mapping: Mapping[str, Any], unit: LengthUnit, *, file: str = "") -> Tolerances:
        """Read tolerances as JSON gives them; what is not named keeps its default.

        Parameters
        ----------
        mapping : mapping
            Keys are the fields of `Tolerances`. A tolerance is a number (ground unit, or degrees), or a
            mapping with "value" and, if wished, "unit" ("ft", "m", "deg", "in", "in per 10 ft") and "source".
        unit : LengthUnit
            The line's ground unit; lengths given in the other unit are converted.
        file : str
            File name to show in problems.

        Raises
        ------
        InputRefused
            With every problem found: an unknown key, a value that is no number above 0 (`common_sigma` may
            be 0), a unit that does not fit, a confidence outside 0.5 to 1.
        """
        if not isinstance(mapping, Mapping):
            reason = "not a table of tolerances"
            raise InputRefused(Problem(file=file, reason=reason, remedy=f"give some of: {_known()}"))
        start = cls.default(unit)
        read = _Reading(file=file, unit=unit, problems=[])
        changes: dict[str, Any] = {}
        for key, given in mapping.items():
            if key in _DEFAULTS:
                changes[key] = read.tolerance(key, given, getattr(start, key))
            elif key in PLAIN:
                changes[key] = read.number(key, given)
            else:
                read.refuse(key, given, "not a tolerance linemap knows", f"use one of: {_known()}")
        if read.problems:
            raise InputRefused(read.problems)
        return replace(start, **changes)

    @classmethod
    def from_entries(
        cls, entries: Iterable[ToleranceEntry], unit: LengthUnit, *, file: str = ""
    ) -> Tolerances:
        """Return the tolerances a list names, and the starting values of others; see `from_mapping`."""
        mapping: dict[str, Any] = {}
        for each in entries:
            given = {"value": each.value, "source": each.source} | ({"unit": each.unit} if each.unit else {})
            mapping[each.name] = each.value if each.name in PLAIN else given
        return cls.from_mapping(mapping, unit, file=file)


def _known() -> str:
    return ", ".join(field.name for field in fields(Tolerances))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reading:
    """Reads values one by one and gathers what is wrong with them."""

    file: str
    unit: LengthUnit
    problems: list[Problem]

    def refuse(self, key: str, value: object, reason: str, remedy: str) -> None:
        self.problems.append(
            Problem(file=self.file, column=key, value=str(value), reason=reason, remedy=remedy)
        )

    def tolerance(self, key: str, given: object, default: Tolerance) -> Tolerance:
        if not isinstance(given, Mapping):
            return replace(default, value=self.number(key, given), source="given without a source")
        for part in given.keys() - {"value", "unit", "source"}:
            self.refuse(f"{key}.{part}", given[part], "unknown key", "use value, unit and source")
        value = self.number(key, given.get("value"))
        factor = self._factor(key, given.get("unit", default.unit), default.unit)
        return replace(
            default, value=value * factor, source=str(given.get("source") or "given without a source")
        )

    def number(self, key: str, given: object) -> float:
        """Return a finite number in the range of its key, or nan after noting the problem."""
        number = float(given) if isinstance(given, int | float) and not isinstance(given, bool) else math.nan
        low_is_good = number == 0.0 and key == "common_sigma"
        if not (math.isfinite(number) and (number > 0.0 or low_is_good)):
            self.refuse(key, given, "not a number above 0", "give a number above 0")
        elif key == "confidence" and not 0.5 < number < 1.0:
            self.refuse(key, given, "outside 0.5 to 1", "give a probability like 0.95")
        return number

    def _factor(self, key: str, given: object, wanted: str) -> float:
        if given == wanted:
            return 1.0
        try:
            source = LengthUnit.from_text(str(given))
        except ValueError:
            source = None
        if wanted != self.unit.symbol or source is None:
            self.refuse(f"{key}.unit", given, "unit does not fit", f"use {wanted}")
            return math.nan
        same_sign = source.symbol == self.unit.symbol
        return 1.0 if same_sign else convert_length(1.0, source=source, target=self.unit)
