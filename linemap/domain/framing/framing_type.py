"""What the framing drawings of one structure type say, each dimension with the drawing it stands on.

Nothing is taken for granted: what an owner's table does not give is None, and the marks that need it say
which dimension is missing.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Annotated, Final, Literal, get_args

from linemap.domain.framing.dig import EmbedRule
from linemap.domain.kind.kind import Cell, FieldError, one_of

Bolting = Literal["centre", "inside face", "none"]
BOLTINGS: Final[tuple[Bolting, ...]] = get_args(Bolting)
Measure = Literal["length", "angle", "percent", "count", "choice"]

#: Dimension -> how it is measured, and what it is in words.
DIMENSIONS: Final[Mapping[str, tuple[Measure, str]]] = MappingProxyType(
    {
        "shield wire drop": ("length", "top to shield-wire attachment"),
        "arm drop": ("length", "top to arm bolt"),
        "minimum drop": ("length", "least distance from a top to the arm bolt"),
        "upper brace drop": ("length", "top to upper brace bolt"),
        "brace length": ("length", "one brace from bolt to bolt"),
        "brace spacing": ("length", "pole spacing the brace set is made for"),
        "brace bolting": ("choice", "brace bolts through the pole centre or on the inside faces"),
        "pole diameter": ("length", "pole diameter at the braces, for bolts on the inside faces"),
        "embedment": ("length", "depth in the ground, for every length"),
        "embedment percent": ("percent", "depth in percent of the length"),
        "embedment add": ("length", "what is added to that percentage"),
        "embedment least": ("length", "least depth of that rule"),
        "rake": ("angle", "lean of each outer pole from the vertical, top inward"),
        "rake A": ("angle", "lean of pole A from the vertical, top inward"),
        "rake B": ("angle", "lean of pole B from the vertical, top inward"),
        "rake C": ("angle", "lean of pole C from the vertical, top inward"),
        "conductor blocks": ("count", "stringing blocks for conductors"),
        "shield-wire blocks": ("count", "stringing blocks for shield wires"),
    }
)
#: A dimension "count of X" says how many of X one structure takes.
_PIECES = "count of "
#: Dimension -> its other names, squeezed to letters. Common practice, no source.
_ALIASES: Final[Mapping[str, str]] = MappingProxyType(
    {
        "shield wire drop": "shieldwire toptoshieldwire ohgw ohgwdrop toptoohgw",
        "arm drop": "arm armbolt toptoarm toptoarmbolt",
        "minimum drop": "mindrop leastdrop minimumarmdrop",
        "upper brace drop": "upperbrace upperbracebolt toptoupperbrace toptoupperbracebolt",
        "brace length": "bracebolttobolt xbracelength bolttobolt",
        "brace spacing": "bracesetspacing bracesetfor xbracespacing",
        "brace bolting": "bolting bracebolts",
        "pole diameter": "polediameteratbraces diameter",
        "embedment": "settingdepth embedmentdepth",
        "embedment percent": "settingdepthpercent percentembedment",
        "embedment add": "settingdepthadd embedmentplus",
        "embedment least": "minimumembedment minimumsettingdepth",
        "conductor blocks": "phaseblocks",
        "shield-wire blocks": "ohgwblocks",
    }
)
_dimension = one_of(
    {name: _ALIASES.get(name, "") for name in DIMENSIONS}, refusal="no dimension linemap knows"
)
_COUNTED = re.compile(r"(?:count|number|pieces)\s+of\s+(.+)", re.IGNORECASE)
#: Reads how braces are bolted.
parse_bolting: Final = one_of(
    {
        "centre": "center throughcentre throughcenter through polecentre polecenter",
        "inside face": "insidefaces face innerface innerfaces",
        "none": "nobrace nobraces no",
    },
    refusal="no way braces are bolted",
)
_STEEPEST_DEG = 20.0
_LONGEST = 250.0


def parse_dimension(text: str) -> str:
    """Return a dimension in its one spelling; `ValueError` for one linemap does not know.

    >>> [parse_dimension(text) for text in ("Top to arm bolt", "BRACE LENGTH", "Count of Arm 28 ft")]
    ['arm drop', 'brace length', 'count of Arm 28 ft']
    """
    counted = _COUNTED.fullmatch(text.strip())
    return f"{_PIECES}{counted[1]}" if counted else _dimension(text)


def measure_of(dimension: str) -> Measure:
    """Return how a dimension in its one spelling is measured; `ValueError` if there is no such dimension."""
    if dimension.startswith(_PIECES) and dimension != _PIECES:
        return "count"
    if dimension not in DIMENSIONS:
        raise ValueError(
            f"{dimension!r} is no dimension linemap knows; use one of {', '.join(DIMENSIONS)}, "
            f'or "{_PIECES}" and what is counted'
        )
    return DIMENSIONS[dimension][0]


@dataclass(frozen=True, slots=True, kw_only=True)
class FramingEntry:
    """One row of an owner's framing table, as it is kept."""

    #: Structure type code, as in the structure list.
    code: Annotated[str, Cell("code type typecode structuretype structuretypecode framing framingtype")]
    #: A key of `DIMENSIONS`, or "count of X".
    dimension: Annotated[
        str,
        Cell(
            "dimension dim framingdimension",
            read=parse_dimension,
            remedy=f"use one of {', '.join(DIMENSIONS)}, or count of and a thing",
        ),
    ]
    #: Line's ground unit for lengths, degrees, percent or pieces; None for a choice.
    value: Annotated[float | None, Cell("value asdrawn size amount", way="text")] = None
    #: The choice in its one spelling, "" for numbers.
    choice: Annotated[str, Cell()] = ""
    #: Drawing number and sheet the dimension stands on.
    drawing: Annotated[
        str, Cell("drawing drawingno drawingnumber dwg dwgno dwgnumber framingdwg sheet reference")
    ] = ""
    source_row: Annotated[int, Cell(way="row")] = 0

    def __post_init__(self) -> None:
        try:
            self._check()
        except ValueError as error:
            raise FieldError("value", str(error), "write it as on the drawing") from None

    def _check(self) -> None:
        measure = self.measure
        if measure == "choice":
            if self.choice not in BOLTINGS:
                raise ValueError(f"{self.dimension} {self.choice!r} is not one of {', '.join(BOLTINGS)}")
            return
        if self.value is None or not math.isfinite(self.value):
            raise ValueError(f"{self.dimension} is no number; write it as on the drawing")
        if measure == "angle" and abs(self.value) > _STEEPEST_DEG:
            raise ValueError(
                f"a {self.dimension} of {self.value:g}° is no rake; give degrees from the vertical"
            )
        if measure != "angle" and not 0.0 <= self.value <= _LONGEST:
            raise ValueError(f"{self.dimension} {self.value:g} is not between 0 and {_LONGEST:g}")
        if measure == "count" and not float(self.value).is_integer():
            raise ValueError(f"{self.dimension} {self.value:g} is no whole number")

    @property
    def measure(self) -> Measure:
        """How the dimension is measured."""
        return measure_of(self.dimension)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """One number of a drawing."""

    value: float
    #: "" = the table names no drawing for it.
    drawing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FramingType:
    """The framing of one structure type. Lengths in the line's ground unit, along the pole."""

    code: str
    #: Dimension -> its number; what is not here is not given.
    dimensions: Mapping[str, Dimension]
    #: How braces are bolted; None = not given, "none" = the type has no X-brace.
    bolting: Bolting | None = None
    bolting_drawing: str = ""
    #: Item -> pieces one structure takes.
    pieces: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))

    def number(self, dimension: str) -> float | None:
        """Return a dimension, None when the table does not give it."""
        found = self.dimensions.get(dimension)
        return None if found is None else found.value

    def missing(self, *needed: str) -> tuple[str, ...]:
        """Return those of the dimensions that the table does not give.

        >>> FramingType(code="H", dimensions={"arm drop": Dimension(value=1.0)}).missing("arm drop", "rake")
        ('rake',)
        """
        return tuple(name for name in needed if name not in self.dimensions)

    @property
    def embedment(self) -> EmbedRule | None:
        """The rule for the depth, None when it is not given in full."""
        depth, percent, add = map(self.number, ("embedment", "embedment percent", "embedment add"))
        if depth is not None:
            return EmbedRule(depth=depth)
        if percent is None or add is None:
            return None
        return EmbedRule(percent=percent, add=add, least=self.number("embedment least") or 0.0)

    def rake_deg(self, letter: str, *, pole_count: int = 2) -> float | None:
        """Return the lean of a pole; None when it is not given. "rake" leaves the middle pole of three plumb.

        >>> rake = FramingType(code="H", dimensions={"rake": Dimension(value=3.0)}).rake_deg
        >>> rake("B"), rake("B", pole_count=3)
        (3.0, 0.0)
        """
        own, outer = self.number(f"rake {letter}"), self.number("rake")
        if own is not None or outer is None:
            return own
        return 0.0 if letter == "B" and pole_count == 3 else outer

    @property
    def blocks(self) -> int | None:
        """Stringing blocks of one structure, None when neither kind is given."""
        kinds = [self.number(name) for name in ("conductor blocks", "shield-wire blocks")]
        given = [round(count) for count in kinds if count is not None]
        return sum(given) if given else None

    @property
    def drawings(self) -> tuple[str, ...]:
        """All drawing numbers of the type, in the order of the table, each once."""
        named = [dimension.drawing for dimension in self.dimensions.values()] + [self.bolting_drawing]
        return tuple(dict.fromkeys(drawing for drawing in named if drawing))


def framing_types(entries: Iterable[FramingEntry]) -> dict[str, FramingType]:
    """Gather the rows of a framing table by type.

    Raises
    ------
    ValueError
        If a dimension of a type stands twice.

    >>> rows = [FramingEntry(code="H-TAN", dimension="arm drop", value=8.0, drawing="FT-112")]
    >>> framing_types(rows)["H-TAN"].number("arm drop"), framing_types(rows)["H-TAN"].drawings
    (8.0, ('FT-112',))
    """
    by_code: dict[str, list[FramingEntry]] = {}
    for entry in entries:
        by_code.setdefault(entry.code, []).append(entry)
    return {code: _framing_type(code, rows) for code, rows in by_code.items()}


def _framing_type(code: str, rows: Sequence[FramingEntry]) -> FramingType:
    names = [row.dimension for row in rows]
    twice = next((name for name in names if names.count(name) > 1), "")
    if twice:
        raise ValueError(f"{twice} of {code} stands twice; keep one of them")
    numbers = [(row, row.value) for row in rows if row.value is not None]
    bolted = next((row for row in rows if row.dimension == "brace bolting"), None)
    chosen = next((choice for choice in BOLTINGS if bolted and bolted.choice == choice), None)
    return FramingType(
        code=code,
        dimensions=MappingProxyType(
            {
                row.dimension: Dimension(value=value, drawing=row.drawing)
                for row, value in numbers
                if not row.dimension.startswith(_PIECES)
            }
        ),
        bolting=chosen,
        bolting_drawing=bolted.drawing if bolted else "",
        pieces=MappingProxyType(
            {
                row.dimension.removeprefix(_PIECES): round(value)
                for row, value in numbers
                if row.dimension.startswith(_PIECES)
            }
        ),
    )
